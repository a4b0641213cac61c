"""Opening a bank file: lock, quick check, version, copy when an upgrade is due, upgrade."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import datetime
from enum import StrEnum
from pathlib import Path

import peewee
from filelock import BaseFileLock, Timeout
from peewee import SqliteDatabase

from sporebank.bank import backup, refusals, upgrades
from sporebank.bank.bank import PRAGMAS, Bank, Clock
from sporebank.bank.change import kind_of
from sporebank.bank.tables import ALL, Meta, Setting
from sporebank.core import codes
from sporebank.core.errors import Refusal

SUFFIX = ".sporebank"
PATIENCE = 5.0
"""Seconds to wait for another program that is writing, before it is said to be in use."""
_HEADER = b"SQLite format 3\x00"


class Trouble(StrEnum):
    """Why a file cannot be opened as a bank."""

    MISSING = "missing"
    LOCKED = "locked"
    FOREIGN = "foreign"
    DAMAGED = "damaged"
    TOO_NEW = "too new"
    UNWRITABLE = "unwritable"
    UNREACHABLE = "unreachable"


class Unopenable(Refusal):
    """A file that cannot be opened as a bank, with the sentence for the keeper and details for a helper."""

    def __init__(self, trouble: Trouble, sentence: str, details: str = "") -> None:
        super().__init__(sentence)
        self.trouble = trouble
        self.details = details


def _now() -> datetime:
    return datetime.now()  # noqa: DTZ005 - a bank keeps the wall clock of its keeper


def create(path: Path, name: str, clock: Clock = _now) -> Bank:
    """Make a new bank file and open it.

    Raises:
        Refusal: the name is empty, the file exists already, or cannot be written.
    """
    if not name.strip():
        raise Refusal("Give the bank a name, such as the name of the collection.", field="name")
    try:
        if path.exists():
            raise Refusal(f"There is already a file at {path}. Open it, or choose another name.", field="path")
        path.parent.mkdir(parents=True, exist_ok=True)
        lock = _take_lock(path)
        try:
            _write_first(path, name.strip(), clock)
        except BaseException:
            lock.release()
            for tail in ("", "-wal", "-shm"):
                path.with_name(path.name + tail).unlink(missing_ok=True)
            raise
    except OSError as error:
        sentence = f"No bank can be made at {path} ({error.strerror}). Choose another folder, or a shorter name."
        raise Refusal(sentence, field="path") from error
    except peewee.OperationalError as error:
        found = refusals.trouble(error)
        why = f"{found.what} {found.remedy}" if found else f"It cannot be written ({error}). Look at the disk"
        raise Refusal(f"No bank can be made at {path}. {why}, or choose another folder.", field="path") from error
    return Bank(path, lock, clock)


def _write_first(path: Path, name: str, clock: Clock) -> None:
    database = SqliteDatabase(str(path), pragmas=PRAGMAS)
    try:
        with database.atomic("IMMEDIATE"):
            for upgrade in upgrades.UPGRADES:
                upgrades.apply(database, upgrade)
            made = clock().isoformat(timespec="microseconds")
            facts = {"name": name, "tag": codes.tag_from(f"{name} {made}"), "made": made}
            for key, value in facts.items():
                Meta.insert(key=key, value=value).execute(database)
            Setting.insert(id=1, value="{}").execute(database)
    finally:
        database.close()


def open_bank(path: Path, clock: Clock = _now) -> Bank:
    """Open a bank file.

    Raises:
        Unopenable: the file is missing, in use, no bank, damaged, or of a newer program.
    """
    if not os.path.isfile(path):  # noqa: PTH113 - `Path.is_file` fails for a name that is too long
        raise Unopenable(Trouble.MISSING, f"There is no bank at {path}. It may have been moved or renamed.")
    for needed in (path, path.parent):  # SQLite writes its journal beside the file
        if not os.access(needed, os.W_OK):
            sentence = f"{needed.name} may not be written to. Move the bank, or change its rights."
            raise Unopenable(Trouble.UNWRITABLE, sentence, f"The system gives no right to write to {needed}.")
    lock = _take_lock(path)
    try:
        version = _examine(path)
        _upgrade(path, version)
        return _load(path, lock, clock)
    except BaseException:
        lock.release()
        raise


def _load(path: Path, lock: BaseFileLock, clock: Clock) -> Bank:
    """Return the bank in a file that SQLite finds whole, unless what every bank has is missing or makes no sense."""
    try:
        bank = Bank(path, lock, clock)
    except peewee.DatabaseError as error:
        raise _not_read(path, error) from error
    except (LookupError, TypeError, ValueError, Refusal) as error:
        raise Unopenable(Trouble.DAMAGED, _damaged(path), str(error)) from error
    if absent := {kind_of(table) for table in ALL} - set(bank.database.get_tables()):
        bank.close()
        raise Unopenable(Trouble.DAMAGED, _damaged(path), f"Tables are missing: {', '.join(sorted(absent))}.")
    return bank


def _take_lock(path: Path) -> BaseFileLock:
    lock = backup.lock_of(path)
    try:
        lock.acquire()
    except Timeout as error:
        sentence = f"{path.name} is open in another window or on another machine. Close it there first."
        raise Unopenable(Trouble.LOCKED, sentence, str(error)) from error
    except OSError as error:
        sentence = f"The folder of {path.name} may not be written to. Move the bank, or change the folder's rights."
        raise Unopenable(Trouble.UNWRITABLE, sentence, str(error)) from error
    return lock


def _examine(path: Path) -> int:
    """Return the schema version of a bank file that is whole and not too new."""
    try:
        with path.open("rb") as file:
            header = file.read(len(_HEADER))
        if header != _HEADER:
            sentence = f"{path.name} is not a bank: something else lies in this file."
            raise Unopenable(Trouble.FOREIGN, sentence, f"It begins with {header!r}.")
        with closing(sqlite3.connect(path, timeout=PATIENCE)) as connection:
            application = int(connection.execute("PRAGMA application_id").fetchone()[0])
            version = int(connection.execute("PRAGMA user_version").fetchone()[0])
            verdict = [str(row[0]) for row in connection.execute("PRAGMA quick_check(20)")]
    except OSError as error:
        sentence = (
            f"{path.name} cannot be read ({error.strerror}). Look whether its disk is plugged in, then try again."
        )
        raise Unopenable(Trouble.UNREACHABLE, sentence, str(error)) from error
    except sqlite3.Error as error:
        raise _not_read(path, error) from error
    if application != upgrades.APPLICATION_ID:
        sentence = f"{path.name} is a database, but of another program, not a bank."
        raise Unopenable(Trouble.FOREIGN, sentence, f"Its application id is {application}.")
    if verdict != ["ok"]:
        raise Unopenable(Trouble.DAMAGED, _damaged(path), "\n".join(verdict))
    if version > upgrades.CURRENT:
        sentence = f"{path.name} was last used with a newer sporebank. Update this one, then open it again."
        details = f"The file has schema {version}; this program knows schemas up to {upgrades.CURRENT}."
        raise Unopenable(Trouble.TOO_NEW, sentence, details)
    return version


def _not_read(path: Path, error: peewee.DatabaseError | sqlite3.Error) -> Unopenable:
    """Return why SQLite does not read a file: a full disk must not send anybody back to an older copy."""
    kind = refusals.kind(error)
    if kind in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        sentence = f"{path.name} is being written to by another program. Close that one first."
        return Unopenable(Trouble.LOCKED, sentence, str(error))
    found = refusals.trouble(error)
    if found is None or kind in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return Unopenable(Trouble.DAMAGED, _damaged(path), str(error))
    sentence = f"{path.name} cannot be opened now. {found.what} {found.remedy}, then try again."
    return Unopenable(Trouble.UNREACHABLE, sentence, str(error))


def _damaged(path: Path) -> str:
    return f"{path.name} is damaged. Leave the file as it is and open a backup; nothing is lost from that."


def _upgrade(path: Path, version: int) -> None:
    due = upgrades.due(version)
    if not due:
        return
    kept = backup.folder_made(path) / f"{path.stem} before schema {upgrades.CURRENT}{backup.SUFFIX}"
    backup.save_copy(path, kept)
    database = SqliteDatabase(str(path), pragmas={**PRAGMAS, "foreign_keys": 0})
    try:
        for upgrade in due:
            upgrades.apply(database, upgrade)
    except peewee.DatabaseError as error:
        sentence = f"{path.name} could not be brought up to date. It is as it was; a copy lies at {kept}."
        raise Unopenable(Trouble.DAMAGED, sentence, str(error)) from error
    finally:
        database.close()
