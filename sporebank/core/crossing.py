"""When a line is crossed and when a test is due, in sentences."""

from __future__ import annotations

from datetime import date

from sporebank.core.dates import day_label, month_label
from sporebank.core.records import Crossing

_SHORT = 120  # days, either way: a clock that is told in days


def crossing_sentence(crossing: Crossing | None, line: float, today: date) -> str:
    """Return when a line is crossed, with its band: `Falls below 20 % about Feb 2031 (likely Jun 2028 to Sep 2034).`

    Spore with a short clock, as green spore has, is told of in days.
    """
    if crossing is None:
        return "When it falls below the line is not modelled."
    said = f"{line * 100:.0f} %"
    if crossing.likely is None:
        start = "" if crossing.earliest is None else f" before {month_label(crossing.earliest)}"
        return f"Not foreseen to fall below {said}{start}."
    short = abs((crossing.likely - today).days) <= _SHORT
    name = day_label if short else month_label
    earliest = "now" if crossing.earliest is None else name(crossing.earliest)
    latest = "beyond a century" if crossing.latest is None else name(crossing.latest)
    return f"{_falls(crossing, crossing.likely, said, today)} {name(crossing.likely)} (likely {earliest} to {latest})."


def _falls(crossing: Crossing, likely: date, line: str, today: date) -> str:
    if crossing.latest is not None and crossing.latest <= today:
        return f"Fell below {line} about"
    if likely <= today:
        return f"Has perhaps fallen below {line} already, about"
    days = (likely - today).days
    if days > _SHORT:
        return f"Falls below {line} about"
    return f"Falls below {line} in about {days} {'day' if days == 1 else 'days'}:"


def due_sentence(due: date, today: date) -> str:
    """Return when the next test is, or was, due."""
    return f"Next test was due {day_label(due)}." if due <= today else f"Next test due {day_label(due)}."
