"""What carries a scanned code."""

from __future__ import annotations

from collections.abc import Sequence

from sporebank.bank.bank import Bank
from sporebank.bank.sql import marks, numbers, one, rows
from sporebank.core.codes import Code

_TABLES = {"B": "batch", "K": "packet", "L": "place", "P": "pot", "R": "parcel", "S": "sowing", "V": "vial"}


def holder(bank: Bank, code: Code) -> int | None:
    """Return the id of what carries a code, or None where nothing does."""
    if code.kind not in _TABLES:
        return None
    found = one(bank, f"SELECT id FROM {_TABLES[code.kind]} WHERE code = ? AND void = 0", code.text)
    return None if found is None else int(found[0])


def vial_ids_of_codes(bank: Bank, wanted: Sequence[str]) -> dict[str, int]:
    """Return the vials that carry these codes, by code."""
    found = rows(bank, f"SELECT code, id FROM vial WHERE code IN {marks(wanted)} AND void = 0", *wanted)
    return {str(code): int(vial_id) for code, vial_id in found}


def spots(bank: Bank, ids: Sequence[int]) -> dict[int, tuple[int | None, int | None]]:
    """Return the place and the slot of these vials, None where they have none."""
    found = rows(bank, f"SELECT id, place_id, slot FROM vial WHERE id IN {numbers(ids)}")
    return {int(row[0]): (row[1], row[2]) for row in found}
