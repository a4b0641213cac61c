"""Papers that people hold, and the cautions of a parcel that were answered."""

from __future__ import annotations

from datetime import date

from sporebank.bank.bank import Bank
from sporebank.bank.sql import rows
from sporebank.core.permits import Permit, PermitKind


def permits_of(bank: Bank, contact_id: int) -> list[Permit]:
    """Return the papers of a person, the first to run out first; none of one who was forgotten."""
    found = rows(
        bank,
        """SELECT permit.id, contact_id, kind, number, expires, labels_left, permit.note
           FROM permit JOIN contact ON contact.id = permit.contact_id
           WHERE contact_id = ? AND permit.void = 0 AND contact.forgotten_on IS NULL
           ORDER BY expires IS NULL, expires, permit.id""",
        contact_id,
    )
    return [
        Permit(row[0], row[1], PermitKind(row[2]), row[3], date.fromisoformat(row[4]) if row[4] else None, *row[5:])
        for row in found
    ]


def heeds(bank: Bank, parcel_id: int) -> dict[str, tuple[int, str]]:
    """Return the cautions of a parcel that were answered, by their keys, each with its row and its note."""
    found = rows(bank, "SELECT caution, id, note FROM heed WHERE parcel_id = ? AND void = 0", parcel_id)
    return {str(key): (int(row_id), str(note)) for key, row_id, note in found}
