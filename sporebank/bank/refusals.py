"""What the bank file itself says no to, as sentences."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NamedTuple

import peewee

from sporebank.core.errors import Refusal

FAILURES = (peewee.DatabaseError, sqlite3.DatabaseError)
"""What comes of a file that says no, and of faults of the program: `trouble` tells them apart."""


class Trouble(NamedTuple):
    """What is the matter with the file, and what to do about it, to which a full stop or more is put."""

    what: str
    remedy: str


_FULL = Trouble("The disk is full.", "Make room")
_BUSY = Trouble("Another program is writing to the bank file.", "Wait a moment")
_KEPT = Trouble("The bank file may not be written to.", "Check the file's permissions")
_LOST = Trouble("The bank file cannot be reached.", "Look whether its disk is plugged in and has room")
_DAMAGED = Trouble("The bank file is damaged.", "Open the bank again, where its copies are offered")
_KINDS = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_READONLY: _KEPT,
    sqlite3.SQLITE_IOERR: _LOST,
    sqlite3.SQLITE_CANTOPEN: _LOST,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
}


def kind(error: BaseException) -> int:
    """Return the number of a failure as SQLite tells it, without what it says more precisely; 0 for any other."""
    return getattr(_first(error), "sqlite_errorcode", 0) & 0xFF  # the lowest byte is the kind


def trouble(error: BaseException) -> Trouble | None:
    """Return what is the matter with the file, or None where a fault of the program is."""
    return _KINDS.get(kind(error))


@contextmanager
def in_words() -> Iterator[None]:
    """Let what the file says no to meanwhile be a Refusal; a fault of the program stays what it is."""
    try:
        yield
    except FAILURES as error:
        found = trouble(error)
        if found is None:
            raise
        raise Refusal(f"{found.what} {found.remedy}.") from error


def of_deed(error: BaseException) -> Refusal | None:
    """Return why a deed could not be written, or None where a fault of the program kept it from being."""
    if isinstance(error, peewee.IntegrityError):
        return Refusal(_disagreeing(str(error)))
    found = trouble(error)
    return found and Refusal(f"{found.what} Nothing was changed. {found.remedy}, then do it again.")


def _first(error: BaseException) -> BaseException:
    """Return what went wrong first: SQLite rolls back by itself on a full disk, and then a second rollback fails."""
    while isinstance(error.__context__, FAILURES):
        error = error.__context__
    return error


def _disagreeing(reason: str) -> str:
    if "left >= 0" in reason:
        return "That would take more out of a vial than is in it. Nothing was changed; look at what is left first."
    if "vial.place_id" in reason:
        return "A slot chosen already holds a vial. Nothing was changed; choose a free slot."
    if "taken back" in reason:
        return "The storing of this vial has been undone meanwhile. Nothing was changed; do it again first."
    if "clone.code" in reason:
        return "Another clone already has this code. Nothing was changed; choose another code."
    if "taxon.name" in reason:
        return "The bank already has this name. Nothing was changed; choose it from the list."
    if any(f"{table}.name" in reason for table in ("layout", "sheet", "printer", "exchange")):
        return "The bank already has one of this name. Nothing was changed; choose another name."
    return f"The bank refused this because its records would no longer agree ({reason}). Nothing was changed."
