"""What may be given away of each clone, from which vials, and why the rest stays."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import NormalDist

from sporebank.core.advice import percent
from sporebank.core.amounts import show
from sporebank.core.counted import counted
from sporebank.core.dates import PartDate, day_label
from sporebank.core.records import Permission, Share, SporeClass, TaxonName

HELD, RELEASED = "held back", "released"
"""What the keeper may say of a clone by hand: nothing of it goes, or neither reserve nor last vial stays."""

#: Green spore is offered for so many days after collecting: its mean life in Lloyd & Klekowski 1970, Biotropica 2:
#: 129-137 (from memory). The keeper may set another age for any taxon.
GREEN_DAYS = 48

_NORMAL = NormalDist()
_TAIL = _NORMAL.inv_cdf(0.95)


@dataclass(frozen=True)
class Lying:
    """A vial with spore in it. `free` micrograms are not held back for a parcel, `chance` is that it is alive enough.

    `unsettled` says what befell it since it was tested, `complaint` what was said of its batch and is not settled.
    """

    vial_id: int
    collected: PartDate
    spore_class: SporeClass
    free: int
    share: Share | None
    chance: float | None
    unsettled: str = ""
    complaint: str = ""


@dataclass(frozen=True)
class Stock:
    """What the bank has of a clone, the oldest spore first, and how it is given; amounts in micrograms.

    `promised_ug` is what other exchanges have on their lists and have not held back yet.
    """

    clone_id: int
    clone: str
    taxon_id: int
    name: TaxonName
    permission: Permission
    vials: tuple[Lying, ...]
    own_ug: int = 0
    reserve_ug: int = 0
    promised_ug: int = 0
    packet_ug: int = 1
    young_days: int | None = None
    held: str = ""


@dataclass(frozen=True)
class Way:
    """How a taxon or a clone is given; what is None is as the taxon, the settings and the kind of spore have it."""

    own_ug: int | None = None
    packet_ug: int | None = None
    young_days: int | None = None
    held: str = ""


@dataclass(frozen=True)
class Bar:
    """What a gift must be: alive to `line` with at least `chance` on the day it `ships`."""

    line: float
    chance: float
    ships: date


@dataclass(frozen=True)
class Surplus:
    """What may go of a clone: packets of a size, `drawn` from which vials, and in sentences what keeps the rest."""

    stock: Stock
    packets: int
    spare_ug: int
    drawn: tuple[tuple[int, int], ...]
    reasons: tuple[str, ...]


def chance_alive(share: Share | None, line: float) -> float | None:
    """Return the chance that a share alive is at least a line, from its three points; None where it is not known.

    Between and beyond the points probits are taken to run straight, on either side of the middle.
    """
    if share is None:
        return None
    low, middle, high = (
        _NORMAL.inv_cdf(min(max(one, 1e-9), 1 - 1e-9)) for one in (share.low, share.middle, share.high)
    )
    away = middle - _NORMAL.inv_cdf(line)
    side = middle - low if away > 0 else high - middle
    return _NORMAL.cdf(away * _TAIL / side) if side > 0 else float(away >= 0)


def surplus(stock: Stock, bar: Bar) -> Surplus:
    """Return what may be given away of a clone.

    What is left beyond own needs and the reserve may go, from vials that are alive enough and young enough, the oldest
    first; one whole vial stays, the one likely most alive. A clone that is released keeps neither.
    """
    reasons = _not_at_all(stock)
    doubts = {vial.vial_id: _doubt(stock, vial, bar) for vial in stock.vials}
    sound = [vial for vial in stock.vials if not doubts[vial.vial_id]]
    spare, kept = 0, None
    if not reasons:
        released = stock.held == RELEASED
        kept = None if released or not sound else max(sound, key=lambda one: (_middle(one), one.vial_id))
        beyond = sum(one.free for one in sound) - stock.own_ug - (0 if released else stock.reserve_ug)
        spare = min(beyond, sum(one.free for one in sound if one is not kept)) - stock.promised_ug
    drawn = _draw([one for one in sound if one is not kept], stock.packet_ug, spare)
    packets = sum(count for _, count in drawn)
    reasons += [f"{vials} {words}." for words, vials in _counted(doubts)]
    if kept is not None and not packets:
        reasons.append(_what_stays(stock, sound, spare))
    return Surplus(stock, packets, max(spare, 0), drawn, tuple(reasons))


def sound(stock: Stock, bar: Bar) -> tuple[Lying, ...]:
    """Return the vials of a clone in which nothing is in doubt: alive enough, young enough, settled."""
    return tuple(vial for vial in stock.vials if not _doubt(stock, vial, bar))


def own_use(stocks: Sequence[Stock], held: Mapping[int, int], bar: Bar) -> dict[int, int]:
    """Return, per clone, the micrograms kept back there of the own use that clones of a taxon share.

    It is kept in the clone with most good spore, and what that lacks in the next. What is `held` back per vial for
    parcels counts as there, so that no packet moves the own use to a clone whose spore is promised.
    """
    good = {stock.clone_id: sound(stock, bar) for stock in stocks}
    there = {one: sum(vial.free + held.get(vial.vial_id, 0) for vial in vials) for one, vials in good.items()}
    kept, own_ug = {}, max(stock.own_ug for stock in stocks)
    for clone_id in sorted(good, key=lambda one: (-there[one], one)):
        kept[clone_id] = min(own_ug, sum(vial.free for vial in good[clone_id]))
        own_ug -= kept[clone_id]
    return kept


def _middle(vial: Lying) -> float:
    return vial.share.middle if vial.share is not None else 0.0


def _not_at_all(stock: Stock) -> list[str]:
    """Return why nothing of a clone may go, whatever its vials are like."""
    if stock.held == HELD:
        return ["Held back by hand."]
    return {
        Permission.YES: [],
        Permission.NO: ["The donor does not let it go."],
        Permission.ASK: ["Ask the donor first; permission to share is not on record."],
        Permission.UNKNOWN: ["Permission to share is not on record."],
    }[stock.permission]


def _doubt(stock: Stock, vial: Lying, bar: Bar) -> str:
    """Return why nothing may go from a vial, in words that follow “2 vials”; nothing where it may."""
    if vial.complaint:
        return f"reported {vial.complaint}, not settled yet"
    if vial.unsettled:
        return f"{vial.unsettled}, not tested since"
    if vial.chance is None:
        return "not modelled, go by tests"
    if vial.chance < bar.chance:
        return f"likely below {percent(bar.line)} alive on {day_label(bar.ships)}"
    young = stock.young_days if stock.young_days is not None else _young_days(vial.spore_class)
    if young is not None and (bar.ships - vial.collected.first()).days > young:
        return f"older than {counted(young, 'day')} on {day_label(bar.ships)}"
    return ""


def _young_days(spore_class: SporeClass) -> int | None:
    return GREEN_DAYS if spore_class is SporeClass.GREEN else None


def _draw(vials: Sequence[Lying], packet_ug: int, spare: int) -> tuple[tuple[int, int], ...]:
    """Return `(vial, packets)`, each vial emptied as far as whole packets go before the next is opened."""
    drawn = []
    for vial in vials:
        count = min(vial.free, spare) // packet_ug
        if count > 0:
            drawn.append((vial.vial_id, count))
            spare -= count * packet_ug
    return tuple(drawn)


def _counted(doubts: dict[int, str]) -> list[tuple[str, str]]:
    """Return each doubt with how many vials it is about."""
    times = Counter(words for words in doubts.values() if words)
    return [(words, counted(count, "vial")) for words, count in times.items()]


def _what_stays(stock: Stock, sound: Sequence[Lying], spare: int) -> str:
    """Return why nothing can go from vials that are sound."""
    if len(sound) == 1:
        return "Its only vial that may go stays, unless the clone is released."
    if spare < stock.packet_ug:
        parts = (("own use", stock.own_ug), ("another list", stock.promised_ug), ("the reserve", stock.reserve_ug))
        kept = ", ".join(f"{show(amount)} for {what}" for what, amount in parts if amount)
        beyond = show(max(spare, 0))
        return (
            f"Beyond {kept} there is {beyond}; a packet takes {show(stock.packet_ug)}." if kept else _too_little(stock)
        )
    return _too_little(stock)


def _too_little(stock: Stock) -> str:
    return f"No vial beside the one that stays holds a packet of {show(stock.packet_ug)}."
