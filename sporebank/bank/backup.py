"""Copies of a bank file that are known to be whole."""

from __future__ import annotations

import glob
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path

from filelock import FileLock, Timeout

from sporebank.bank.upgrades import APPLICATION_ID
from sporebank.core.errors import Refusal

SUFFIX = ".sporebank-copy"


def lock_of(bank: Path) -> FileLock:
    """Return the lock, not yet taken, that whoever works on a bank file holds."""
    return FileLock(bank.with_name(f".{bank.name}.lock"), timeout=0, thread_local=False)


def save_copy(source: Path, target: Path) -> None:
    """Copy a bank file, also while it is open, through SQLite's own backup; the copy is checked before it is named.

    Raises:
        Refusal: the copy could not be written whole; an older file at `target` is then still there.
    """
    if not source.is_file():
        raise Refusal(f"There is no file at {source}. Choose another copy.")
    partial = target.with_name(target.name + ".partial")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        partial.unlink(missing_ok=True)
        with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(partial)) as there:
            here.backup(there)
            there.execute("PRAGMA journal_mode = delete")
            verdict = there.execute("PRAGMA quick_check").fetchone()[0]
            owner = there.execute("PRAGMA application_id").fetchone()[0]
        if verdict != "ok":
            raise Refusal(f"The copy at {target} did not come out whole. Try another disk.")
        if owner != APPLICATION_ID:
            raise Refusal(f"{source.name} is not a bank: something else lies in this file. Choose another copy.")
        partial.replace(target)
    except (OSError, sqlite3.Error) as error:
        raise Refusal(f"No copy could be written to {target} ({error}). Choose another folder.") from error
    finally:
        partial.unlink(missing_ok=True)


def folder(bank: Path) -> Path:
    """Return the folder in which the copies of a bank are kept."""
    return bank.with_name(bank.stem + " copies")


def daily(bank: Path, today: date, keep: int) -> Path | None:
    """Make today's copy unless there is one, and keep only the newest `keep`; return the copy made."""
    target = folder(bank) / f"{bank.stem} {today.isoformat()}{SUFFIX}"
    if target.exists():
        return None
    save_copy(bank, target)
    for old in sorted(folder(bank).glob(f"{glob.escape(bank.stem)} ????-??-??{SUFFIX}"))[:-keep]:
        old.unlink(missing_ok=True)
    return target


def restore(copy: Path, target: Path) -> None:
    """Make a bank file out of a copy; whatever stands at `target` is put aside, not overwritten.

    Raises:
        Refusal: the copy is missing or not whole, or the bank is in use; what stands at `target` is then still there.
    """
    fresh = target.with_name(target.name + ".restored")
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
