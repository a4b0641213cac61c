"""The batch report: read back as text, as pages and as the curves drawn in it."""

import re
from dataclasses import replace
from datetime import date

import pytest

from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.records import Forecast, State
from sporebank.documents import report as document
from sporebank.documents import style
from sporebank.documents.picture import page_sizes
from tests.documents.examples import fonts_used, pictures, symbols, text_of
from tests.documents.reports import batch, chart, curve, lines_of, report, sister, vial


def test_the_report_tells_all_that_is_known():
    read = text_of(document.render(report()))
    for told in (
        "Asplenium scolopendrium 'Crispum'", "AS-1", codes.grouped(batch().code), "14 Aug 2019", "Aspleniaceae",
        "not verified", "Phyllitis scolopendrium", "hart's tongue", "wild", "wall at the old mill & <weir>", "2015",
        "Ada Brock", "AS-0", "ask first", "letter of 3 May 2015", "XX-0-ABCDE-2015.7",
        "16 Aug 2019, tilted and screened at 80 µm",
        "95 % spore (by eye)", "94.7 mg (weighed)", "non-green", "in a room", "Very fine.",
        "42 % · fading · likely 30 to 50 %", "Falls below 20 % about May 2029", "From 2 tests, 350 spores.",
        "By its kind alone 5 to 90 % alive.", "With its own tests 30 to 50 % alive.", "Sow first.",
        "Next test due 3 Jan 2027.", "A freezer is given no credit",
        "186 of 200", "91, 95", "93 %", "Agar, 20 °C", "Left out: the agar was mouldy", "50 of 100, 40 of 50", "sieved",
        "Its counts differ more than chance allows.", "Renew below 79 %",
    ):  # fmt: skip
        assert told in read, told


def test_every_vial_has_its_stays_and_its_ledger():
    read = text_of(document.render(report()))
    for number in (1, 2, 3):
        assert codes.grouped(codes.make("V", "K7F", number)) in read
    for told in (
        "30 Aug 2019 stored 10 mg 10 mg", "To Shed / Freezer / Box 1 / A1, –18 °C, 20 % RH",
        "gift: packet 2 0.1 mg 9.9 mg",
        "gift: packet 3 0.1 mg 9.8 mg", "It froze and thawed: power cut", "loss: spilt (taken back)",
        "culled on 1 Jun 2025",
    ):  # fmt: skip
        assert told in read, told
    assert "4.8 mg" not in read, "what was taken back was taken off"


@pytest.mark.parametrize("page", [style.ON_A4, style.ON_A5])
def test_an_amount_is_never_broken_however_large(page):
    """A gram and a bit, to the microgram, is more than a vial of fern spore holds (common practice, no source)."""
    large = vial(1)
    stored, *gifts, spilt = large.ledger
    moved = (replace(stored, micrograms=1_234_567), replace(gifts[0], micrograms=-1_223_570), spilt)
    read = text_of(document.render(report(vials=(replace(large, ledger=moved),)), page))
    for told in ("1234.567 mg 1234.567 mg", "1223.57 mg 10.997 mg"):
        assert told in read, told


@pytest.mark.parametrize("page", [style.ON_A4, style.ON_A5])
def test_every_sowing_has_its_pots_and_what_was_last_seen_in_them(page):
    read = text_of(document.render(report(), page))
    for told in (
        "Sowings", "3 Nov 2025", codes.grouped(codes.make("S", "K7F", 1)), "Fog <house>", "1.2 mg", "under lamps",
        "Prothalli in 3 of 4 pots, mould in 1", "7 Feb 2026", "20 Feb 2026", "Lean-to", "0.4 mg", "Not looked at yet",
    ):  # fmt: skip
        assert told in read, told
    assert read.index("Renew below") < read.index("Sowings") < read.index("What happened")
    assert "Sowings" not in text_of(document.render(report(sowings=()), page))


@pytest.mark.parametrize("page", [style.ON_A4, style.ON_A5])
def test_long_ledgers_run_over_numbered_pages(page):
    pdf = document.render(report(lines=120), page)
    sizes = page_sizes(pdf)
    assert len(sizes) > 4
    assert {(round(width), round(height)) for width, height in sizes} == {
        (210, 297) if page is style.ON_A4 else (148, 210)
    }  # ISO 216
    read = text_of(pdf)
    assert re.findall(r"Page (\d+) of (\d+)", read) == [(str(n + 1), str(len(sizes))) for n in range(len(sizes))]
    assert read.count("gift: packet 120 ") == 3
    assert read.count("What happened") > 3, "the head of the table is not repeated"


def test_the_report_is_stable_embedded_and_carries_its_batch_as_a_symbol():
    pdf = document.render(report())
    assert pdf == document.render(report())
    assert all(embedded for _, embedded in fonts_used(pdf))
    assert b"/Helvetica" not in pdf
    assert symbols(pictures(pdf, 203)) == [batch().code]


def test_the_curves_on_paper_have_the_numbers_of_the_record():
    """Read back by PDFium: across they lie as the dates do, upwards as the shares."""
    shown = curve()
    lines = lines_of(document.render(report()), len(shown.dates))
    assert len(lines) == 3, "low, high and middle"
    days = [day.toordinal() for day in shown.dates]
    for line, shares in zip(lines, (shown.low, shown.high, shown.middle), strict=True):
        across = [(x - line[0][0]) / (line[-1][0] - line[0][0]) for x, _ in line]
        assert across == pytest.approx([(day - days[0]) / (days[-1] - days[0]) for day in days], abs=1e-4)
        upwards = [(y - lines[2][0][1]) / (lines[2][0][1] - lines[2][-1][1]) for _, y in line]
        span = shown.middle[0] - shown.middle[-1]
        assert upwards == pytest.approx([(share - shown.middle[0]) / span for share in shares], abs=1e-4)


def test_the_chart_names_what_it_shows():
    read = text_of(document.render(report(chart=chart(sisters=(sister(1), sister(2)), tested_sisters=2))))
    for told in (
        "Freezer, –18 °C", "today, 42 %", "the line, 20 %", "collected 14 Aug 2019", "Cross: a test left out.",
        "1 AS-2, B-K7F-0002", "2 AS-3, B-K7F-0002", "100 %", "2025",
    ):  # fmt: skip
        assert told in read, told


def test_a_batch_of_which_little_is_known_says_so():
    bare = Forecast(date(2026, 3, 3), None, None, None, None, "No test yet.")
    collected = PartDate(2019)
    empty = report(
        batch=batch(collected=collected), forecast=bare, state=State.UNKNOWN, tests=(), renew_below=0,
        chart=chart(curve=None, share=None, tests=(), stays=(), collected=collected), vials=(vial(1, 1),),
        raised_from="",
    )  # fmt: skip
    read = text_of(document.render(empty, style.ON_A5))
    assert read.count("Not modelled here: go by tests.") == 2, "in words, and in the chart"
    assert "There are no tests yet." in read
    assert "collected 2019" in read
    assert "Renew below" not in read
    assert "Raised from" not in read


def test_in_black_and_white_the_curve_stands_out_from_its_band_and_the_band_from_the_paper():
    """Grey values, 0 to 255, on the middle curve, inside the band, and above it."""
    pdf, dots = document.render(report(chart=chart(tests=(), stays=()))), 300 / 72
    _, high, middle = lines_of(pdf, len(curve().dates))
    page = pictures(pdf, 300)[0]

    def grey(x, y):
        return page.getpixel((round(x * dots), round(page.height - y * dots)))

    at = 3
    (x, top), (_, centre) = high[at], middle[at]
    on_curve, in_band, above = grey(x, centre), grey(x, (top + centre) / 2), grey(x, top + 3)
    assert on_curve < 120 < in_band - 60
    assert above - in_band > 20
