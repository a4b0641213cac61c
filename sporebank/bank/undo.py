"""Taking deeds back and doing them again, from the record each deed left."""

from __future__ import annotations

import json
from typing import Any

from peewee import Model

from sporebank.bank.bank import Bank
from sporebank.bank.change import Change, kind_of
from sporebank.bank.tables import ALL, Entry, Event, Movement, Stay
from sporebank.core.errors import Refusal

#: How many of the last deeds are looked through for something to undo.
REACH = 200

_TABLES: dict[str, type[Model]] = {kind_of(table): table for table in ALL}
_APPENDED = {kind_of(Movement): Movement, kind_of(Stay): Stay}


def stacks(bank: Bank) -> tuple[list[tuple[int, str]], list[tuple[int, str]]]:
    """Return `(undoable, redoable)`, each a list of `(event, title of the deed)` with the next one last."""
    columns = (Event.id, Event.title, Event.kind)
    rows = list(Event.select(*columns).order_by(Event.id.desc()).limit(REACH).tuples().execute(bank.database))
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


def _reverse(bank: Bank, event_id: int, title: str, *, kind: str) -> str:
    columns = (Entry.kind, Entry.row_id, Entry.before, Entry.after)
    where = Entry.event_id == event_id
    rows = list(Entry.select(*columns).where(where).order_by(Entry.id.desc()).tuples().execute(bank.database))
    with bank.change(title, kind=kind, of=event_id) as tx:
        for what, row_id, before, after in rows:
            if what in _APPENDED:
                _take_back_line(bank, tx, _APPENDED[what], row_id)
            elif before is None:
                tx.update(_TABLES[what], row_id, void=1)
            else:
                _put_back(bank, tx, _TABLES[what], row_id, json.loads(before), json.loads(after))
    return title


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


def _put_back(
    bank: Bank, tx: Change, table: type[Model], row_id: int, before: dict[str, Any], after: dict[str, Any]
) -> None:
    now = _row(bank, table, row_id)
    if any(now[name] != value for name, value in after.items()):
        raise Refusal("This cannot be undone: something it wrote has been changed since. Nothing was changed.")
    tx.update(table, row_id, **before)
