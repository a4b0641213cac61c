"""What a forecast rests on, and what to beware of, in words a grower understands."""

from __future__ import annotations

from collections.abc import Sequence

from sporebank.core.advice import span
from sporebank.core.ageing import modelled
from sporebank.core.dates import day_label
from sporebank.core.records import Contribution, Mishap, Share, SporeClass

_SPORE = {
    SporeClass.GREEN: "green spore",
    SporeClass.NON_GREEN: "non-green spore",
    SporeClass.DRYING_SENSITIVE: "spore that drying kills",
    SporeClass.DICKSONIA: "Dicksonia spore",
    SporeClass.DRY_LAND: "spore of dry-land ferns",
    SporeClass.UNKNOWN: "spore of a kind not known",
}
_SOURCES = {
    "class": "By its kind alone",
    "kin": "With its sister batches",
    "tests": "With its own tests",
}
_FREEZER_BELOW, _FRIDGE_BELOW = 0.0, 13.0
_NEAR_ZERO = 0.02

COLD = "Kept below −60 °C: not modelled. Go by tests."
FREEZER = "A freezer is given no credit over the fridge: some spore ages faster there."
SOMEWHERE = "The temperature was not always known, so the band is wider."
SOME_DAY = "The day of collecting is not known, so the band is wider."
ANY_KIND = "How this spore keeps is not known, so the band is wide. A test tells more."
LEFT_OUT = "Tests of spore kept below −60 °C are left out."
A_FEW = "Near zero, but a few may live on."


def basis(sown: Sequence[int], sisters: int, spore_class: SporeClass, celsius: float | None) -> str:
    """Return on what a forecast rests: the spores sown in each test, tested sisters, or what is known of such spore."""
    kin = _many(sisters, "sister batch", "sister batches")
    if not sown:
        known = f"what is known of {_SPORE[spore_class]} {_store(celsius)}"
        return f"No test yet: from tests of {kin}." if sisters else f"No test yet: from {known}."
    own = f"From {_many(len(sown), 'test')}, {_many(sum(sown), 'spore')}"
    return f"{own}, and {kin}." if sisters else f"{own}."


def sources(contributions: Sequence[Contribution]) -> tuple[str, ...]:
    """Return what each source adds: `By its kind alone 12 to 91 % alive.`; nothing where there is but one."""
    if len(contributions) < 2:
        return ()
    return tuple(f"{_SOURCES[each.source]} {span(each.share.low, each.share.high)} alive." for each in contributions)


def cautions(
    share: Share | None,
    spore_class: SporeClass,
    doubtful: bool,
    temperatures: Sequence[float | None],
    mishaps: Sequence[Mishap],
    *,
    left_out: bool,
) -> tuple[str, ...]:
    """Return what to beware of. A share of None is not modelled.

    Args:
        share: how alive it is.
        spore_class: how it keeps.
        doubtful: whether the day of collecting leaves a doubt that matters.
        temperatures: those it was kept at, in degrees Celsius; None where it is not known.
        mishaps: what befell it since a test that speaks for it.
        left_out: whether a test could not be used.
    """
    warned = tuple(f"It {befell([one])}, which no forecast knows. Test before you rely on it." for one in mishaps)
    if share is None:
        return (*warned, COLD)
    known = [celsius for celsius in temperatures if celsius is not None]
    said = {
        FREEZER: any(celsius < _FREEZER_BELOW for celsius in known),
        SOMEWHERE: len(known) < len(temperatures),
        SOME_DAY: doubtful,
        ANY_KIND: spore_class is SporeClass.UNKNOWN,
        LEFT_OUT: left_out,
        A_FEW: share.high < _NEAR_ZERO,
    }
    return (*warned, *(sentence for sentence, holds in said.items() if holds))


def befell(mishaps: Sequence[Mishap]) -> str:
    """Return what befell spore in a few words: `got wet on 3 May 2026`; nothing where nothing did."""
    return " and ".join(f"{each.kind.value} on {day_label(each.on)}" for each in mishaps)


def _store(celsius: float | None) -> str:
    if celsius is None:
        return "at a temperature not known"
    if not modelled(celsius):
        return "below −60 °C"
    if celsius < _FREEZER_BELOW:
        return "in a freezer"
    return "in a fridge" if celsius < _FRIDGE_BELOW else "in a room"


def _many(count: int, one: str, many: str = "") -> str:
    return f"{count:,} {one if count == 1 else many or one + 's'}"
