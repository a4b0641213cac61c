"""Figures read from a course against forecasts made anew on the day."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.core.course import between
from sporebank.core.dates import PartDate
from sporebank.core.records import Replicate, SporeClass, Stay
from sporebank.core.viability import Case, Evidence, History, forecast_many
from sporebank.formats.tables import load_storage

STORAGE = load_storage()
START = date(2015, 6, 1)


@st.composite
def cases(draw):
    stays = (Stay(START + timedelta(days=draw(st.integers(0, 60))), draw(st.sampled_from([None, 5.0, -18.0])), None),)
    tests = []
    for _ in range(draw(st.integers(0, 2))):
        sown = draw(st.integers(20, 400))
        day = START + timedelta(days=draw(st.integers(0, 900)))
        tests.append(Evidence(day, (Replicate(sown, draw(st.integers(0, sown))),), stays))
    collected = draw(st.sampled_from([PartDate(2015, 6, 1), PartDate(2015)]))
    return Case(tuple(tests), History(collected, stays), draw(st.sampled_from(list(SporeClass))))


def numbers(forecast):
    return [forecast.share.low, forecast.share.middle, forecast.share.high, forecast.chance_below]


@settings(max_examples=60, deadline=None)
@given(cases(), st.integers(900, 2500), st.floats(0, 1))
def test_a_course_says_what_a_forecast_of_the_day_would(case, day, part):
    """To half a percentage point, as the issue of the whole model asks of it."""
    today = START + timedelta(days=day)
    course = forecast_many([case], STORAGE, today)[0].course
    assert course.first == today < course.last <= today + timedelta(days=90)
    later = today + timedelta(days=round(part * (course.last - today).days))
    read = between(
        np.array([course.first.toordinal()], dtype=float),
        np.array([course.last.toordinal()], dtype=float),
        np.array([course.ends]),
        later.toordinal(),
    )[0]
    assert read == pytest.approx(numbers(forecast_many([case], STORAGE, later)[0]), abs=0.006)


def test_courses_worked_out_together_wear_out_apart():
    """So that a bank is never worked out anew all on one day."""
    cold = (Stay(START, 5.0, None),)
    found = forecast_many(
        [
            Case((Evidence(START, (Replicate(100, germinated),), cold),), History(PartDate(2015, 6, 1), cold), kind)
            for germinated in range(40, 100)
            for kind in (SporeClass.NON_GREEN, SporeClass.DRY_LAND)
        ],
        STORAGE,
        START,
    )
    lengths = [(each.course.last - each.course.first).days for each in found]
    assert len(set(lengths)) > 20
    assert min(lengths) >= 30
