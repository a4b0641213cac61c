"""One deed: everything it writes, or nothing, and the record of it."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from peewee import Model, SqliteDatabase

from sporebank.bank.tables import Event, Movement, Stay
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.records import Changed

_TAKEN_BACK = "What this is about has been taken back meanwhile. Nothing was changed; do it again first."
_NOTE = "INSERT INTO entry (event_id, kind, row_id, before, after) VALUES (?, ?, ?, ?, ?)"
#: Rows that are read or written by one query; SQLite takes some thousand values.
AT_ONCE = 500


class Change:
    """The writing side of a bank during one deed; made by `Bank.change` alone.

    Every row written is noted, so that the deed can be taken back and every page knows what to show anew.
    """

    def __init__(self, database: SqliteDatabase, tag: str, event_id: int, title: str) -> None:
        self._database = database
        self._tag = tag
        self._touched: defaultdict[str, set[int]] = defaultdict(set)
        self.event_id = event_id
        self.title = title

    def new_code(self, kind: str) -> str:
        """Return the next code of a kind; a code once given out is never given out again."""
        found = self._database.execute_sql("SELECT last FROM serial WHERE kind = ?", (kind,)).fetchone()
        serial = (0 if found is None else found[0]) + 1
        while not codes.steady(code := codes.make(kind, self._tag, serial)):
            serial += 1
        self._database.execute_sql("INSERT OR REPLACE INTO serial (kind, last) VALUES (?, ?)", (kind, serial))
        return code

    def insert(self, table: type[Model], **values: Any) -> int:  # noqa: ANN401 - a column's value
        """Write a new row and return its id."""
        row_id = self._write(kind_of(table), values)
        self._note(table, row_id, None, values)
        return row_id

    def insert_many(self, table: type[Model], rows: Sequence[Mapping[str, Any]]) -> list[int]:
        """Write new rows, the same columns of each, as `insert` does for one, and return their ids in this order."""
        if not rows:
            return []
        kind, columns = kind_of(table), tuple(rows[0])
        ((last,),) = self._database.execute_sql(f'SELECT COALESCE(MAX(id), 0) FROM "{kind}"')
        ids = list(range(last + 1, last + 1 + len(rows)))
        both = list(zip(ids, rows, strict=True))
        self._write_all(kind, ("id", *columns), [(row_id, *(row[one] for one in columns)) for row_id, row in both])
        noted = [(self.event_id, kind, row_id, json.dumps(row)) for row_id, row in both]
        self._write_all("entry", ("event_id", "kind", "row_id", "after"), noted)
        self._touched[kind].update(ids)
        return ids

    def _write(self, table: str, values: Mapping[str, Any]) -> int:
        """Write a row and return its id; what is not among the values is as the file has it by default."""
        names, marks = ", ".join(f'"{one}"' for one in values), ", ".join("?" * len(values))
        sql = f'INSERT INTO "{table}" ({names}) VALUES ({marks})'
        return int(self._database.execute_sql(sql, tuple(values.values())).lastrowid)

    def _write_all(self, table: str, columns: Sequence[str], values: Sequence[tuple[Any, ...]]) -> None:
        """Write rows by queries of as many rows as SQLite takes values for."""
        names, marks = ", ".join(f'"{one}"' for one in columns), f"({', '.join('?' * len(columns))})"
        for start in range(0, len(values), AT_ONCE):
            some = values[start : start + AT_ONCE]
            sql = f'INSERT INTO "{table}" ({names}) VALUES {", ".join([marks] * len(some))}'
            self._database.execute_sql(sql, [value for row in some for value in row])

    def update(self, table: type[Model], row_id: int, **values: Any) -> None:  # noqa: ANN401 - a column's value
        """Set columns of a row that may change; nothing is noted when they already are as wished.

        Raises:
            Refusal: the row has been taken back, and this does not bring it back.
        """
        (row,) = self._rows(table, [row_id], tuple(values))
        self._set(table, row, values)

    def _set(self, table: type[Model], row: Mapping[str, Any], values: Mapping[str, Any]) -> None:
        before = {name: row[name] for name in values}
        if before == values:
            return
        if row["void"] and "void" not in values:
            raise Refusal(_TAKEN_BACK)
        marks = ", ".join(f'"{name}" = ?' for name in values)
        self._database.execute_sql(f'UPDATE "{kind_of(table)}" SET {marks} WHERE id = ?', (*values.values(), row["id"]))
        self._note(table, row["id"], before, values)

    def _rows(self, table: type[Model], ids: Sequence[int], columns: Sequence[str]) -> list[dict[str, Any]]:
        """Return columns of rows with their ids, and whether each was taken back; no table without rows of its own."""
        void = "void" if "void" in table._meta.fields else "0"
        wanted = ", ".join(f'"{one}"' for one in columns)
        sql = f'SELECT id, {void}, {wanted} FROM "{kind_of(table)}" WHERE id IN ({", ".join("?" * len(ids))})'
        found = self._database.execute_sql(sql, tuple(ids)).fetchall()
        return [{"id": row[0], "void": row[1], **dict(zip(columns, row[2:], strict=True))} for row in found]

    def update_many(self, table: type[Model], changes: Mapping[int, Mapping[str, Any]]) -> None:
        """Set columns of many rows, the same columns of each, as `update` does for one.

        Raises:
            Refusal: one of the rows has been taken back, and this does not bring it back.
        """
        ids = sorted(changes)
        columns = tuple(next(iter(changes.values()), ()))
        for start in range(0, len(ids), AT_ONCE):
            for row in self._rows(table, ids[start : start + AT_ONCE], columns):
                self._set(table, row, changes[row["id"]])

    def move_spore(self, vial_id: int, **values: Any) -> int:  # noqa: ANN401 - a column's value
        """Add a line to the ledger of a vial."""
        return self._append(Movement, vial_id, values)

    def place(self, vial_id: int, **values: Any) -> int:  # noqa: ANN401 - a column's value
        """Add a stay to the history of a vial."""
        return self._append(Stay, vial_id, values)

    def _append(self, table: type[Model], vial_id: int, values: Mapping[str, Any]) -> int:
        row = {"event_id": self.event_id, "vial_id": vial_id, **values}
        row_id = self._write(kind_of(table), row)
        self._note(table, row_id, None, row)
        self._touched["vial"].add(vial_id)
        return row_id

    def note_final(self, mark: str, row_id: int, *touched: str) -> None:
        """Note that this deed is never taken back: a mark, the row it is about, and the kinds of things touched."""
        self._database.execute_sql(_NOTE, (self.event_id, mark, row_id, None, None))
        for kind in touched:
            self._touched[kind].add(row_id)

    def _note(
        self, table: type[Model], row_id: int, before: Mapping[str, Any] | None, after: Mapping[str, Any]
    ) -> None:
        kind = kind_of(table)
        values = (self.event_id, kind, row_id, None if before is None else json.dumps(before), json.dumps(after))
        self._database.execute_sql(_NOTE, values)
        self._touched[kind].add(row_id)

    def changed(self) -> Changed:
        """Return what has been written so far."""
        return Changed(self.event_id, self.title, {kind: frozenset(ids) for kind, ids in self._touched.items()})


def kind_of(table: type[Model]) -> str:
    """Return the word under which rows of a table go in the record of deeds."""
    return str(table._meta.table_name)


def new_event(database: SqliteDatabase, at: str, by: str, title: str, kind: str, of: int | None) -> int:
    """Write the record of a deed and return its id."""
    values = {"at": at, "by": by, "title": title, "kind": kind, "of_event": of}
    return int(Event.insert(**values).execute(database))
