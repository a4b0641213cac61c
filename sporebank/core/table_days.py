"""Days as a table has them: in letters, year first, or in figures whose order is told by the rest of the column."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal

_TIME = re.compile(r"[T,\s]+\d{1,2}:\d{2}.*$")
_YEAR_FIRST = re.compile(r"(\d{4})[-./](\d{1,2})[-./](\d{1,2})(?=[T ]|$)")
_YEAR_LAST = re.compile(r"(\d{1,2})[-./](\d{1,2})[-./](\d{4})")
_MONTHS = 12


@dataclass(frozen=True)
class Days:
    """How a column writes its days: whether the day comes before the month, None where no cell of it tells."""

    day_first: bool | None = None

    @classmethod
    def of(cls, column: Iterable[str]) -> Days:
        """Return how a column writes its days: what is above 12 is no month."""
        found = [match for text in column if (match := _YEAR_LAST.fullmatch(_without_time(text)))]
        firsts = any(int(match[1]) > _MONTHS for match in found)
        seconds = any(int(match[2]) > _MONTHS for match in found)
        return cls(firsts if firsts != seconds else None)

    def read(self, text: str) -> date | None:
        """Return the day that a cell means, without its time of day; None where that is not certain."""
        plain = _without_time(text)
        if match := _YEAR_LAST.fullmatch(plain):
            return self._figures(int(match[1]), int(match[2]), int(match[3]))
        if match := _YEAR_FIRST.match(plain):
            plain = "-".join(match.groups())
        try:
            day = PartDate.parse(plain)
        except Refusal:
            return None
        return None if day.day is None else day.first()

    def _figures(self, one: int, other: int, year: int) -> date | None:
        day_first = self.day_first
        if one > _MONTHS or other > _MONTHS or one == other:
            day_first = one > _MONTHS
        if day_first is None:
            return None
        day, month = (one, other) if day_first else (other, one)
        try:
            return date(year, month, day)
        except ValueError:
            return None


def _without_time(text: str) -> str:
    return _TIME.sub("", text.strip())
