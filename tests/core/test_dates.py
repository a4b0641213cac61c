"""Partly known dates."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.dates import PartDate, day_label, month_label
from sporebank.core.errors import Refusal

DAYS = st.dates(date(1000, 1, 1), date(9999, 12, 31))
PART_DATES = st.one_of(
    DAYS.map(PartDate.of),
    DAYS.map(lambda day: PartDate(day.year, day.month)),
    DAYS.map(lambda day: PartDate(day.year)),
)


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("1971", "1971"),
        ("1906-06", "1906-06"),
        ("1809-02-12", "1809-02-12"),
        ("2019-8-4", "2019-08-04"),
        ("Aug 2019", "2019-08"),
        ("14 August 2019", "2019-08-14"),
        ("14. Sept. 2019", "2019-09-14"),
        ("  3  jun  1999 ", "1999-06-03"),
    ],
)
def test_dates_are_read(text, iso):
    """Reduced precision of ISO 8601 (1971, 1906-06, 1809-02-12: examples of Darwin Core eventDate), and words."""
    assert PartDate.parse(text).iso() == str(PartDate.parse(text)) == iso


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("03/04/2019", "for certain"),
        ("", "for certain"),
        ("14 Foo 2019", "is not a month"),
        ("2019-13", "no month 13"),
        ("2019-02-29", "Feb 2019 has no day 29"),
        ("0000", "is not a year"),
    ],
)
def test_other_dates_are_refused(text, says):
    """Above all those that mean two days to two readers."""
    with pytest.raises(Refusal, match=says):
        PartDate.parse(text)


def test_a_day_needs_a_month():
    """There is no 14th of a year."""
    with pytest.raises(Refusal, match="needs its month"):
        PartDate(2019, None, 14)


@given(PART_DATES)
def test_round_trips(part):
    """ISO form and label are both read back."""
    assert PartDate.parse(part.iso()) == part
    assert PartDate.parse(part.label()) == part
    assert part.first() <= part.middle() <= part.last()


@given(DAYS)
def test_a_known_day(day):
    """First, middle and last are the day itself; years are written in four figures."""
    part = PartDate.of(day)
    assert part.first() == part.middle() == part.last() == day
    assert day_label(day) == part.label()
    assert month_label(day) == PartDate(day.year, day.month).label()


@given(PART_DATES, PART_DATES)
def test_dates_are_ordered(one, other):
    """By the earliest day, then by the latest."""
    assert (one < other) == ((one.first(), one.last()) < (other.first(), other.last()))
    assert (one <= other) or (other <= one)
