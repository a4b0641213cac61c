"""What was given to an exchange, and by whom."""

from __future__ import annotations

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import one, rows
from sporebank.core.donations import Donation
from sporebank.core.records import Contact


def donations(bank: Bank, exchange_id: int, contact_id: int | None = None) -> list[Donation]:
    """Return what was given to an exchange, by everybody or by one, the latest first."""
    found = rows(
        bank,
        """SELECT donation.id, donation.received_on, donation.received_as, taxon.name,
                COALESCE(batch.code, ''), donation.packets, donation.resealed, donation.note,
                contact.id, contact.name, contact.organisation, contact.address, contact.country,
                contact.email, contact.note
            FROM donation JOIN contact ON contact.id = donation.contact_id
            LEFT JOIN batch ON batch.id = donation.batch_id LEFT JOIN clone ON clone.id = batch.clone_id
            LEFT JOIN taxon ON taxon.id = clone.taxon_id
            WHERE exchange_id = ? AND donation.void = 0 AND (? IS NULL OR contact.id = ?)
            ORDER BY donation.received_on DESC, donation.id DESC""",
        exchange_id,
        contact_id,
        contact_id,
    )
    given = []
    for row in found:
        received = reading.day(row[1])
        assert received is not None
        name = None if row[3] is None else reading.name(row[3])
        given.append(Donation(row[0], Contact(*row[8:]), received, row[2], name, row[4], row[5], bool(row[6]), row[7]))
    return given


def donor_code(bank: Bank, contact_id: int) -> str:
    """Return the code of a donor; empty where they never gave anything."""
    found = one(bank, "SELECT donor_code FROM contact WHERE id = ?", contact_id)
    return "" if found is None else str(found[0])


def donor_codes(bank: Bank) -> list[str]:
    """Return every donor code given out."""
    return [str(row[0]) for row in rows(bank, "SELECT donor_code FROM contact WHERE donor_code <> ''")]


def listed_before(bank: Bank, exchange_id: int) -> set[str]:
    """Return the canonical names of every taxon that any other exchange has listed."""
    found = rows(
        bank,
        """SELECT DISTINCT taxon.name FROM offering JOIN taxon ON taxon.id = offering.taxon_id
           WHERE offering.exchange_id <> ? AND offering.void = 0""",
        exchange_id,
    )
    return {str(row[0]) for row in found}
