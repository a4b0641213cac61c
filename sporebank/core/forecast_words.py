"""What a forecast rests on, and what to beware of, in words a grower understands."""

from __future__ import annotations

from collections.abc import Sequence

from sporebank.core.ageing import modelled
from sporebank.core.dates import PartDate
from sporebank.core.records import Share, SporeClass, Stay

_SPORE = {
    SporeClass.GREEN: "green spore",
    SporeClass.NON_GREEN: "non-green spore",
    SporeClass.DRYING_SENSITIVE: "spore that drying kills",
    SporeClass.DICKSONIA: "Dicksonia spore",
    SporeClass.DRY_LAND: "spore of dry-land ferns",
    SporeClass.UNKNOWN: "spore of a kind not known",
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


def cautions(
    share: Share | None,
    spore_class: SporeClass,
    collected: PartDate,
    stays: Sequence[Stay],
    left_out: bool,
) -> tuple[str, ...]:
    """Return what to beware of; `left_out` says that a test could not be used. A share of None is not modelled."""
    if share is None:
        return (COLD,)
    known = [stay.temperature for stay in stays if stay.temperature is not None]
    said = {
        FREEZER: any(celsius < _FREEZER_BELOW for celsius in known),
        SOMEWHERE: len(known) < len(stays),
        SOME_DAY: collected.day is None,
        ANY_KIND: spore_class is SporeClass.UNKNOWN,
        LEFT_OUT: left_out,
        A_FEW: share.middle < _NEAR_ZERO,
    }
    return tuple(sentence for sentence, holds in said.items() if holds)


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
