"""What stands on the labels of things, whatever kind of label they carry."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries import labels as reading
from sporebank.core.layout import Kind
from sporebank.core.papers import Label, PacketLabel, PotLabel
from sporebank.jobs import papers
from sporebank.jobs.labels import thing_of


def gather(bank: Bank, kind: Kind, ids: Sequence[int]) -> tuple[Label, ...]:
    """Return the labels of things, in the order in which one walks past them.

    Args:
        bank: where they are.
        kind: what kind of label they carry.
        ids: of vials, pots, packets, batches, places, contacts, or for parcels of requests, as the kind has it.
    """
    return tuple(_GATHER[thing_of(kind)](bank, ids))


def _pots(bank: Bank, ids: Sequence[int]) -> Sequence[Label]:
    found = reading.pots(bank, ids)
    sowings = {sowing_id: queries.sowing(bank, sowing_id) for _, sowing_id in found}
    of_pots = ((code, sowings[sowing_id]) for code, sowing_id in found)
    return [PotLabel(code, sown.name, sown.clone, sown.sown_on, sown.batch) for code, sown in of_pots]


def _packets(bank: Bank, ids: Sequence[int]) -> Sequence[Label]:
    labelled: dict[int, PacketLabel] = {}
    for request_id in reading.packet_requests(bank, ids):
        labelled |= papers.packets_labelled(bank, request_id)
    return [labelled[packet_id] for packet_id in reading.packets_walked(bank, ids) if packet_id in labelled]


def _parcels(bank: Bank, ids: Sequence[int]) -> Sequence[Label]:
    return [papers.parcel_label(bank, request_id) for request_id in ids]


_GATHER: dict[str, Callable[[Bank, Sequence[int]], Sequence[Label]]] = {
    "vial": papers.vial_labels,
    "pot": _pots,
    "packet": _packets,
    "batch": papers.bag_labels,
    "place": papers.place_labels,
    "contact": papers.address_labels,
    "request": _parcels,
}
