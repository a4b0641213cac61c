"""What may be given away, and which vials a wish is filled from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sporebank.core.advice import percent
from sporebank.core.amounts import show
from sporebank.core.records import Permission, Share

ELSEWHERE = "This is an order of {}. Its packets are chosen on the Exchange page, under Sharing out."


@dataclass(frozen=True)
class Offer:
    """A vial that a wish might be filled from; amounts in micrograms.

    `free` is what is left in it and not held back for another parcel; `spare` is what its clone has beyond the
    reserve, counted over all of the clone's vials. `unsettled` says what befell it since it was tested, `complaint`
    what was said of its batch and is not settled.
    """

    vial_id: int
    clone_id: int
    free: int
    spare: int
    share: Share | None
    permission: Permission
    unsettled: str = ""
    complaint: str = ""


@dataclass(frozen=True)
class Filled:
    """Packets drawn for one wish: a vial for each, and why what is missing is missing."""

    vials: tuple[int, ...]
    unmet: str


def surplus(permission: Permission, share: Share | None, clone_left: int, reserve: int, gift_line: float) -> bool:
    """Return whether a vial may be given away: allowed, alive enough, and more of its clone there than the reserve."""
    alive = share is not None and share.middle >= gift_line
    return permission is Permission.YES and alive and clone_left > reserve


def doubts(offer: Offer, packet_ug: int, gift_line: float) -> tuple[str, ...]:
    """Return why a vial is not proposed for packets of a size, each in a few words; nothing where it is."""
    said = {
        f"permission to share: {offer.permission.value}": offer.permission is not Permission.YES,
        f"{offer.unsettled}, not tested since": bool(offer.unsettled),
        f"reported {offer.complaint}, not settled": bool(offer.complaint),
        "not modelled, go by tests": offer.share is None,
        f"likely below {percent(gift_line)} alive": offer.share is not None and offer.share.middle < gift_line,
        f"only {show(max(offer.free, 0))} free": offer.free < packet_ug,
        "from the reserve of its clone": offer.free >= packet_ug > offer.spare,
    }
    return tuple(words for words, holds in said.items() if holds)


def fill(packets: int, packet_ug: int, offers: Sequence[Offer], gift_line: float) -> Filled:
    """Draw so many packets of a size from vials, the first of them that qualify first.

    Args:
        packets: how many are wished.
        packet_ug: the size of one, micrograms.
        offers: the vials of the taxon or clone, oldest spore first.
        gift_line: the share alive that a gift must likely have.
    """
    allowed = [offer for offer in offers if offer.permission is Permission.YES]
    sound = [offer for offer in allowed if not offer.unsettled and not offer.complaint]
    alive = [offer for offer in sound if offer.share is not None and offer.share.middle >= gift_line]
    spare = {offer.clone_id: offer.spare for offer in alive}
    drawn: list[int] = []
    for offer in alive:
        free = offer.free
        while len(drawn) < packets and free >= packet_ug and spare[offer.clone_id] >= packet_ug:
            drawn.append(offer.vial_id)
            free -= packet_ug
            spare[offer.clone_id] -= packet_ug
    if len(drawn) == packets:
        return Filled(tuple(drawn), "")
    if not alive:
        return Filled((), _why_none(offers, allowed, sound, gift_line))
    start = f"Only {len(drawn)} of {packets} packets" if drawn else "No packet"
    return Filled(tuple(drawn), f"{start}: {_what_lacks(packet_ug, alive, drawn)}")


def _why_none(offers: Sequence[Offer], allowed: Sequence[Offer], sound: Sequence[Offer], gift_line: float) -> str:
    if not offers:
        return "The bank has none of it."
    if not allowed:
        if all(offer.permission is Permission.NO for offer in offers):
            return "The donor does not let it go."
        return "Permission to share is not on record; ask the donor, then note it on the clone."
    if not sound and allowed[0].complaint:
        return f"It was reported {allowed[0].complaint}, which is not settled. Settle it on the card of its batch."
    if not sound:
        return f"It {allowed[0].unsettled} and was not tested since. Test it, then choose a vial by hand."
    if all(offer.share is None for offer in sound):
        return "How alive it is is not modelled. Test it, then choose a vial by hand."
    return f"What there is is likely below {percent(gift_line)} alive, too little for a gift."


def _what_lacks(packet_ug: int, alive: Sequence[Offer], drawn: Sequence[int]) -> str:
    """Return why no further packet could be drawn from vials that are alive enough."""
    packet = f"a packet takes {show(packet_ug)}"
    free = [max(offer.free, 0) for offer in alive]
    if any(offer.free >= packet_ug * (drawn.count(offer.vial_id) + 1) for offer in alive):
        spare = sum({offer.clone_id: max(offer.spare, 0) for offer in alive}.values())
        return f"beyond the reserve {show(spare)} can go, and {packet}."
    if drawn:
        return f"the vials that are alive enough have {show(sum(free))} free, and {packet}."
    return f"no vial that is alive enough has more than {show(max(free))} free, and {packet}."
