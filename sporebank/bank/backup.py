"""Copies of a bank file that are known to be whole."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path

from sporebank.core.errors import Refusal

SUFFIX = ".sporebank-copy"


def save_copy(source: Path, target: Path) -> None:
    """Copy a bank file, also while it is open, through SQLite's own backup; the copy is checked before it is named.

    Raises:
        Refusal: the copy could not be written whole; an older file at `target` is then still there.
    """
    partial = target.with_name(target.name + ".partial")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        partial.unlink(missing_ok=True)
        with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(partial)) as there:
            here.backup(there)
            there.execute("PRAGMA journal_mode = delete")
            verdict = there.execute("PRAGMA quick_check").fetchone()[0]
        if verdict != "ok":
            raise Refusal(f"The copy at {target} did not come out whole. Try another disk.")
        partial.replace(target)
    except (OSError, sqlite3.Error) as error:
        partial.unlink(missing_ok=True)
        raise Refusal(f"No copy could be written to {target} ({error}). Choose another folder.") from error


def folder(bank: Path) -> Path:
    """Return the folder in which the copies of a bank are kept."""
    return bank.with_name(bank.stem + " copies")


def daily(bank: Path, today: date, keep: int) -> Path | None:
    """Make today's copy unless there is one, and keep only the newest `keep`; return the copy made."""
    target = folder(bank) / f"{bank.stem} {today.isoformat()}{SUFFIX}"
    if target.exists():
        return None
    save_copy(bank, target)
    for old in sorted(folder(bank).glob(f"{bank.stem} ????-??-??{SUFFIX}"))[:-keep]:
        old.unlink(missing_ok=True)
    return target


def restore(copy: Path, target: Path) -> None:
    """Make a bank file out of a copy; whatever stands at `target` is put aside, not overwritten."""
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
    save_copy(copy, target)
