"""How alive in a word, and what to do about a vial past viability."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.core.dates import day_label
from sporebank.core.records import Share, State

CULL = "cull"
TEST_FIRST = "test first"


@dataclass(frozen=True)
class Lines:
    """The shares alive that part alive from fading and fading from spent."""

    alive: float
    spent: float


def state(share: Share | None, lines: Lines) -> State:
    """Return the word for a share alive, by the middle of its band."""
    if share is None:
        return State.UNKNOWN
    if share.middle >= lines.alive:
        return State.ALIVE
    return State.FADING if share.middle >= lines.spent else State.SPENT


def percent(share: float) -> str:
    """Return a share as whole percent; what is not quite nothing or not quite all never reads as such."""
    if 0 < share < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < share < 1 else f"{round(share * 100)} %"


def chance(share: float) -> str:
    """Return a chance in words of everyday use."""
    return "almost certainly" if share >= 0.99 else f"with {percent(share)} chance"


def cull(chance_below: float, line: float, last_test: date | None, today: date, test_age_days: int) -> tuple[str, str]:
    """Return the advice for a vial past viability, `cull` or `test first`, and its reason in a sentence.

    Args:
        chance_below: the chance that it is below the line, 0 to 1.
        line: the share alive below which a vial is spent.
        last_test: the day on which its batch was last counted.
        today: the day of the advice.
        test_age_days: a test older than so many days does not settle the matter.
    """
    below = f"It is {chance(chance_below)} below {percent(line)} alive"
    if last_test is None:
        return TEST_FIRST, f"{below}, but that is a forecast without any test. Test a pinch of it first."
    if (today - last_test).days > test_age_days:
        return TEST_FIRST, f"{below}, but the last test is of {day_label(last_test)}. Test a pinch of it first."
    return CULL, f"{below}, and that takes in the test of {day_label(last_test)}."
