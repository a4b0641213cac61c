"""The chart's numbers and words: exact intervals, ticks, stays, and stretches cut out of it."""

from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from sporebank.core import chart as charts
from sporebank.core.chart import Chart, SisterCurve, Span, cut, dots, spans, ticks
from sporebank.core.dates import PartDate
from sporebank.core.intervals import exact
from sporebank.core.records import Before, Replicate, Share, Stay, TaxonName, Test
from sporebank.core.viability import Curve

DAYS = st.dates(date(1950, 1, 1), date(2150, 12, 31))
NAME = TaxonName("Osmunda", "regalis")
TODAY = date(2026, 3, 14)


def a_test(germinated, sown=100, on=date(2021, 5, 1), left_out=""):
    return Test(1, 1, None, on, on + timedelta(21), (Replicate(sown, germinated),), left_out=left_out)


def a_curve(first=date(2020, 8, 1), last=date(2030, 8, 1), points=21):
    days = [first + (last - first) * n / (points - 1) for n in range(points)]
    middle = [0.95 - 0.9 * n / (points - 1) for n in range(points)]
    return Curve(tuple(days), tuple(v * 0.8 for v in middle), tuple(middle), tuple(min(v * 1.05, 1.0) for v in middle))


def a_chart(**more):
    whole = {
        "name": NAME, "code": "VABC00001X", "clone": "O-1", "collected": PartDate(2020, 8, 1),
        "began": date(2020, 8, 1), "today": TODAY, "line": 0.2, "share": Share(0.4, 0.5, 0.6), "curve": a_curve(),
        "tests": dots([a_test(80), a_test(10, on=date(2022, 5, 1), left_out="the agar was mouldy")]),
        "stays": (Span(date(2020, 8, 1), TODAY, "Fridge 1, 4 °C"),),
    }  # fmt: skip
    return Chart(**(whole | more))


@given(st.integers(1, 2000), st.data())
def test_the_exact_interval_against_statsmodels(n, data):
    x = data.draw(st.integers(0, n))
    low, high = proportion_confint(x, n, alpha=0.05, method="beta")
    assert exact(x, n) == pytest.approx((0.0 if x == 0 else low, 1.0 if x == n else high), abs=1e-9)


def test_the_exact_interval_of_three_in_ten():
    """3 of 10: 0.0667 to 0.6525 (R's binom.test, from memory)."""
    assert exact(3, 10) == pytest.approx((0.06674, 0.65245), abs=5e-6)


def test_a_test_stands_on_the_day_it_was_sown_with_its_exact_interval():
    (dot,) = dots([a_test(80, left_out="mould")])
    assert (dot.on, dot.share, dot.left_out) == (date(2021, 5, 1), 0.8, "mould")
    assert (dot.low, dot.high) == exact(80, 100)


@given(DAYS, DAYS, st.integers(1, 60))
def test_ticks_lie_within_and_find_room(one, other, room):
    first, last = sorted((one, other))
    found = ticks(first, last, room)
    assert all(first <= tick.on <= last and tick.on.day == 1 for tick in found)
    assert [tick.on for tick in found] == sorted({tick.on for tick in found})
    width = sum(1 if len(tick.text) == 4 else 2 for tick in found)
    assert width <= room + 2  # one more than the whole steps that fit, at either end


def test_ticks_are_round_years_or_months():
    assert [tick.text for tick in ticks(date(2016, 8, 1), date(2042, 1, 1), 6)] == [
        "2020",
        "2025",
        "2030",
        "2035",
        "2040",
    ]
    assert [tick.text for tick in ticks(date(2025, 11, 20), date(2026, 5, 2), 5)] == ["Jan 2026", "Apr 2026"]
    assert ticks(date(2025, 11, 20), date(2025, 11, 25), 9) == ()
    assert [tick.text for tick in ticks(date(9990, 1, 1), date(9999, 12, 31), 3)] == ["9990", "9995"]


STAYS = st.lists(
    st.builds(
        Stay,
        DAYS,
        st.sampled_from([None, 4.0, -18.0, 20.0]),
        st.none(),
        st.sampled_from(["", "Shed / F / B / A1", "Shed"]),
    ),
    max_size=6,
)


@given(STAYS, DAYS, DAYS)
def test_stays_follow_on_without_a_gap_until_today(stays, one, other):
    began, today = sorted((one, other))
    found = spans(sorted(stays, key=lambda stay: stay.since), Before.ROOM, began, today, {"Shed / F / B": "F"})
    if began == today:
        assert found == ()
        return
    assert (found[0].since, found[-1].until) == (began, today)
    assert all(before.until == after.since and before.word != after.word for before, after in pairwise(found))
    assert all(span.since < span.until for span in found)


def test_stays_in_a_few_words():
    stays = (
        Stay(date(2020, 9, 1), 4.0, 15.0, "Shed / Fridge 1 / Box 1 / A1"),
        Stay(date(2021, 9, 1), 4.0, 15.0, "Shed / Fridge 1 / Box 2 / B2"),
        Stay(date(2022, 9, 1), -18.0, None, "Shed / Freezer"),
        Stay(date(2023, 9, 1), None, None, "Shed"),
        Stay(date(2024, 9, 1), None, None),
    )
    called = {"Shed / Fridge 1 / Box 1": "Fridge 1", "Shed / Fridge 1 / Box 2": "Fridge 1", "Shed / Freezer": "Freezer"}
    found = spans(stays, Before.UNKNOWN, date(2020, 8, 1), TODAY, called)
    assert [(span.since.year, span.word) for span in found] == [
        (2020, "not known"), (2020, "Fridge 1, 4 °C"), (2022, "Freezer, −18 °C"),
        (2023, "Shed"), (2024, "out of the bank"),
    ]  # fmt: skip


def test_the_chart_reaches_from_the_first_day_it_can_have_been_collected_to_the_end_of_its_curve():
    assert a_chart(collected=PartDate(2020)).days == (date(2020, 1, 1), date(2030, 8, 1))
    bare = a_chart(curve=None, share=None, tests=())
    assert bare.empty
    assert bare.days[1] > TODAY
    sister = SisterCurve("BABC00009X", "O-2", (date(2012, 1, 1), date(2040, 1, 1)), (0.9, 0.1))
    assert a_chart(sisters=(sister,)).days == (date(2012, 1, 1), date(2030, 8, 1))


@given(st.dates(date(2019, 1, 1), date(2031, 12, 31)), st.integers(40, 3000))
def test_a_stretch_has_the_same_numbers(first, days):
    """Against numpy's own straight lines."""
    whole, last = a_chart(), first + timedelta(days)
    found = cut(whole, first, last)
    assert all(first <= dot.on <= last for dot in found.tests)
    assert all(first <= span.since < span.until <= last for span in found.stays)
    if first >= date(2030, 8, 1) or last <= date(2020, 8, 1):
        return
    assert found.curve.dates[0] == max(first, date(2020, 8, 1))
    assert found.curve.dates[-1] == min(last, date(2030, 8, 1))
    at, known = ([day.toordinal() for day in curve.dates] for curve in (found.curve, whole.curve))
    for way in ("low", "middle", "high"):
        expected = np.interp(at, known, getattr(whole.curve, way))
        assert getattr(found.curve, way) == pytest.approx(expected.tolist())


def test_the_whole_is_not_changed_by_cutting():
    whole = a_chart()
    assert cut(whole, *whole.days) == whole


def test_the_chart_in_words():
    said = charts.words(a_chart())
    for part in (
        "Osmunda regalis, from Aug 2020 to Aug 2030", "50 % alive today, likely 40 to 60 %",
        "95 % at first, 5 % at the end",
        "The line is at 20 %", "Test of 1 May 2021: 80 of 100 germinated, 71 to 87 %",
        "left out: the agar was mouldy", "Since 1 Aug 2020: Fridge 1, 4 °C",
    ):  # fmt: skip
        assert part in said
    sister = SisterCurve("BABC00009X", "O-2", (date(2012, 1, 1), date(2030, 1, 1)), (0.9, 0.1))
    assert "Sister batch O-2, B-ABC-00009-X: 90 % in Jan 2012, 10 % in Jan 2030" in charts.words(
        a_chart(sisters=(sister,))
    )
    assert "Not modelled here: go by tests." in charts.words(a_chart(curve=None, share=None))


def test_labels_and_key_say_what_is_there():
    chart = a_chart()
    assert (charts.today_label(chart), charts.line_label(chart)) == ("today, 50 %", "the line, 20 %")
    assert charts.today_label(a_chart(share=None)) == "today"
    assert charts.collected_label(a_chart(collected=PartDate(2019))) == "collected 2019"
    assert charts.title(chart) == "Decline of V-ABC-00001-X"
    assert "Cross: a test left out." in charts.key(chart)
    assert charts.key(a_chart(curve=None, tests=())) == ""
    sister = SisterCurve("BABC00009X", "O-2", (date(2022, 1, 1), date(2030, 1, 1)), (0.9, 0.1))
    assert charts.key(a_chart(sisters=(sister,))).endswith("sister batches: 1 O-2, B-ABC-00009-X.")


@pytest.mark.parametrize(
    ("drawn", "tested", "said"),
    [
        (0, 0, "No other batch of this taxon has been tested."),
        (1, 1, "1 sister batch."),
        (3, 3, "3 sister batches."),
        (2, 9, "2 of 9 sister batches: the most tested of those that can be forecast."),
    ],
)
def test_how_many_sisters_in_words(drawn, tested, said):
    sister = SisterCurve("BABC00009X", "O-2", (date(2022, 1, 1), date(2030, 1, 1)), (0.9, 0.1))
    assert charts.sisters_sentence(a_chart(sisters=(sister,) * drawn, tested_sisters=tested)) == said
