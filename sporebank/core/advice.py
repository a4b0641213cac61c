"""How alive in a word, and what to do about a vial past viability."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sporebank.core import amounts
from sporebank.core.dates import day_label
from sporebank.core.records import Advice, Share, State
from sporebank.core.settings import Settings

_WIDE = 0.40  # between the ends of a band: too wide to decide by; our own choice
_SEASON = 365  # days: who sows once a year wants to know a year ahead; our own choice


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


def cull(
    chance_below: float, line: float, last_test: date | None, today: date, test_age_days: int
) -> tuple[Advice, str]:
    """Return the advice for a vial past viability, to cull it or to test it first, and its reason in a sentence.

    Args:
        chance_below: the chance that it is below the line, 0 to 1.
        line: the share alive below which a vial is spent.
        last_test: the day on which its batch was last counted.
        today: the day of the advice.
        test_age_days: a test older than so many days does not settle the matter.
    """
    below = f"It is {chance(chance_below)} below {percent(line)} alive"
    if last_test is None:
        return Advice.TEST, f"{below}, but that is a forecast without any test. Test a pinch of it first."
    if (today - last_test).days > test_age_days:
        return Advice.TEST, f"{below}, but the last test is of {day_label(last_test)}. Test a pinch of it first."
    return Advice.CULL, f"{below}, and that takes in the test of {day_label(last_test)}."


@dataclass(frozen=True)
class Situation:
    """What advice about a vial is made from.

    `crosses` is the day on which it likely falls below the line, `last_test` that of the last test of its batch,
    `last_of_clone` says that no other vial of its clone holds any spore, `clone_left` is in micrograms.
    """

    share: Share | None
    chance_below: float | None
    crosses: date | None
    left: int
    clone_left: int
    last_of_clone: bool
    last_test: date | None
    green: bool


def advise(vial: Situation, settings: Settings, today: date) -> tuple[Advice, str]:
    """Return what to do about a vial, and why in a sentence."""
    if not vial.left:
        return Advice.CULL, "Nothing is left in it. Cull it, and its slot is free."
    if vial.share is None or vial.chance_below is None:
        return _unmodelled(vial, settings, today)
    if vial.chance_below >= settings.cull_chance:
        return _past(vial, vial.chance_below, settings, today)
    for found in (_doubtful(vial, vial.share, settings), _fading(vial, vial.share, settings, today)):
        if found is not None:
            return found
    return Advice.KEEP, _keeps(vial, settings)


def _unmodelled(vial: Situation, settings: Settings, today: date) -> tuple[Advice, str]:
    if _tested(vial, settings, today):
        return Advice.KEEP, "How it keeps is not modelled, and it was tested not long ago."
    return Advice.TEST, "How it keeps is not modelled: only a test tells how alive it is."


def _past(vial: Situation, below: float, settings: Settings, today: date) -> tuple[Advice, str]:
    what, why = cull(below, settings.cull_line, vial.last_test, today, settings.test_age_days)
    if vial.last_of_clone:
        return Advice.COLLECT, f"{why.removesuffix('.')}, and it is the last of its clone: collect again."
    return what, why


def _doubtful(vial: Situation, share: Share, settings: Settings) -> tuple[Advice, str] | None:
    """Advise a test where the band takes in both spent and alive; green spore would be dead before the count."""
    if vial.green or share.low >= settings.cull_line or share.high < settings.alive_line or _narrow(share):
        return None
    tested = "its tests leave that open" if vial.last_test else "it was never tested"
    band = f"{percent(share.low)} to {percent(share.high)} of it may be alive"
    return Advice.TEST, f"Anything from {band}, and {tested}."


def _narrow(share: Share) -> bool:
    return share.high - share.low < _WIDE


def _fading(vial: Situation, share: Share, settings: Settings, today: date) -> tuple[Advice, str] | None:
    line = percent(settings.cull_line)
    if vial.last_of_clone and share.middle < settings.alive_line:
        return Advice.COLLECT, f"About {percent(share.middle)} alive, and it is the last of its clone: collect again."
    if vial.clone_left < settings.packet_ug:
        return Advice.COLLECT, f"Only {amounts.show(vial.clone_left)} of its clone is left: collect again."
    days = None if vial.crosses is None else (vial.crosses - today).days
    if vial.green and days is not None:
        clock = f"likely within {days} days" if days > 1 else "today or tomorrow" if days >= 0 else "likely by now"
        return Advice.SOW, f"Green spore: it falls below {line} {clock}. Sow it now, or give it away."
    if days is not None and days <= _SEASON:
        when = "has likely fallen" if days < 0 else "will likely fall"
        by = "by now" if days < 0 else f"by {day_label(today + timedelta(days=days))}"
        return Advice.SOW, f"It {when} below {line} {by}: sow it before its sisters."
    return None


def _keeps(vial: Situation, settings: Settings) -> str:
    line = percent(settings.cull_line)
    if vial.crosses is None:
        return f"It will not fall below {line} in a long time."
    return f"It will likely stay above {line} until {vial.crosses.year}."


def _tested(vial: Situation, settings: Settings, today: date) -> bool:
    return vial.last_test is not None and (today - vial.last_test).days <= settings.test_age_days
