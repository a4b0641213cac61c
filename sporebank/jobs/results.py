"""Results and complaints: written down as they come back, and what follows from them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Complaint as ComplaintTable
from sporebank.bank.tables import Line, Outcome, Packet, Parcel
from sporebank.core import codes, counted
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.results import ComplaintKind, Sent
from sporebank.jobs import labels
from sporebank.jobs.vials import refuse_future

GIVEN_UP = "It was taken out: somebody reported it as {}."


@dataclass(frozen=True)
class Told:
    """What somebody tells of a packet; None is not told."""

    packet_id: int
    germinated: bool | None
    true_name: bool | None
    note: str = ""


@dataclass(frozen=True)
class ComplaintForm:
    """What is said to be wrong with a batch, by whom (the packet they got), and whether held packets are given up."""

    batch_id: int
    on: date
    kind: ComplaintKind
    packet_id: int | None = None
    note: str = ""
    pull: bool = True


def record(bank: Bank, request_id: int, on: date, told: Sequence[Told]) -> int:
    """Write down what somebody tells of their packets and return of how many something new was told.

    Raises:
        Refusal: nothing new is told, the day has not come yet, or a packet never reached them.
    """
    refuse_future(on, bank.today(), "on")
    sent = {one.packet_id: one for one in queries.sent_of_request(bank, request_id)}
    new = [one for one in told if _is_new(one, sent)]
    if not new:
        raise Refusal("Nothing new is told. Say of a packet whether it germinated, or whether it is true to name.")
    if any(on < sent[one.packet_id].sent_on for one in new):
        raise Refusal("This day lies before the parcel was sent.", field="on")
    who = sent[new[0].packet_id].contact.name
    with bank.change(f"Results of {who}, {counted.packets(len(new))}") as tx:
        for one in new:
            tx.insert(
                Outcome,
                packet_id=one.packet_id,
                on_day=on.isoformat(),
                germinated=None if one.germinated is None else int(one.germinated),
                true_name=None if one.true_name is None else int(one.true_name),
                note=one.note.strip(),
            )
    return len(new)


def _is_new(told: Told, sent: dict[int, Sent]) -> bool:
    """Return whether something is told that is not on record yet."""
    before = sent.get(told.packet_id)
    if before is None:
        raise Refusal("One of these packets was never sent, or came back. Nothing was written down.")
    return (told.germinated, told.true_name, told.note.strip()) != (before.germinated, before.true_name, before.note)


def complain(bank: Bank, form: ComplaintForm) -> int:
    """Put a complaint on record and return its id; until it is settled nothing of the batch is offered.

    Packets of it that are held back for somebody are given up where the form says so, and their lines say why; parcels
    that were closed with one of them are open again.
    """
    refuse_future(form.on, bank.today(), "on")
    batch = queries.batch(bank, form.batch_id)
    held = queries.held_of_batch(bank, form.batch_id) if form.pull else []
    with bank.change(f"Batch {codes.grouped(batch.code)} reported {form.kind.value}") as tx:
        labels.drop(bank, tx, Kind.PACKET, [packet for packet, _ in held])
        for packet, _ in held:
            tx.update(Packet, packet, void=1)
        for parcel_id in queries.closed_with(bank, [packet for packet, _ in held]):
            tx.update(Parcel, parcel_id, closed_on=None, gap="")  # it must be opened: the packet lies in it
        for line_id, count in Counter(line for _, line in held).items():
            allotted = queries.allotted(bank, line_id)
            left = {} if allotted is None else {"allotted": max(allotted - count, 0)}
            tx.update(Line, line_id, unmet=GIVEN_UP.format(form.kind.value), **left)
        return tx.insert(
            ComplaintTable,
            batch_id=form.batch_id,
            packet_id=form.packet_id,
            on_day=form.on.isoformat(),
            kind=form.kind.value,
            note=form.note.strip(),
        )


def settle(bank: Bank, complaint_id: int, how: str) -> None:
    """Settle a complaint; what became of it stays on record with the name, and the batch may be offered again."""
    if not how.strip():
        raise Refusal("Say how it was settled, such as: came true in our own pots.", field="settled")
    if queries.complaint_settled(bank, complaint_id):
        raise Refusal("This complaint is settled already; how it ended stays on record.")
    with bank.change("Settle a complaint") as tx:
        tx.update(ComplaintTable, complaint_id, settled=how.strip())
