"""Reading by SQL: one helper, so that every query looks the same."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sporebank.bank.bank import Bank


def rows(bank: Bank, sql: str, *values: object) -> list[tuple[Any, ...]]:
    """Run a SELECT and return all of its rows."""
    found: list[tuple[Any, ...]] = bank.database.execute_sql(sql, values).fetchall()
    return found


def one(bank: Bank, sql: str, *values: object) -> tuple[Any, ...] | None:
    """Run a SELECT and return its first row, or None."""
    found: tuple[Any, ...] | None = bank.database.execute_sql(sql, values).fetchone()
    return found


def marks(values: Sequence[object]) -> str:
    """Return the placeholders for a list of values: `(?, ?, ?)`."""
    return f"({', '.join('?' * len(values))})"


def numbers(ids: Iterable[int]) -> str:
    """Return row ids as an SQL list; they are whole numbers, so nothing can be smuggled in."""
    return f"({', '.join(str(int(one)) for one in ids)})"


def holds(column: str, word: str) -> tuple[str, str]:
    """Return the condition that a column holds a word whatever the case of letters, and its one value.

    SQLite's LIKE knows the case of ASCII letters alone; `folded` (see `Bank`) knows that of all, and is slower.
    """
    if word.isascii():
        return f"{column} LIKE ? ESCAPE '!'", like(word)
    return f"instr(folded({column}), ?)", word.casefold()


def any_holds(*wanted: tuple[str, str]) -> tuple[str, list[str]]:
    """Return the condition that any of these columns holds the word beside it, and its values."""
    found = [holds(column, word) for column, word in wanted]
    return f"({' OR '.join(clause for clause, _ in found)})", [value for _, value in found]


def like(text: str) -> str:
    """Return the LIKE pattern (escape `!`) of everything that contains a text."""
    escaped = text.replace("!", "!!").replace("%", "!%").replace("_", "!_")
    return f"%{escaped}%"


GOOD = "vial.left > 0 AND COALESCE(outlook.chance_below, 0) < ? AND COALESCE(outlook.unsettled, '') = ''"
"""Whether a vial can be counted on: below the line with less than a chance, and nothing befell it since its tests."""


def past(chance: float) -> str:
    """Return the condition that a vial is past viability: below the line with at least a chance, its one value.

    Only an even chance and more have an index, since those of the others, who are many, would have to be written every
    day; no setting asks for less.
    """
    indexed = "outlook.chance_below >= 0.5 AND " if chance >= 0.5 else ""
    return f"{indexed}outlook.chance_below >= ?"


BY_OUTLOOK = """outlook CROSS JOIN figure ON figure.outlook_id = outlook.id
    CROSS JOIN vial ON vial.id = figure.vial_id"""
"""Vials with their figures, for what asks for few outlooks: SQLite begins with these, not with every vial."""
