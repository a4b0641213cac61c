"""Looks at pots."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.sql import numbers, rows
from sporebank.core.looks import Look, LookKind, Pot, Seen, seen

_LOOK = "look.id, look.pot_id, look.on_day, look.what, look.count, look.note"
_LATEST_FIRST = "look.on_day DESC, look.id DESC"


def pots(bank: Bank, sowing_id: int) -> list[Pot]:
    """Return the pots of a sowing with all looks at them."""
    return _pots(bank, "pot.sowing_id = ?", sowing_id)


def pots_by_id(bank: Bank, pot_ids: Iterable[int]) -> list[Pot]:
    """Return these pots with all looks at them, those left out that were taken back."""
    return _pots(bank, f"pot.id IN {numbers(pot_ids)}")


def looks_by_id(bank: Bank, look_ids: Iterable[int]) -> list[Look]:
    """Return these looks, those left out that were taken back."""
    sql = f"SELECT {_LOOK} FROM look WHERE void = 0 AND id IN {numbers(look_ids)} ORDER BY {_LATEST_FIRST}"
    return [_look(row) for row in rows(bank, sql)]


def _pots(bank: Bank, condition: str, *values: object) -> list[Pot]:
    found = rows(
        bank,
        f"""SELECT pot.id, pot.code, pot.number, pot.sowing_id, sowing.sown_on FROM pot
            JOIN sowing ON sowing.id = pot.sowing_id
            WHERE pot.void = 0 AND {condition} ORDER BY pot.sowing_id, pot.number""",
        *values,
    )
    looks: dict[int, list[Look]] = {row[0]: [] for row in found}
    sql = f"SELECT {_LOOK} FROM look WHERE void = 0 AND pot_id IN {numbers(looks)} ORDER BY {_LATEST_FIRST}"
    for look in map(_look, rows(bank, sql)):
        looks[look.pot_id].append(look)
    return [
        Pot(pot_id, code, number, sowing_id, date.fromisoformat(sown_on), tuple(looks[pot_id]))
        for pot_id, code, number, sowing_id, sown_on in found
    ]


def seen_of(bank: Bank, sowing_ids: Iterable[int]) -> dict[int, Seen]:
    """Return how the pots of these sowings stand, by sowing; those that nobody looked at are left out."""
    found = rows(
        bank,
        f"""SELECT pot.sowing_id, {_LOOK} FROM pot JOIN look ON look.id = (
                SELECT id FROM look WHERE pot_id = pot.id AND void = 0 ORDER BY {_LATEST_FIRST} LIMIT 1)
            WHERE pot.void = 0 AND pot.sowing_id IN {numbers(sowing_ids)}""",
    )
    latest: dict[int, list[Look]] = {}
    for sowing_id, *row in found:
        latest.setdefault(sowing_id, []).append(_look(tuple(row)))
    return {sowing_id: stand for sowing_id, looks in latest.items() if (stand := seen(looks)) is not None}


def _look(row: tuple[Any, ...]) -> Look:
    return Look(row[0], row[1], date.fromisoformat(row[2]), LookKind(row[3]), row[4], row[5])
