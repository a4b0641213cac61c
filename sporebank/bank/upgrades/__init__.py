"""Numbered upgrades of the bank file; each keeps its own frozen definitions and is never edited once released.

To add one: write `schema_000N.py` with `TITLE` and `STATEMENTS`, append it to `UPGRADES`, change `bank/tables.py`
to match, and keep a bank file of the schema before it in `tests/museum/`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from peewee import SqliteDatabase

from sporebank.bank.upgrades import schema_0001, schema_0002, schema_0003, schema_0004

#: `PRAGMA application_id` of a bank file: the letters SPOR.
APPLICATION_ID = 0x53504F52


@dataclass(frozen=True)
class Upgrade:
    """One step from schema `number - 1` to schema `number`, as statements in order."""

    number: int
    title: str
    statements: Sequence[str]


UPGRADES: tuple[Upgrade, ...] = (
    Upgrade(1, schema_0001.TITLE, schema_0001.STATEMENTS),
    Upgrade(2, schema_0002.TITLE, schema_0002.STATEMENTS),
    Upgrade(3, schema_0003.TITLE, schema_0003.STATEMENTS),
    Upgrade(4, schema_0004.TITLE, schema_0004.STATEMENTS),
)

#: The schema this program reads and writes.
CURRENT = UPGRADES[-1].number


def due(version: int) -> tuple[Upgrade, ...]:
    """Return the upgrades a bank file of this schema version still needs, in order."""
    return tuple(upgrade for upgrade in UPGRADES if upgrade.number > version)


def apply(database: SqliteDatabase, upgrade: Upgrade) -> None:
    """Run one upgrade and the record of it in one transaction."""
    with database.atomic("IMMEDIATE"):
        for statement in upgrade.statements:
            database.execute_sql(statement)
        database.execute_sql(f"PRAGMA user_version = {upgrade.number}")
        database.execute_sql(f"PRAGMA application_id = {APPLICATION_ID}")
