"""How alive in a word, and what to do about a vial past viability."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

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


class Situation(NamedTuple):
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


def advise(vial: Situation, settings: Settings, today: date) -> Advice:
    """Return what to do about a vial; `reason` says why."""
    if not vial.left:
        return Advice.CULL
    if vial.share is None or vial.chance_below is None:
        return Advice.KEEP if _tested(vial, settings, today) else Advice.TEST
    if vial.chance_below >= settings.cull_chance:
        if vial.last_of_clone:
            return Advice.COLLECT
        return Advice.CULL if _tested(vial, settings, today) else Advice.TEST
    if _doubtful(vial, vial.share, settings):
        return Advice.TEST
    if vial.clone_left < settings.packet_ug or (vial.last_of_clone and vial.share.middle < settings.alive_line):
        return Advice.COLLECT
    soon = vial.crosses is not None and (vial.green or (vial.crosses - today).days <= _SEASON)
    return Advice.SOW if soon else Advice.KEEP


def _tested(vial: Situation, settings: Settings, today: date) -> bool:
    return vial.last_test is not None and (today - vial.last_test).days <= settings.test_age_days


def _doubtful(vial: Situation, share: Share, settings: Settings) -> bool:
    """Return whether the band takes in both spent and alive; green spore would be dead before the count."""
    wide = share.high - share.low >= _WIDE
    return not vial.green and wide and share.low < settings.cull_line and share.high >= settings.alive_line


def reason(vial: Situation, settings: Settings, today: date) -> str:
    """Return why `advise` advises what it does, in a sentence."""
    if not vial.left:
        return "Nothing is left in it. Cull it, and its slot is free."
    if vial.share is None or vial.chance_below is None:
        return _unmodelled(vial, settings, today)
    if vial.chance_below >= settings.cull_chance:
        _, why = cull(vial.chance_below, settings.cull_line, vial.last_test, today, settings.test_age_days)
        return f"{why} It is the last of its clone: collect again." if vial.last_of_clone else why
    if _doubtful(vial, vial.share, settings):
        tested = "its tests leave that open" if vial.last_test else "it was never tested"
        return f"Anything from {percent(vial.share.low)} to {percent(vial.share.high)} may be alive, and {tested}."
    if vial.clone_left < settings.packet_ug:
        return f"Only {amounts.show(vial.clone_left)} of its clone is left: collect again."
    if vial.last_of_clone and vial.share.middle < settings.alive_line:
        return f"About {percent(vial.share.middle)} alive, and it is the last of its clone: collect again."
    return _clock(vial.crosses, percent(settings.cull_line), today, green=vial.green)


def _unmodelled(vial: Situation, settings: Settings, today: date) -> str:
    if _tested(vial, settings, today):
        return "How it keeps is not modelled, and it was tested not long ago."
    return "How it keeps is not modelled: only a test tells how alive it is."


def _clock(crosses: date | None, line: str, today: date, *, green: bool) -> str:
    if crosses is None:
        return f"It will not fall below {line} in a long time."
    days = (crosses - today).days
    if green:
        when = f"likely within {days} days" if days > 1 else "today or tomorrow" if days >= 0 else "likely by now"
        return f"Green spore: it falls below {line} {when}. Sow it now, or give it away."
    if days > _SEASON:
        return f"It will likely stay above {line} until {crosses.year}."
    when = "has likely fallen" if days < 0 else "will likely fall"
    by = "by now" if days < 0 else f"by {day_label(crosses)}"
    return f"It {when} below {line} {by}: sow it before its sisters."
