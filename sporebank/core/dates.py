"""Partly known dates: a year, a month of a year, or a day (ISO 8601 reduced precision)."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date
from functools import total_ordering

from sporebank.core.errors import Refusal

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_FULL_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july",
    "august", "september", "october", "november", "december",
)  # fmt: skip

_ISO = re.compile(r"(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?")
_WORDED = re.compile(r"(?:(\d{1,2})\.?\s+)?([A-Za-z]{3,9})\.?,?\s+(\d{4})")
_ADVICE = "Write 2019, 2019-08, 2019-08-14, Aug 2019 or 14 Aug 2019."


@total_ordering
@dataclass(frozen=True)
class PartDate:
    """A date of which the day, or the day and the month, may be unknown."""

    year: int
    month: int | None = None
    day: int | None = None

    def __post_init__(self) -> None:
        """Refuse a day without a month and dates that no calendar has."""
        if self.month is None and self.day is not None:
            raise Refusal(f"A day needs its month. {_ADVICE}")
        if not 1 <= self.year <= 9999:
            raise Refusal(f"The year {self.year} is not a year. {_ADVICE}")
        if self.month is not None and not 1 <= self.month <= 12:
            raise Refusal(f"There is no month {self.month}. {_ADVICE}")
        if self.day is not None and not 1 <= self.day <= self._month_length(self.month or 1):
            raise Refusal(f"{MONTHS[(self.month or 1) - 1]} {self.year} has no day {self.day}. {_ADVICE}")

    def _month_length(self, month: int) -> int:
        return calendar.monthrange(self.year, month)[1]

    @classmethod
    def of(cls, day: date) -> PartDate:
        """Return a fully known date."""
        return cls(day.year, day.month, day.day)

    @classmethod
    def parse(cls, text: str) -> PartDate:
        """Read `2019`, `2019-08`, `2019-08-14`, `Aug 2019` or `14 August 2019`.

        Raises:
            Refusal: anything else, among it numeric day-month orders such as 03/04/2019,
                which mean two different days to two readers.
        """
        plain = " ".join(text.split())
        if match := _ISO.fullmatch(plain):
            return cls(*(None if part is None else int(part) for part in match.groups()))  # type: ignore[arg-type]  # the year always matches
        if match := _WORDED.fullmatch(plain):
            day, word, year = match.groups()
            return cls(int(year), _month(word), None if day is None else int(day))
        raise Refusal(f"“{plain}” is not a date this bank can read for certain. {_ADVICE}")

    def first(self) -> date:
        """Return the earliest day it may be."""
        return date(self.year, self.month or 1, self.day or 1)

    def last(self) -> date:
        """Return the latest day it may be."""
        month = self.month or 12
        return date(self.year, month, self.day or self._month_length(month))

    def middle(self) -> date:
        """Return the day halfway between the earliest and the latest."""
        return date.fromordinal((self.first().toordinal() + self.last().toordinal()) // 2)

    def iso(self) -> str:
        """Return the ISO 8601 form at the precision known."""
        parts = [f"{self.year:04d}"]
        if self.month is not None:
            parts.append(f"{self.month:02d}")
        if self.day is not None:
            parts.append(f"{self.day:02d}")
        return "-".join(parts)

    def label(self) -> str:
        """Return the form for people, the month in letters so that nobody mistakes it: `14 Aug 2019`."""
        if self.month is None:
            return f"{self.year:04d}"
        month = f"{MONTHS[self.month - 1]} {self.year:04d}"
        return month if self.day is None else f"{self.day} {month}"

    def __str__(self) -> str:
        return self.iso()

    def __lt__(self, other: PartDate) -> bool:
        return (self.first(), self.last()) < (other.first(), other.last())


def _month(word: str) -> int:
    lower = word.lower()
    for number, full in enumerate(_FULL_MONTHS, start=1):
        if full.startswith(lower) and (len(lower) >= 3):
            return number
    raise Refusal(f"“{word}” is not a month. {_ADVICE}")


def day_label(day: date) -> str:
    """Return a known day for people: `14 Aug 2019`."""
    return PartDate.of(day).label()


def month_label(day: date) -> str:
    """Return the month of a day for people: `Aug 2019`."""
    return PartDate(day.year, day.month).label()
