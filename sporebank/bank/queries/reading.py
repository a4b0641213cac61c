"""From columns to the values of records."""

from __future__ import annotations

from datetime import date
from functools import lru_cache

from sporebank.core import naming
from sporebank.core.dates import PartDate
from sporebank.core.records import Share, TaxonName


@lru_cache(maxsize=4096)
def name(text: str) -> TaxonName:
    """Return a name from its canonical text."""
    return naming.parse(text)


@lru_cache(maxsize=4096)
def part_date(text: str) -> PartDate:
    """Return a partly known date from its ISO form."""
    return PartDate.parse(text)


def some_part_date(text: str | None) -> PartDate | None:
    """Return a partly known date, or None where none is on record."""
    return None if text is None else part_date(text)


def day(text: str | None) -> date | None:
    """Return a day, or None where none is on record."""
    return None if text is None else date.fromisoformat(text)


def share(low: float | None, middle: float | None, high: float | None) -> Share | None:
    """Return a share alive, or None where none was computed."""
    if low is None or middle is None or high is None:
        return None
    return Share(low, middle, high)
