"""The pick list: one walk through the cold store for many parcels."""

from __future__ import annotations

from collections import Counter, defaultdict

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries import parcels as reading
from sporebank.bank.queries.parcels import Picked
from sporebank.core import amounts, codes
from sporebank.core.errors import Refusal
from sporebank.core.papers import PickItem, PickList


def packets(bank: Bank, exchange_id: int | None) -> list[int]:
    """Return the packets that are still to be packed, of an exchange or of all requests beside exchanges."""
    return [one.packet_id for one in _to_pick(bank, exchange_id)]


def _to_pick(bank: Bank, exchange_id: int | None) -> list[Picked]:
    found = reading.to_pick(bank, exchange_id)
    if not found:
        raise Refusal("Nothing is to be picked: no packet is held back that is not packed yet.")
    return found


def pick_list(bank: Bank, exchange_id: int | None) -> PickList:
    """Return what is still to be taken out of the vials, one line a vial, with what must remain in it.

    Raises:
        Refusal: nothing is to be picked.
    """
    by_vial: dict[int, list[Picked]] = defaultdict(list)
    found = _to_pick(bank, exchange_id)
    for one in found:
        by_vial[one.vial_id].append(one)
    items = []
    for row in queries.in_walking_order(bank, list(by_vial)):
        take = sum(one.micrograms for one in by_vial[row.id])
        items.append(
            PickItem(
                place=row.place,
                place_key=row.place_key,
                vial=row.code,
                name=row.name,
                clone=row.clone,
                take=take,
                remains=row.left - take,
                packets=_told(by_vial[row.id]),
            )
        )
    title = "Requests" if exchange_id is None else queries.exchange(bank, exchange_id).name
    parcels = len({one.parcel for one in found})
    return PickList(bank.name, title, bank.today(), parcels, len(found), tuple(items))


def _told(picked: list[Picked]) -> tuple[str, ...]:
    """Return packets in words, those alike together: `2 × 2 mg, R-7K2-0000A-3 line 4`."""
    alike = Counter((one.micrograms, one.parcel, one.rank) for one in picked)
    return tuple(
        f"{count} × {amounts.show(size)}, {codes.grouped(parcel)} line {rank}"
        for (size, parcel, rank), count in alike.items()
    )
