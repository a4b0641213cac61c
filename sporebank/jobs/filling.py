"""A request as it is being filled: what is proposed or held already, and what else each wish may be filled from."""

from __future__ import annotations

from dataclasses import dataclass

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import sharing
from sporebank.core.records import Line, Permission, Request, VialRow
from sporebank.core.sharing import Filled
from sporebank.jobs.sharing import offers, propose, refuse_of_exchange


@dataclass(frozen=True)
class Pick:
    """A vial that a wish may be filled from; `free` micrograms can go, `doubts` say why it is not proposed."""

    row: VialRow
    free: int
    doubts: tuple[str, ...]


@dataclass(frozen=True)
class Filling:
    """A request with what is chosen for each line (by its id), and the vials to choose from."""

    request: Request
    chosen: dict[int, Filled]
    picks: dict[int, tuple[Pick, ...]]


def filling(bank: Bank, request_id: int, *, anew: bool = False) -> Filling:
    """Return what is held for a request, or the proposal where nothing is or `anew` is asked; nothing is written."""
    refuse_of_exchange(bank, request_id)
    request = queries.request(bank, request_id)
    held = any(line.filled for line in request.lines)
    chosen = propose(bank, request_id) if anew or not held else _held(request)
    return Filling(request, chosen, {line.id: _picks(bank, request, line) for line in request.lines})


def _held(request: Request) -> dict[int, Filled]:
    return {line.id: Filled(tuple(one.vial_id for one in line.filled), line.unmet) for line in request.lines}


def _picks(bank: Bank, request: Request, line: Line) -> tuple[Pick, ...]:
    """Return the vials of a wish, the oldest spore first; what the donor does not let go is left out."""
    offered = [one for one in offers(bank, line, (), request.parcel_id) if one.permission is not Permission.NO]
    shown = queries.vials_by_id(bank, [one.vial_id for one in offered])
    return tuple(
        Pick(row, max(one.free, 0), sharing.doubts(one, line.packet_ug, bank.settings.gift_line))
        for one, row in zip(offered, shown, strict=True)
    )


def by_hand(packets: int, vials: tuple[int, ...], proposed: Filled) -> Filled:
    """Return a choice for a wish; what the keeper left as proposed keeps its reason, the rest says how many."""
    if sorted(vials) == sorted(proposed.vials):
        return proposed
    missing = "" if len(vials) >= packets else f"{len(vials)} of {packets} packets chosen by hand."
    return Filled(vials, missing)
