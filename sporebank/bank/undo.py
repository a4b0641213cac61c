"""Taking deeds back and doing them again, from the record each deed left."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from peewee import Model

from sporebank.bank.bank import Bank
from sporebank.bank.change import AT_ONCE, Change, kind_of
from sporebank.bank.tables import ALL, Entry, Event, Movement, Stay
from sporebank.core.errors import Refusal

#: How many of the last deeds are looked through for something to undo.
REACH = 200

#: The record of a deed that is never taken back, such as forgetting a person.
FINAL = "final"

_TABLES: dict[str, type[Model]] = {kind_of(table): table for table in ALL}
_APPENDED = {kind_of(Movement): Movement, kind_of(Stay): Stay}


def stacks(bank: Bank) -> tuple[list[tuple[int, str]], list[tuple[int, str]]]:
    """Return `(undoable, redoable)`, each a list of `(event, title of the deed)` with the next one last."""
    columns = (Event.id, Event.title, Event.kind)
    final = Entry.select(Entry.event_id).where(Entry.kind == FINAL)
    query = Event.select(*columns).where(Event.id.not_in(final)).order_by(Event.id.desc()).limit(REACH)
    rows = list(query.tuples().execute(bank.database))
    undoable: list[tuple[int, str]] = []
    redoable: list[tuple[int, str]] = []
    for event_id, title, kind in reversed(rows):
        if kind == "do":
            undoable.append((event_id, title))
            redoable.clear()
        elif kind == "undo":
            redoable.append((event_id, title))
            if undoable:
                undoable.pop()
        else:
            undoable.append((event_id, title))
            if redoable:
                redoable.pop()
    return undoable, redoable


def undo(bank: Bank) -> str:
    """Take the last deed back and return its title."""
    undoable, _ = stacks(bank)
    if not undoable:
        raise Refusal("There is nothing to undo.")
    return _reverse(bank, *undoable[-1], kind="undo")


def redo(bank: Bank) -> str:
    """Do again what was last taken back and return its title."""
    _, redoable = stacks(bank)
    if not redoable:
        raise Refusal("There is nothing to do again.")
    return _reverse(bank, *redoable[-1], kind="redo")


@dataclass(frozen=True)
class _Written:
    """A row that a deed wrote: the columns it set and what stood there before, nothing for a new row."""

    kind: str
    row_id: int
    before: dict[str, Any] | None
    after: dict[str, Any]

    @property
    def back(self) -> dict[str, Any]:
        """What takes it back."""
        return {"void": 1} if self.before is None else self.before


def _reverse(bank: Bank, event_id: int, title: str, *, kind: str) -> str:
    columns = (Entry.kind, Entry.row_id, Entry.before, Entry.after)
    where = Entry.event_id == event_id
    rows = Entry.select(*columns).where(where).order_by(Entry.id.desc()).tuples().execute(bank.database)
    written = (
        _Written(what, row_id, None if before is None else json.loads(before), json.loads(after))
        for what, row_id, before, after in rows
    )
    with bank.change(title, kind=kind, of=event_id) as tx:
        for run in _runs(written):
            what = run[0].kind
            if what in _APPENDED:
                for one in run:
                    _take_back_line(bank, tx, _APPENDED[what], one.row_id)
            else:
                _put_back(bank, tx, _TABLES[what], run)
    return title


def _runs(written: Iterable[_Written]) -> Iterator[list[_Written]]:
    """Yield what follows each other and can be taken back at once: of one kind and the same columns, each row once."""
    run: list[_Written] = []
    rows: set[int] = set()
    for one in written:
        if run and (one.kind != run[0].kind or one.back.keys() != run[0].back.keys() or one.row_id in rows):
            yield run
            run, rows = [], set()
        run.append(one)
        rows.add(one.row_id)
    if run:
        yield run


def _row(bank: Bank, table: type[Model], row_id: int) -> dict[str, Any]:
    where = table._meta.primary_key == row_id
    found: dict[str, Any] = next(iter(table.select().where(where).dicts().execute(bank.database)))
    return found


def _take_back_line(bank: Bank, tx: Change, table: type[Model], row_id: int) -> None:
    """Append the opposite of an appended line; the opposite of an opposite is the first line once more."""
    row = _row(bank, table, row_id)
    voids = row["voids"] or row_id
    if row["voids"]:
        row, voids = _row(bank, table, row["voids"]), None
    values = {name: row[name] for name in row if name not in ("id", "event_id", "vial_id")} | {"voids": voids}
    if table is Movement:
        if voids:
            values["micrograms"] = -row["micrograms"]
        tx.move_spore(row["vial_id"], **values)
    else:
        tx.place(row["vial_id"], **values)


def _put_back(bank: Bank, tx: Change, table: type[Model], run: list[_Written]) -> None:
    """Take back rows that were written or changed, unless one of them has been changed since."""
    changed = {one.row_id: one.after for one in run if one.before is not None}
    for row in _rows(bank, table, list(changed)):
        if any(row[name] != value for name, value in changed[row["id"]].items()):
            raise Refusal("This cannot be undone: something it wrote has been changed since. Nothing was changed.")
    tx.update_many(table, {one.row_id: one.back for one in run})


def _rows(bank: Bank, table: type[Model], ids: list[int]) -> Iterator[dict[str, Any]]:
    primary: Any = table._meta.primary_key
    for start in range(0, len(ids), AT_ONCE):
        some = primary.in_(ids[start : start + AT_ONCE])
        yield from table.select().where(some).dicts().execute(bank.database)
