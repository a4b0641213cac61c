"""When a line is crossed and when a test is due, in sentences."""

from __future__ import annotations

from datetime import date

from sporebank.core.dates import day_label, month_label
from sporebank.core.records import Crossing


def crossing_sentence(crossing: Crossing | None, line: float, today: date) -> str:
    """Return when a line is crossed, with its band: `Falls below 20 % about Feb 2031 (Jun 2028 to Sep 2034).`"""
    if crossing is None:
        return "When it falls below the line is not modelled."
    said = f"{line * 100:.0f} %"
    if crossing.likely is None:
        start = "" if crossing.earliest is None else f" before {month_label(crossing.earliest)}"
        return f"Not foreseen to fall below {said}{start}."
    earliest = "now" if crossing.earliest is None else month_label(crossing.earliest)
    latest = "beyond a century" if crossing.latest is None else month_label(crossing.latest)
    falls = "Fell" if crossing.likely <= today else "Falls"
    return f"{falls} below {said} about {month_label(crossing.likely)} (likely {earliest} to {latest})."


def due_sentence(due: date, today: date) -> str:
    """Return when the next test is, or was, due."""
    return f"Next test was due {day_label(due)}." if due <= today else f"Next test due {day_label(due)}."
