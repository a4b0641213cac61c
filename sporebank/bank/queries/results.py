"""What came of spore that was sent, and what was complained of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import numbers, one, rows
from sporebank.core.records import Contact
from sporebank.core.results import Complaint, ComplaintKind, Concern, Sent

_SENT = """SELECT packet.id, contact.id, contact.name, contact.organisation, contact.address, contact.country,
        contact.email, contact.note, parcel.dispatched_on, parcel.code, batch.id, taxon.name, vial.code,
        told.germinated, told.true_name, told.on_day, COALESCE(told.note, '')
    FROM packet JOIN parcel ON parcel.id = packet.parcel_id JOIN request ON request.id = parcel.request_id
    JOIN contact ON contact.id = request.contact_id JOIN vial ON vial.id = packet.vial_id
    JOIN batch ON batch.id = vial.batch_id JOIN clone ON clone.id = batch.clone_id
    JOIN taxon ON taxon.id = clone.taxon_id
    LEFT JOIN outcome AS told ON told.packet_id = packet.id AND told.void = 0 AND NOT EXISTS (
        SELECT 1 FROM outcome AS later WHERE later.packet_id = packet.id AND later.void = 0 AND later.id > told.id)
    WHERE packet.void = 0 AND parcel.void = 0 AND parcel.dispatched_on IS NOT NULL AND parcel.fate = ''"""


def sent_of_request(bank: Bank, request_id: int) -> list[Sent]:
    """Return the packets that were sent for a request, by name."""
    return _sent(bank, "request.id = ?", request_id)


def sent_of_batch(bank: Bank, batch_id: int) -> list[Sent]:
    """Return the packets that were sent of a batch."""
    return _sent(bank, "batch.id = ?", batch_id)


def sent_of_clone(bank: Bank, clone_id: int) -> list[Sent]:
    """Return the packets that were sent of a clone."""
    return _sent(bank, "clone.id = ?", clone_id)


def _sent(bank: Bank, test: str, value: int) -> list[Sent]:
    found = rows(bank, f"{_SENT} AND {test} ORDER BY taxon.sort_key, parcel.dispatched_on, packet.id", value)
    return [_sent_from(row) for row in found]


def _sent_from(row: tuple[Any, ...]) -> Sent:
    sent_on = reading.day(row[8])
    assert sent_on is not None
    return Sent(
        packet_id=row[0],
        contact=Contact(*row[1:8]),
        sent_on=sent_on,
        parcel=row[9],
        batch_id=row[10],
        name=reading.name(row[11]),
        vial=row[12],
        germinated=None if row[13] is None else bool(row[13]),
        true_name=None if row[14] is None else bool(row[14]),
        told_on=reading.day(row[15]),
        note=row[16],
    )


def complaints_of(bank: Bank, *, batch_id: int | None = None, clone_id: int | None = None) -> list[Complaint]:
    """Return what was said of a batch, or of every batch of a clone, the latest first."""
    found = rows(
        bank,
        """SELECT complaint.id, complaint.batch_id, complaint.on_day, complaint.kind, COALESCE(contact.name, ''),
                complaint.note, complaint.settled
            FROM complaint JOIN batch ON batch.id = complaint.batch_id
            LEFT JOIN packet ON packet.id = complaint.packet_id LEFT JOIN parcel ON parcel.id = packet.parcel_id
            LEFT JOIN request ON request.id = parcel.request_id LEFT JOIN contact ON contact.id = request.contact_id
            WHERE complaint.void = 0 AND (batch.id = ? OR batch.clone_id = ?) ORDER BY complaint.id DESC""",
        batch_id,
        clone_id,
    )
    said = []
    for number, batch, on, kind, by, note, settled in found:
        day = reading.day(on)
        assert day is not None
        said.append(Complaint(number, batch, day, ComplaintKind(kind), by, note, settled))
    return said


def complaint_settled(bank: Bank, complaint_id: int) -> str:
    """Return how a complaint was settled; empty while it is not."""
    found = one(bank, "SELECT settled FROM complaint WHERE id = ?", complaint_id)
    return "" if found is None else str(found[0])


def concern(bank: Bank, batch_id: int) -> Concern:
    """Return a batch with everyone whom a complaint about it concerns."""
    found = one(
        bank,
        """SELECT batch.code, clone.code, taxon.name, batch.collected,
                (SELECT COALESCE(SUM(vial.left), 0) FROM vial WHERE vial.batch_id = batch.id AND vial.void = 0),
                (SELECT COUNT(*) FROM packet JOIN vial ON vial.id = packet.vial_id
                    JOIN parcel ON parcel.id = packet.parcel_id WHERE vial.batch_id = batch.id AND packet.void = 0
                    AND parcel.void = 0 AND parcel.dispatched_on IS NULL)
            FROM batch JOIN clone ON clone.id = batch.clone_id JOIN taxon ON taxon.id = clone.taxon_id
            WHERE batch.id = ?""",
        batch_id,
    )
    assert found is not None
    code, clone, name, collected, left, held = found
    return Concern(
        batch_id=batch_id,
        batch=code,
        clone=clone,
        name=reading.name(name),
        collected=reading.part_date(collected),
        left=left,
        held=held,
        packed=tuple(packed_of_batch(bank, batch_id)),
        donor=_donor(bank, batch_id),
        sent=tuple(sent_of_batch(bank, batch_id)),
        complaints=tuple(complaints_of(bank, batch_id=batch_id)),
    )


def _donor(bank: Bank, batch_id: int) -> Contact | None:
    found = one(
        bank,
        """SELECT contact.id, contact.name, contact.organisation, contact.address, contact.country, contact.email,
                contact.note
            FROM donation JOIN contact ON contact.id = donation.contact_id
            WHERE donation.batch_id = ? AND donation.void = 0 ORDER BY donation.id LIMIT 1""",
        batch_id,
    )
    return None if found is None else Contact(*found)


def held_of_batch(bank: Bank, batch_id: int) -> list[tuple[int, int]]:
    """Return the packets of a batch that are held back and not sent, each with its line."""
    found = rows(
        bank,
        """SELECT packet.id, packet.line_id FROM packet JOIN vial ON vial.id = packet.vial_id
           JOIN parcel ON parcel.id = packet.parcel_id WHERE vial.batch_id = ? AND packet.void = 0 AND parcel.void = 0
           AND parcel.dispatched_on IS NULL ORDER BY packet.id""",
        batch_id,
    )
    return [(row[0], row[1]) for row in found]


def closed_with(bank: Bank, packet_ids: Sequence[int]) -> list[int]:
    """Return the parcels closed, and not sent, that any of these packets is in."""
    found = rows(
        bank,
        f"""SELECT DISTINCT parcel.id FROM parcel JOIN packet ON packet.parcel_id = parcel.id
            WHERE packet.id IN {numbers(packet_ids)} AND parcel.closed_on IS NOT NULL
                AND parcel.dispatched_on IS NULL AND parcel.void = 0""",
    )
    return [int(row[0]) for row in found]


def packed_of_batch(bank: Bank, batch_id: int) -> list[tuple[str, str]]:
    """Return the packets of a batch that lie in a parcel not sent yet: the parcel's code and the packet's."""
    found = rows(
        bank,
        """SELECT parcel.code, packet.code FROM packet JOIN vial ON vial.id = packet.vial_id
           JOIN parcel ON parcel.id = packet.parcel_id WHERE vial.batch_id = ? AND packet.void = 0 AND packet.packed = 1
           AND parcel.void = 0 AND parcel.dispatched_on IS NULL ORDER BY packet.id""",
        batch_id,
    )
    return [(row[0], row[1]) for row in found]


def allotted(bank: Bank, line_id: int) -> int | None:
    """Return the packets allotted to a line of an order, None where it is of no exchange."""
    found = one(bank, "SELECT allotted FROM line WHERE id = ?", line_id)
    return None if found is None or found[0] is None else int(found[0])
