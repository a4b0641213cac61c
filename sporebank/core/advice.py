"""How alive in a word, and what to do about a vial past viability."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import Enum
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


def span(low: float, high: float) -> str:
    """Return two shares as a band: `52 to 69 %`, `under 1 to 3 %`; one of them where both read alike."""
    first, last = percent(low), percent(high)
    return last if first == last else f"{first.removesuffix(' %')} to {last}"


def _below(chance: float, line: float) -> str:
    """Return how likely spore is past a line, in words of everyday use."""
    past = f"below {percent(line)} alive"
    return f"It is almost certainly {past}" if chance >= 0.99 else f"With {percent(chance)} chance it is {past}"


def cull(
    chance_below: float, line: float, last_test: date | None, today: date, test_age_days: int, unsettled: str = ""
) -> tuple[Advice, str]:
    """Return the advice for a vial past viability, to cull it or to test it first, and its reason in a sentence.

    Args:
        chance_below: the chance that it is below the line, 0 to 1.
        line: the share alive below which a vial is spent.
        last_test: the day of the last count that speaks for it.
        today: the day of the advice.
        test_age_days: a test older than so many days does not settle the matter.
        unsettled: what befell it since, such as `got wet on 3 May 2026`.
    """
    below = _below(chance_below, line)
    if unsettled:
        return Advice.TEST, f"{below}, but it {unsettled}, which no forecast knows. Test a pinch of it first."
    if last_test is None:
        return Advice.TEST, f"{below}, but that is a forecast without any test. Test a pinch of it first."
    if (today - last_test).days > test_age_days:
        return Advice.TEST, f"{below}, but the last test is of {day_label(last_test)}. Test a pinch of it first."
    return Advice.CULL, f"{below}, and that takes in the test of {day_label(last_test)}."


class Situation(NamedTuple):
    """What advice about a vial is made from.

    `crosses` is the day on which it likely falls below the line, `last_test` that of the last test that speaks for it,
    `last_of_clone` says that no other vial of its clone is alive enough, `clone_left` is in micrograms, and `unsettled`
    says what befell it since it was tested.
    """

    share: Share | None
    chance_below: float | None
    crosses: date | None
    empty: bool
    clone_left: int
    last_of_clone: bool
    last_test: date | None
    green: bool
    unsettled: str = ""


class Why(Enum):
    """The grounds of an advice, in the order in which they are asked for."""

    EMPTY = Advice.CULL, "Nothing is left in it. Cull it, and its slot is free."
    BEFALLEN = Advice.TEST, "It {unsettled}, which no forecast knows: only a test tells how alive it is."
    NOT_MODELLED = Advice.TEST, "How it keeps is not modelled: only a test tells how alive it is."
    TESTED_LATELY = Advice.KEEP, "How it keeps is not modelled, and it was tested not long ago."
    LAST_AND_PAST = Advice.COLLECT, "{below}. No vial of its clone is better: collect again."
    PAST = Advice.CULL, "{past}"
    PAST_UNTESTED = Advice.TEST, "{past}"
    DOUBTFUL = Advice.TEST, "Anything from {low} to {high} may be alive, and {tested}."
    NEARLY_GONE = Advice.COLLECT, "Only {clone_left} of its clone is left that is alive enough: collect again."
    LAST_AND_FADING = Advice.COLLECT, "About {middle} alive, and no vial of its clone is better: collect again."
    GREEN_LATE = Advice.SOW, "Green spore: it has fallen below {line} likely by now. Sow it all now, and thickly."
    GREEN = Advice.SOW, "Green spore: it falls below {line} {clock}. Sow it now, or give it away."
    SOON = Advice.SOW, "It {falls} below {line} by {day}: sow it before its sisters."
    ABOVE = Advice.KEEP, "As likely as not it stays above {line} until {year} or longer."
    NEVER = Advice.KEEP, "It will not fall below {line} in a long time."


def advise(vial: Situation, settings: Settings, today: date) -> Advice:
    """Return what to do about a vial; `reason` says why."""
    what: Advice = _why(vial, settings, today).value[0]
    return what


def reason(vial: Situation, settings: Settings, today: date) -> str:
    """Return why `advise` advises what it does, in a sentence."""
    sentence: str = _why(vial, settings, today).value[1]
    return sentence.format_map(_facts(vial, settings, today))


def _why(vial: Situation, settings: Settings, today: date) -> Why:
    tested = vial.last_test is not None and (today - vial.last_test).days <= settings.test_age_days
    if vial.empty:
        return Why.EMPTY
    if vial.unsettled:
        return Why.BEFALLEN
    if vial.share is None or vial.chance_below is None:
        return Why.TESTED_LATELY if tested else Why.NOT_MODELLED
    if vial.chance_below >= settings.cull_chance:
        return Why.LAST_AND_PAST if vial.last_of_clone else Why.PAST if tested else Why.PAST_UNTESTED
    if _doubtful(vial, vial.share, settings):
        return Why.DOUBTFUL
    if vial.clone_left < settings.packet_ug:
        return Why.NEARLY_GONE
    if vial.last_of_clone and vial.share.middle < settings.alive_line:
        return Why.LAST_AND_FADING
    return _by_the_clock(vial, today)


def _doubtful(vial: Situation, share: Share, settings: Settings) -> bool:
    """Return whether the band takes in both spent and alive; green spore would be dead before the count."""
    wide = share.high - share.low >= _WIDE
    return not vial.green and wide and share.low < settings.cull_line and share.high >= settings.alive_line


def _by_the_clock(vial: Situation, today: date) -> Why:
    if vial.crosses is None:
        return Why.NEVER
    if (vial.crosses - today).days > _SEASON:
        return Why.ABOVE
    if vial.green:
        return Why.GREEN if vial.crosses >= today else Why.GREEN_LATE
    return Why.SOON


def _facts(vial: Situation, settings: Settings, today: date) -> dict[str, str]:
    """Return what sentences are filled in with."""
    share, crosses = vial.share or Share(0.0, 0.0, 0.0), vial.crosses or today
    days = (crosses - today).days
    past = cull(vial.chance_below or 0.0, settings.cull_line, vial.last_test, today, settings.test_age_days)[1]
    return {
        "past": past,
        "below": _below(vial.chance_below or 0.0, settings.cull_line),
        "unsettled": vial.unsettled,
        "low": percent(share.low),
        "middle": percent(share.middle),
        "high": percent(share.high),
        "tested": "its tests leave that open" if vial.last_test else "it was never tested",
        "clone_left": amounts.show(vial.clone_left),
        "line": percent(settings.cull_line),
        "clock": f"likely within {days} days" if days > 1 else "today or tomorrow",
        "falls": "has likely fallen" if days < 0 else "will as likely as not fall",
        "day": "now" if days < 0 else day_label(crosses),
        "year": f"{crosses.year}",
    }
