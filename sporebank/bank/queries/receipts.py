"""Parcels of other banks that were taken in, and the codes that their things had there."""

from __future__ import annotations

from typing import NamedTuple

from sporebank.bank.bank import Bank
from sporebank.bank.sql import one, rows


class Receipt(NamedTuple):
    """A parcel that was taken in: its code there, the name of its bank, and when it was taken in (ISO 8601)."""

    parcel: str
    bank: str
    received_on: str


def receipt_of(bank: Bank, parcel: str, checksum: str) -> Receipt | None:
    """Return the receipt of a parcel that was taken in, known by its code or by what was in it."""
    sql = "SELECT parcel, bank, received_on FROM receipt WHERE void = 0 AND (parcel = ? OR checksum = ?)"
    found = one(bank, sql, parcel, checksum)
    return None if found is None else Receipt(*found)


def met_before(bank: Bank, tag: str, kind: str, code: str) -> int | None:
    """Return what a thing is here that carries a code in the bank with this tag; None where it never came."""
    found = one(
        bank,
        """SELECT alias.row_id FROM alias JOIN receipt ON receipt.id = alias.receipt_id
           WHERE alias.code = ? AND alias.kind = ? AND substr(receipt.parcel, 2, 3) = ? AND alias.void = 0
           ORDER BY alias.id DESC""",
        code,
        kind,
        tag,
    )
    return None if found is None else int(found[0])


def codes_elsewhere(bank: Bank, kind: str, row_id: int) -> list[tuple[str, str]]:
    """Return the codes that a thing had in other banks, each with the name of the bank."""
    return [
        (str(code), str(name))
        for code, name in rows(
            bank,
            """SELECT DISTINCT alias.code, receipt.bank FROM alias JOIN receipt ON receipt.id = alias.receipt_id
               WHERE alias.kind = ? AND alias.row_id = ? AND alias.void = 0 ORDER BY alias.id""",
            kind,
            row_id,
        )
    ]
