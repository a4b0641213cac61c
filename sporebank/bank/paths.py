"""The paths of places, kept beside the tree so that a table of vials can show and sort by them."""

from __future__ import annotations

from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.sql import one, rows
from sporebank.bank.tables import Place
from sporebank.core.sorting import natural

SEPARATOR = " / "
#: Parts the names in a sort key; it sorts before every letter, so that what is inside a place follows it at once.
KEY_SEPARATOR = "\t"


def path_below(bank: Bank, parent_id: int | None, name: str) -> tuple[str, str]:
    """Return the path and the sort key of a place with this name below a parent."""
    if parent_id is None:
        return name, natural(name)
    parent = one(bank, "SELECT path, path_key FROM place WHERE id = ?", parent_id)
    assert parent is not None
    return f"{parent[0]}{SEPARATOR}{name}", f"{parent[1]}{KEY_SEPARATOR}{natural(name)}"


def renew(bank: Bank, tx: Change, place_id: int) -> None:
    """Write the paths of a place and all below it anew, after its name or its parent has changed."""
    row = one(bank, "SELECT parent_id, name FROM place WHERE id = ?", place_id)
    assert row is not None
    path, key = path_below(bank, row[0], row[1])
    tx.update(Place, place_id, path=path, path_key=key)
    for (child,) in rows(bank, "SELECT id FROM place WHERE parent_id = ? AND void = 0", place_id):
        renew(bank, tx, child)
