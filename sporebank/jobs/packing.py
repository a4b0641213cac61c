"""The packing bench: packets are scanned into their parcel, which closes when it is whole; parcels that never arrived.

A parcel that nobody scans is closed by its dispatch (`jobs.sharing.dispatch`).
"""

from __future__ import annotations

from collections import Counter
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.queries import parcels as reading
from sporebank.bank.queries.orders import exchange_of
from sporebank.bank.tables import Line as LineTable
from sporebank.bank.tables import Offering, Parcel
from sporebank.bank.tables import Packet as PacketTable
from sporebank.bank.tables import Request as RequestTable
from sporebank.core import codes, scanning
from sporebank.core.codes import KINDS, Code
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Stage
from sporebank.core.packing import Opened, Scanned
from sporebank.core.records import Basis, Fate, Packet, Reason, Request, RequestState
from sporebank.jobs.sharing import count_as_allotted, free, gap_in, unpacked, unsent
from sporebank.jobs.vials import refuse_future

_BACK = {Fate.RETURNED: "came back", Fate.LOST: "lost on the way"}
"""What the ledger says, after the code of the parcel, where a gift that never arrived is taken back."""

_GONE = {Fate.RETURNED: "came back, not put back", Fate.LOST: "lost on the way"}
"""What it says where that spore is gone for good."""


def scan_in(bank: Bank, request_id: int, code: Code) -> Scanned:
    """Put the packet scanned into the parcel of a request.

    The code of a vial will do where it is clear which packet is meant: one alone is missing from it, or the packets
    have no codes of their own.

    Raises:
        Refusal: it belongs elsewhere, is in already or was given up, or the parcel is closed or sent.
        Misread: nothing carries the code.
    """
    request = _begun(bank, request_id)
    packet = _meant(bank, request, code)
    what = codes.grouped(packet.code or packet.vial)
    with bank.change(f"Pack {what} into {codes.grouped(request.parcel)}") as tx:
        tx.update(PacketTable, packet.id, packed=1)
    packed, packets = 1 + sum(one.packed for one in request.packets), len(request.packets)
    return Scanned(f"{what}: packet {packed} of {packets} packed.", packed, packets)


def _begun(bank: Bank, request_id: int) -> Request:
    request = unpacked(bank, request_id)
    if not request.packets:
        raise Refusal("No packet is held back for this parcel. Fill the request first.")
    return request


def _meant(bank: Bank, request: Request, code: Code) -> Packet:
    """Return the packet that a scan means, which is not in the parcel yet."""
    said = codes.grouped(code.text)
    if code.kind == "V":
        return _from_vial(bank, request, code)
    if code.kind != "K":
        raise Refusal(f"{said} is a {KINDS[code.kind]}. Scan the label of a packet.")
    packet = _own(bank, request, code)
    if packet.packed:
        raise Refusal(f"{said} is in this parcel already.")
    return packet


def _own(bank: Bank, request: Request, code: Code) -> Packet:
    """Return the packet of this parcel that carries a code."""
    said, found = codes.grouped(code.text), reading.packet_by_code(bank, code.text)
    if found is None:
        raise scanning.unknown(code)
    if found.given_up:
        raise Refusal(f"{said} was given up and belongs to no parcel any more. Lay it aside.")
    if found.request_id != request.id:
        raise Refusal(
            f"Wrong parcel: {said} belongs into {codes.grouped(found.parcel)} for {found.who}, "
            f"not into {codes.grouped(request.parcel)} for {request.contact.name}."
        )
    return next(packet for packet in request.packets if packet.id == found.packet_id)


def _from_vial(bank: Bank, request: Request, code: Code) -> Packet:
    said, vial_id = codes.grouped(code.text), queries.holder(bank, code)
    if vial_id is None:
        raise scanning.unknown(code)
    mine = [packet for packet in request.packets if packet.vial_id == vial_id]
    loose = [packet for packet in mine if not packet.packed]
    if not mine:
        raise Refusal(f"No packet of {codes.grouped(request.parcel)} is from {said}.")
    if not loose:
        every = "The packet" if len(mine) == 1 else f"All {len(mine)} packets"
        raise Refusal(f"{every} of {said} {'is' if len(mine) == 1 else 'are'} packed already.")
    if len(loose) > 1 and any(packet.code for packet in loose):
        raise Refusal(f"{len(loose)} packets of {said} are still to be packed. Scan the label of the packet itself.")
    return loose[0]


def take_out(bank: Bank, request_id: int, code: Code) -> Scanned:
    """Take the packet scanned out of the parcel that it was packed into.

    Raises:
        Refusal: it is not in this parcel, or the parcel is closed or sent.
    """
    request = _begun(bank, request_id)
    packet = _own(bank, request, code)
    what, where = codes.grouped(code.text), codes.grouped(request.parcel)
    if not packet.packed:
        raise Refusal(f"{what} has not been packed into {where} yet.")
    with bank.change(f"Take {what} out of {where}") as tx:
        tx.update(PacketTable, packet.id, packed=0)
    packed, packets = sum(one.packed for one in request.packets) - 1, len(request.packets)
    return Scanned(f"{what} is out again; {packed} of {packets} packed.", packed, packets)


def close(bank: Bank, request_id: int, gap: str = "") -> None:
    """Close a parcel that is whole, or that stays incomplete for a reason; what is left out is free again.

    Raises:
        Refusal: packets are missing and no reason is given, or nothing is packed.
    """
    request, why = _begun(bank, request_id), gap.strip()
    left_out = [packet for packet in request.packets if not packet.packed]
    if len(left_out) == len(request.packets):
        raise Refusal("Nothing is packed yet. Scan the packets into the parcel first.")
    if left_out and not why:
        raise Refusal(gap_in(request), field="gap")
    assert request.parcel_id is not None  # packets have a parcel
    with bank.change(f"Close parcel {codes.grouped(request.parcel)}") as tx:
        free(bank, tx, left_out)
        _tell_lines(bank, tx, request, left_out, why)
        gap = why if left_out else ""
        tx.update(Parcel, request.parcel_id, closed_on=bank.today().isoformat(), gap=gap)


def _tell_lines(bank: Bank, tx: Change, request: Request, left_out: list[Packet], why: str) -> None:
    """Let the lines say why packets were left out, and count only what is in the parcel as allotted."""
    kept = Counter(packet.line_id for packet in request.packets if packet.packed)
    count_as_allotted(bank, tx, request, kept)
    for line_id in {packet.line_id for packet in left_out}:
        tx.update(LineTable, line_id, unmet=f"Left out when the parcel was packed: {why}")


def reopen(bank: Bank, request_id: int) -> Opened:
    """Open a closed parcel again; what had been left out of it stays free.

    An order of an exchange is allotted again what it was before, as far as nobody else was meanwhile and the rules let
    it be. Return how many packets can be held back for it again by that.

    Raises:
        Refusal: it is not closed, it is sent, or its request is closed.
    """
    from sporebank.jobs.allotted_again import allotted_again  # brings numpy, which the first paint need not wait for

    request = unsent(bank, request_id)
    if request.packed_on is None or request.parcel_id is None:
        raise Refusal("This parcel is not closed.")
    exchange_id, before = exchange_of(bank, request_id), reading.before_closing(bank, request.parcel_id)
    lines = [] if exchange_id is None or not before else allotted_again(bank, exchange_id, request_id, before)
    with bank.change(f"Open parcel {codes.grouped(request.parcel)} again") as tx:
        tx.update(Parcel, request.parcel_id, closed_on=None, gap="")
        tx.update_many(LineTable, {line.id: {"allotted": line.allotted, "unmet": line.unmet} for line in lines})
    waiting = sum((line.allotted or 0) - line.held for line in lines)
    return Opened(request.contact.name, waiting, _closed(bank, exchange_id))


def _closed(bank: Bank, exchange_id: int | None) -> str:
    """Return the name of an exchange that is closed; nothing where it is not, or where there is none."""
    one = None if exchange_id is None else queries.exchange(bank, exchange_id)
    return one.name if one is not None and one.stage is Stage.CLOSED else ""


def come_back(bank: Bank, request_id: int, on: date, fate: Fate, *, put_back: bool = True) -> None:
    """Put on record that a parcel came back or was lost; whom it was for may be served again.

    The gifts are taken back in the ledgers, and spore that does not lie in its vial again is booked as a loss.

    Args:
        bank: the bank.
        request_id: whose parcel.
        on: the day on which this was known.
        fate: returned or lost.
        put_back: whether the spore of a parcel that came back goes into its vials again; that of a lost one is gone.

    Raises:
        Refusal: it was not sent, this is on record already, the day is wrong, or a vial was culled meanwhile.
    """
    request = queries.request(bank, request_id)
    sent = _sent_on(request)
    refuse_future(on, bank.today(), "on")
    if on < sent:
        raise Refusal("This day lies before the parcel was sent.", field="on")
    back = put_back and fate is Fate.RETURNED
    if back:
        _refuse_culled(bank, request)
    said = "came back" if fate is Fate.RETURNED else "was lost"
    assert request.parcel_id is not None  # it was sent
    with bank.change(f"Parcel {codes.grouped(request.parcel)} to {request.contact.name} {said}") as tx:
        _book_back(tx, request, on, fate, put_back=back)
        if not back:
            for offering_id, (packets, gone) in reading.offerings_of(bank, request_id).items():
                tx.update(Offering, offering_id, packets=max(packets - gone, 0))
        tx.update(Parcel, request.parcel_id, fate=fate.value, fate_on=on.isoformat())
        tx.update(RequestTable, request_id, state=RequestState.CLOSED.value)


def _sent_on(request: Request) -> date:
    if request.dispatched_on is None:
        raise Refusal("This parcel has not been sent.")
    if request.fate is not Fate.NONE:
        raise Refusal(f"It is on record already that this parcel was {request.fate.value}.")
    return request.dispatched_on


def _refuse_culled(bank: Bank, request: Request) -> None:
    for row in queries.vials_by_id(bank, sorted({packet.vial_id for packet in request.packets})):
        if row.culled_on is not None:
            raise Refusal(
                f"{codes.grouped(row.code)} was culled since, so its spore has no vial to go back into. "
                "Record the parcel without putting its spore back.",
                field="put_back",
            )


def _book_back(tx: Change, request: Request, on: date, fate: Fate, *, put_back: bool) -> None:
    sent: Counter[int] = Counter()
    for packet in request.packets:
        sent[packet.vial_id] += packet.micrograms
    parcel = codes.grouped(request.parcel)
    for vial_id, micrograms in sent.items():
        _book(tx, vial_id, on, micrograms, Reason.CORRECTION, f"{parcel} {_BACK[fate]}")
        if not put_back:
            _book(tx, vial_id, on, -micrograms, Reason.LOSS, f"{parcel} {_GONE[fate]}")


def _book(tx: Change, vial_id: int, on: date, micrograms: int, reason: Reason, note: str) -> None:
    day, basis = on.isoformat(), Basis.WEIGHED.value
    tx.move_spore(vial_id, on_day=day, micrograms=micrograms, reason=reason.value, basis=basis, note=note)
