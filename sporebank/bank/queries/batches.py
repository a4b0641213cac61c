"""Clones and batches."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import names, reading
from sporebank.bank.queries.vials import vials_by_id
from sporebank.bank.sql import any_holds, numbers, one, rows
from sporebank.core.records import Basis, Batch, Before, Cleaning, Clone, Permission, Source, SporeClass, VialRow

_CLONE = """clone.id, clone.code, clone.source, clone.origin, clone.acquired, clone.acquired_from, clone.permission,
    clone.permit_note, clone.network_number, clone.received_as, clone.parent_id, clone.note,
    clone.country"""
_CLONE_WIDTH = 13
_BATCH = """batch.id, batch.code, batch.collected, batch.cleaned_on, batch.fronds, batch.cleaning, batch.screen_um,
    batch.minutes, batch.purity, batch.purity_basis, batch.amount_basis, batch.amount_said, batch.spore_class,
    batch.note, batch.before"""


def _clone(row: tuple[Any, ...]) -> Clone:
    own, of_taxon = row[:_CLONE_WIDTH], row[_CLONE_WIDTH:]
    return Clone(
        id=own[0],
        code=own[1],
        taxon=names.taxon_from(of_taxon),
        source=Source(own[2]),
        origin=own[3],
        acquired=reading.some_part_date(own[4]),
        acquired_from=own[5],
        permission=Permission(own[6]),
        permit_note=own[7],
        network_number=own[8],
        received_as=own[9],
        parent_id=own[10],
        note=own[11],
        country=own[12],
    )


def _batch(row: tuple[Any, ...]) -> Batch:
    return Batch(
        id=row[0],
        code=row[1],
        clone=_clone(row[15:]),
        collected=reading.part_date(row[2]),
        cleaned_on=reading.day(row[3]),
        fronds=row[4],
        cleaning=Cleaning(row[5]),
        screen_um=row[6],
        minutes=row[7],
        purity=row[8],
        purity_basis=Basis(row[9]),
        amount_basis=Basis(row[10]),
        amount_said=row[11],
        spore_class=SporeClass(row[12]),
        note=row[13],
        before=Before(row[14]),
    )


_CLONES = f"SELECT {_CLONE}, {names.COLUMNS} FROM clone JOIN taxon ON taxon.id = clone.taxon_id"
_BATCHES = f"""SELECT {_BATCH}, {_CLONE}, {names.COLUMNS} FROM batch JOIN clone ON clone.id = batch.clone_id
    JOIN taxon ON taxon.id = clone.taxon_id"""


def clone(bank: Bank, clone_id: int) -> Clone:
    """Return one clone."""
    return _clone(rows(bank, f"{_CLONES} WHERE clone.id = ?", clone_id)[0])


def clone_by_code(bank: Bank, code: str) -> Clone | None:
    """Return the clone with this code, in any case of letters."""
    found = one(bank, f"{_CLONES} WHERE clone.code = ? COLLATE NOCASE AND clone.void = 0", code.strip())
    return None if found is None else _clone(found)


def raised_from(bank: Bank, clone_id: int) -> set[int]:
    """Return a clone and every clone that it descends from."""
    found = rows(
        bank,
        """WITH RECURSIVE line (id) AS (SELECT ? UNION
               SELECT parent_id FROM clone JOIN line ON clone.id = line.id WHERE parent_id IS NOT NULL)
           SELECT id FROM line""",
        clone_id,
    )
    return {int(row[0]) for row in found}


def clones_of(bank: Bank, taxon_id: int) -> list[Clone]:
    """Return the clones of a taxon, by code."""
    sql = f"{_CLONES} WHERE clone.taxon_id = ? AND clone.void = 0 ORDER BY clone.sort_key"
    return [_clone(row) for row in rows(bank, sql, taxon_id)]


def clone_codes(bank: Bank) -> list[str]:
    """Return all clone codes in use, in their order."""
    return [str(row[0]) for row in rows(bank, "SELECT code FROM clone WHERE void = 0 ORDER BY sort_key")]


def batch(bank: Bank, batch_id: int) -> Batch:
    """Return one batch."""
    return _batch(rows(bank, f"{_BATCHES} WHERE batch.id = ?", batch_id)[0])


def batches(bank: Bank, text: str = "", limit: int = 200) -> list[Batch]:
    """Return the batches whose code, clone or name holds every word of a text, the newest first."""
    test, values = "", []
    for word in text.split():
        clause, more = any_holds(("batch.code", word.replace("-", "")), ("clone.code", word), ("taxon.name", word))
        test += f" AND {clause}"
        values += more
    sql = f"{_BATCHES} WHERE batch.void = 0{test} ORDER BY batch.collected DESC, batch.id DESC LIMIT ?"
    return [_batch(row) for row in rows(bank, sql, *values, limit)]


def batches_of(bank: Bank, clone_id: int) -> list[Batch]:
    """Return the batches of a clone, the newest first."""
    sql = f"{_BATCHES} WHERE batch.clone_id = ? AND batch.void = 0 ORDER BY batch.collected DESC, batch.id DESC"
    return [_batch(row) for row in rows(bank, sql, clone_id)]


def batch_began(bank: Bank, batch_id: int) -> tuple[date | None, date | None]:
    """Return the day on which the first vial of a batch was stored or put away, and that of its first test."""
    found = one(
        bank,
        """SELECT (SELECT MIN(day) FROM vial JOIN (
                SELECT vial_id, on_day AS day FROM movement WHERE voids IS NULL
                UNION ALL SELECT vial_id, since FROM stay WHERE voids IS NULL
            ) ON vial_id = vial.id WHERE vial.batch_id = ? AND vial.void = 0),
            (SELECT MIN(sown_on) FROM test WHERE batch_id = ? AND void = 0)""",
        batch_id,
        batch_id,
    )
    assert found is not None
    return reading.day(found[0]), reading.day(found[1])


def batches_by_id(bank: Bank, ids: Sequence[int]) -> list[Batch]:
    """Return these batches, in the order asked for."""
    found = {row[0]: row for row in rows(bank, f"{_BATCHES} WHERE batch.id IN {numbers(ids)}")}
    return [_batch(found[one_id]) for one_id in ids]


def batch_vials(bank: Bank, batch_id: int, *, culled: bool = False) -> list[VialRow]:
    """Return the vials of a batch that are in the bank, by number; with `culled`, also those that have left it."""
    there = "" if culled else "AND culled_on IS NULL"
    sql = f"SELECT id FROM vial WHERE batch_id = ? AND void = 0 {there} ORDER BY culled_on IS NOT NULL, number"
    return vials_by_id(bank, [row[0] for row in rows(bank, sql, batch_id)])
