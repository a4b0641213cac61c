"""Copies of a bank file that are known to be whole."""

from __future__ import annotations

import errno
import glob
import os
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from datetime import date
from pathlib import Path

from filelock import FileLock, Timeout

from sporebank.bank.upgrades import APPLICATION_ID
from sporebank.core.errors import Refusal, Stopped

Report = Callable[[int, int, str], object]  # done, total, what is being done
Cancelled = Callable[[], bool]

SUFFIX = ".sporebank-copy"
PIECE = 1_000
"""Pages of 4 KB that are copied before it is asked whether the copy is still wanted."""

_NO_ROOM = "There is not enough room for the copy in {folder}. Make room there, or choose another disk."
_FORBIDDEN = "{folder} may not be written to. Take its write protection off, or choose another folder."
_TOO_LONG = "The name {name} is too long for a copy in {folder}. Choose a shorter one."
_DAMAGED = (
    "{source} is damaged, and no whole copy can be made of it. Leave it as it is; the daily copies of the bank lie in "
    "{kept}."
)
_ILL_MADE = "The copy did not come out whole in {folder}, and was not kept. Try another disk."
_OTHERWISE = "{name} could not be written to {folder} ({reason}). No copy was made; choose another folder."
_BY_SYSTEM = {
    errno.ENOSPC: _NO_ROOM,
    errno.EROFS: _FORBIDDEN,
    errno.EACCES: _FORBIDDEN,
    errno.EPERM: _FORBIDDEN,
    errno.ENAMETOOLONG: _TOO_LONG,
}
_BY_SQLITE = {
    sqlite3.SQLITE_FULL: _NO_ROOM,
    sqlite3.SQLITE_READONLY: _FORBIDDEN,
    sqlite3.SQLITE_CANTOPEN: _FORBIDDEN,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: _DAMAGED,
}


def lock_of(bank: Path) -> FileLock:
    """Return the lock, not yet taken, that whoever works on a bank file holds."""
    bank = bank.resolve()  # or a bank would have a lock for each of its links
    return FileLock(bank.with_name(f".{bank.name}.lock"), timeout=0, thread_local=False)


def save_copy(
    source: Path, target: Path, report: Report = lambda *_: None, cancelled: Cancelled = lambda: False
) -> int:
    """Copy a bank file, also while it is open, through SQLite's own backup; the copy is checked before it is named.

    Return its size in bytes. What is written to the bank meanwhile is not in the copy.

    Raises:
        Refusal: the copy could not be written whole; an older file at `target` is then still there.
        Stopped: `cancelled()` held.
    """
    if not source.is_file():
        raise Refusal(f"There is no file at {source}. Choose another copy.")
    if not os.access(source, os.R_OK):
        raise Refusal(f"{source} may not be read. Change its rights, or choose another copy.")
    partial = target.with_name(target.name + ".partial")

    def step(_: int, left: int, of: int) -> None:
        if cancelled():
            raise Stopped
        report(of - left, of, "Copying the bank")

    try:
        _look_at(source, target)
        _drop(partial)
        with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(partial)) as there:
            here.execute("BEGIN")
            here.execute("SELECT 1 FROM sqlite_master")  # from here on a deed does not make the backup begin again
            here.backup(there, pages=PIECE, progress=step)
            there.execute("PRAGMA journal_mode = delete")
            if not _is_whole(there):
                raise _refusal(_ILL_MADE if _is_whole(here) else _DAMAGED, source, target)
            owner = there.execute("PRAGMA application_id").fetchone()[0]
        if owner != APPLICATION_ID:
            raise Refusal(f"{source.name} is not a bank: something else lies in this file. Choose another copy.")
        size = partial.stat().st_size
        partial.replace(target)
    except (OSError, sqlite3.Error) as error:
        raise _refusal(_why_not(error), source, target, error) from error
    finally:
        with suppress(OSError):
            _drop(partial)
    return size


def _drop(partial: Path) -> None:
    """Delete what was written of a copy, and what SQLite leaves beside it where it can write no more."""
    for tail in ("", "-journal"):
        partial.with_name(partial.name + tail).unlink(missing_ok=True)


def _look_at(source: Path, target: Path) -> None:
    """Refuse a place that a copy must not take."""
    if not target.parent.is_dir():
        raise Refusal(f"There is no folder {target.parent}. Look whether the disk is plugged in, or choose another.")
    if target.exists() and target.samefile(source):
        raise Refusal(f"{target.name} is the bank itself. Choose another name or folder for the copy.")
    for tail in ("-wal", "-journal"):  # SQLite would write them into the copy
        if (beside := target.with_name(target.name + tail)).exists():
            raise Refusal(
                f"{beside.name} lies there: {target.name} is open in another window, or was not closed as it should "
                "be. Choose another name for the copy."
            )


def _is_whole(connection: sqlite3.Connection) -> bool:
    try:
        return bool(connection.execute("PRAGMA quick_check(1)").fetchone() == ("ok",))
    except sqlite3.DatabaseError:
        return False


def _why_not(error: OSError | sqlite3.Error) -> str:
    """Return what is to be said of a failure, told by its number: its words differ and may hold names of files."""
    if isinstance(error, OSError):
        return _BY_SYSTEM.get(error.errno or 0, _OTHERWISE)
    return _BY_SQLITE.get(getattr(error, "sqlite_errorcode", 0) & 0xFF, _OTHERWISE)  # the lowest byte is the kind


def _refusal(said: str, source: Path, target: Path, reason: Exception | None = None) -> Refusal:
    kept = source.parent if source.suffix == SUFFIX else folder(source)
    return Refusal(said.format(source=source.name, kept=kept, folder=target.parent, name=target.name, reason=reason))


def folder(bank: Path) -> Path:
    """Return the folder in which the copies of a bank are kept."""
    return bank.with_name(bank.stem + " copies")


def folder_made(bank: Path) -> Path:
    """Return the folder in which the copies of a bank are kept, made where it is missing.

    Raises:
        Refusal: it cannot be made.
    """
    try:
        folder(bank).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        sentence = f"No copy can be kept in {folder(bank)} ({error.strerror}). Move the bank to another folder."
        raise Refusal(sentence) from error
    return folder(bank)


def daily(
    bank: Path, today: date, keep: int, report: Report = lambda *_: None, cancelled: Cancelled = lambda: False
) -> Path | None:
    """Make today's copy unless there is one, and keep it with the newest others, `keep` in all; return the copy made.

    Today's is kept whatever its day: a clock that was set back must not make it the oldest, nor one set forward before.

    Raises:
        Refusal: it could not be written whole.
        Stopped: `cancelled()` held; the next opening makes it.
    """
    target = folder(bank) / f"{bank.stem} {today.isoformat()}{SUFFIX}"
    if target.exists():
        return None
    folder_made(bank)
    save_copy(bank, target, report, cancelled)
    kept = sorted(
        folder(bank).glob(f"{glob.escape(bank.stem)} ????-??-??{SUFFIX}"), key=lambda one: (one == target, one)
    )
    for old in kept[:-keep]:
        old.unlink(missing_ok=True)
    return target


def restore(copy: Path, target: Path) -> None:
    """Make a bank file out of a copy; whatever stands at `target` is put aside, not overwritten.

    Raises:
        Refusal: the copy is missing or not whole, or the bank is in use; what stands at `target` is then still there.
    """
    fresh = target.with_name(target.name + ".restored")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        sentence = f"There is no folder {target.parent}, and none can be made ({error.strerror}). "
        remedy = "Look whether the disk is plugged in, or open the copy where it lies."
        raise Refusal(sentence + remedy) from error
    save_copy(copy, fresh)  # first, so that a bad copy costs nothing
    try:
        with lock_of(target):
            _put_aside(target)
            fresh.replace(target)
    except Timeout as error:
        fresh.unlink()
        sentence = f"{target.name} is open in another window or on another machine. Close it there first."
        raise Refusal(sentence) from error


def _put_aside(target: Path) -> None:
    if target.exists():
        aside = target.with_name(f"{target.stem} put aside{target.suffix}")
        number = 2
        while aside.exists():
            aside = target.with_name(f"{target.stem} put aside {number}{target.suffix}")
            number += 1
        target.replace(aside)
        for tail in ("-wal", "-shm"):
            side = target.with_name(target.name + tail)
            if side.exists():
                side.replace(aside.with_name(aside.name + tail))
