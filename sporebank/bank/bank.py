"""An open bank: its file, its settings, and the only door through which it is changed."""

from __future__ import annotations

import json
from array import array
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path
from typing import TypeVar

from filelock import BaseFileLock
from peewee import SqliteDatabase

from sporebank.bank import refusals
from sporebank.bank.change import Change, new_event
from sporebank.bank.tables import Meta, Setting
from sporebank.core import settings as core_settings
from sporebank.core.errors import Refusal
from sporebank.core.records import Changed
from sporebank.core.settings import Settings

Clock = Callable[[], datetime]
T = TypeVar("T")

#: WAL lets a page be read while a deed is written; FULL makes a committed deed outlive a power cut.
PRAGMAS = {
    "journal_mode": "wal",
    "foreign_keys": 1,
    "busy_timeout": 5000,
    "synchronous": "full",
    "cache_size": -64_000,
}


class Bank:
    """An open bank file. It belongs to the thread that opened it.

    `database` is for the layer `bank` alone. Deeds go through `change`, reading through `bank.queries`.
    """

    def __init__(self, path: Path, lock: BaseFileLock, clock: Clock) -> None:
        self.path = path
        self.database = SqliteDatabase(str(path), pragmas=PRAGMAS)
        self.database.register_function(str.casefold, "folded", 1)
        self._lock = lock
        self._clock = clock
        self._listeners: list[Callable[[Changed], None]] = []
        #: Counts up whenever anything may read differently; what is remembered of a reading is good for one revision.
        self.revision = 0
        #: The vial order last worked out by `queries.vials`, with what it was worked out for.
        self.remembered: tuple[object, array[int]] | None = None
        try:
            self.name = self._meta("name") or path.stem
            self.tag = self._meta("tag")
            day = self._meta("lives_on")
            #: The one day on which a demo bank lives, so that its figures stay as described; None for a keeper's own.
            self.lives_on = date.fromisoformat(day) if day else None
            self.settings = self._read_settings()
        except BaseException:
            self.database.close()
            raise

    def today(self) -> date:
        """Return the day by the bank's clock."""
        return self.lives_on or self._clock().date()

    def now(self) -> datetime:
        """Return the moment by the bank's clock."""
        moment = self._clock()
        return datetime.combine(self.lives_on or moment.date(), moment.time())

    def fix_day(self, day: date) -> None:
        """From its next opening on, let this bank live on one day for ever; for a demo."""
        Meta.insert(key="lives_on", value=day.isoformat()).on_conflict_replace().execute(self.database)

    def subscribe(self, listener: Callable[[Changed], None]) -> None:
        """Call `listener` after every deed, in the order of subscribing, with what it changed."""
        self._listeners.append(listener)

    @contextmanager
    def change(self, title: str, *, kind: str = "do", of: int | None = None) -> Iterator[Change]:
        """Open a deed: everything written inside is kept together, or none of it when anything fails.

        Args:
            title: what is done, as the history and the undo menu say it.
            kind: `do`, or `undo` and `redo` with `of` as the event they are about.
            of: see `kind`.

        Raises:
            Refusal: the file itself said no (a full disk, less than nothing in a vial, a slot taken).
        """
        try:
            with self.database.atomic("IMMEDIATE"):
                at = self.now().isoformat(timespec="seconds")
                event_id = new_event(self.database, at, self.settings.keeper, title, kind, of)
                tx = Change(self.database, self.tag, event_id, title)
                yield tx
        except refusals.FAILURES as error:
            refusal = refusals.of_deed(error)
            if refusal is None:
                raise
            raise refusal from error
        self.revision += 1
        changed = tx.changed()
        if "setting" in changed.ids:
            self.settings = self._read_settings()
        for listener in self._listeners:
            with suppress(Refusal), refusals.in_words():  # the deed is done; what follows from it can follow later
                listener(changed)

    def run(self, work: Callable[[Bank], T]) -> T:
        """Return what some reading or deed with this bank gives.

        Raises:
            Refusal: the file itself said no (a full disk, a file that was damaged meanwhile).
        """
        with refusals.in_words():
            return work(self)

    def close(self) -> None:
        """Close the file and let others open it."""
        self.database.close()
        self._lock.release()

    def _meta(self, key: str) -> str:
        rows = Meta.select(Meta.value).where(Meta.key == key).tuples().execute(self.database)
        return str(next(iter(rows), ("",))[0])

    def _read_settings(self) -> Settings:
        rows = Setting.select(Setting.value).tuples().execute(self.database)
        return core_settings.from_values(dict(json.loads(next(iter(rows), ("",))[0])))
