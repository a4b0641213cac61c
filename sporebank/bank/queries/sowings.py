"""Sowings and their pots."""

from __future__ import annotations

from datetime import date
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.queries.looks import seen_of
from sporebank.bank.sql import numbers, one, rows
from sporebank.core.records import Sowing

_SOWINGS = """SELECT sowing.id, sowing.code, sowing.vial_id, batch.code, clone.code, taxon.name, sowing.room,
        sowing.sown_on, sowing.micrograms, sowing.note
    FROM sowing JOIN vial ON vial.id = sowing.vial_id JOIN batch ON batch.id = vial.batch_id
    JOIN clone ON clone.id = batch.clone_id JOIN taxon ON taxon.id = clone.taxon_id WHERE sowing.void = 0"""


def _with_pots(bank: Bank, found: list[tuple[Any, ...]]) -> list[Sowing]:
    ids = numbers(row[0] for row in found)
    sql = f"SELECT sowing_id, code FROM pot WHERE void = 0 AND sowing_id IN {ids} ORDER BY sowing_id, number"
    pots: dict[int, list[str]] = {}
    for sowing_id, code in rows(bank, sql):
        pots.setdefault(sowing_id, []).append(code)
    seen = seen_of(bank, (row[0] for row in found))
    sowings = []
    for row in found:
        sown_on = reading.day(row[7])
        assert sown_on is not None
        sowings.append(
            Sowing(
                id=row[0],
                code=row[1],
                vial_id=row[2],
                batch=row[3],
                clone=row[4],
                name=reading.name(row[5]),
                room=row[6],
                sown_on=sown_on,
                micrograms=row[8],
                pots=tuple(pots.get(row[0], ())),
                note=row[9],
                seen=seen.get(row[0]),
            )
        )
    return sowings


def sowings(bank: Bank, limit: int = 200) -> list[Sowing]:
    """Return the last sowings, the newest first."""
    return _with_pots(bank, rows(bank, f"{_SOWINGS} ORDER BY sowing.sown_on DESC, sowing.id DESC LIMIT ?", limit))


def sowing(bank: Bank, sowing_id: int) -> Sowing:
    """Return one sowing."""
    return _with_pots(bank, rows(bank, f"{_SOWINGS} AND sowing.id = ?", sowing_id))[0]


def sowings_of(bank: Bank, batch_id: int) -> list[Sowing]:
    """Return the sowings of a batch, the oldest first."""
    return _with_pots(bank, rows(bank, f"{_SOWINGS} AND batch.id = ? ORDER BY sowing.sown_on, sowing.id", batch_id))


def sown_that_day(bank: Bank, room: str, day: date) -> list[Sowing]:
    """Return what was sown in a room on a day."""
    sql = f"{_SOWINGS} AND folded(sowing.room) = ? AND sowing.sown_on = ? ORDER BY sowing.id"
    return _with_pots(bank, rows(bank, sql, room.casefold(), day.isoformat()))


def pot_sowing(bank: Bank, code: str) -> int | None:
    """Return the sowing that a pot, or a sowing itself, with this code belongs to."""
    sql = """SELECT sowing_id FROM pot WHERE code = ?1 AND void = 0
        UNION SELECT id FROM sowing WHERE code = ?1 AND void = 0"""
    found = one(bank, sql, code)
    return None if found is None else int(found[0])


def rooms(bank: Bank) -> list[str]:
    """Return the rooms sown in so far."""
    found = rows(bank, "SELECT DISTINCT room FROM sowing WHERE void = 0 ORDER BY room COLLATE NOCASE")
    return [str(row[0]) for row in found]
