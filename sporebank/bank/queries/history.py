"""Who did what when."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.sql import any_holds, rows
from sporebank.core.records import Event

_COLUMNS = """event.id, event.at, event.by, event.title, event.kind,
    (WITH RECURSIVE chain (id, kind) AS (SELECT event.id, event.kind UNION ALL
        SELECT later.id, later.kind FROM event AS later JOIN chain ON later.of_event = chain.id)
     SELECT kind FROM chain ORDER BY id DESC LIMIT 1)"""
_WORDS = {"undo": "Undone: ", "redo": "Done again: "}


def _event(row: tuple[Any, ...]) -> Event:
    at = datetime.fromisoformat(row[1])
    return Event(row[0], at, row[2], _WORDS.get(row[4], "") + row[3], row[5] == "undo")


def events(bank: Bank, text: str = "", offset: int = 0, limit: int = 200) -> list[Event]:
    """Return one page of deeds whose title or keeper holds a text, the newest first."""
    test, values = any_holds(("title", text), ("by", text))
    sql = f"SELECT {_COLUMNS} FROM event WHERE {test} ORDER BY event.id DESC LIMIT ? OFFSET ?"
    return [_event(row) for row in rows(bank, sql, *values, limit, offset)]


def events_of_vial(bank: Bank, vial_id: int, limit: int = 50) -> list[Event]:
    """Return the deeds that touched a vial or its batch, the newest first."""
    sql = f"""SELECT {_COLUMNS} FROM event WHERE event.id IN (
            SELECT event_id FROM movement WHERE vial_id = ?1
            UNION SELECT event_id FROM stay WHERE vial_id = ?1
            UNION SELECT event_id FROM entry WHERE kind = 'vial' AND row_id = ?1
            UNION SELECT event_id FROM entry JOIN mishap ON mishap.id = entry.row_id
                WHERE entry.kind = 'mishap' AND mishap.vial_id = ?1
            UNION SELECT event_id FROM entry JOIN test ON test.id = entry.row_id
                WHERE entry.kind = 'test' AND test.batch_id = (SELECT batch_id FROM vial WHERE id = ?1))
        ORDER BY event.id DESC LIMIT ?2"""
    return [_event(row) for row in rows(bank, sql, vial_id, limit)]
