"""Names the bank knows."""

from __future__ import annotations

from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import any_holds, one, rows
from sporebank.core.records import SporeClass, Taxon

COLUMNS = """taxon.id, taxon.name, taxon.family, taxon.spore_class, taxon.verified, taxon.old_name,
    taxon.invasive_note"""
WIDTH = 7


def taxon_from(row: tuple[Any, ...]) -> Taxon:
    """Return a taxon from the columns of `COLUMNS`."""
    return Taxon(row[0], reading.name(row[1]), row[2], SporeClass(row[3]), bool(row[4]), row[5], row[6])


def taxa(bank: Bank, text: str = "", limit: int = 10_000) -> list[Taxon]:
    """Return the taxa whose name or old name holds every word of a text, in the order of names."""
    found = [any_holds(("taxon.name", word), ("taxon.old_name", word)) for word in text.split()]
    test = "".join(f" AND {clause}" for clause, _ in found)
    values = [value for _, two in found for value in two]
    sql = f"SELECT {COLUMNS} FROM taxon WHERE void = 0{test} ORDER BY sort_key LIMIT ?"
    return [taxon_from(row) for row in rows(bank, sql, *values, limit)]


def taxon(bank: Bank, taxon_id: int) -> Taxon:
    """Return one taxon."""
    found = one(bank, f"SELECT {COLUMNS} FROM taxon WHERE id = ?", taxon_id)
    assert found is not None
    return taxon_from(found)


def taxon_named(bank: Bank, text: str) -> Taxon | None:
    """Return the taxon with this canonical name."""
    found = one(bank, f"SELECT {COLUMNS} FROM taxon WHERE name = ? AND void = 0", text)
    return None if found is None else taxon_from(found)


def old_names(bank: Bank) -> dict[str, str]:
    """Return the old names on record, each with the accepted name that took its place."""
    found = rows(bank, "SELECT old_name, name FROM taxon WHERE old_name <> '' AND void = 0")
    return {str(old): str(new) for old, new in found}
