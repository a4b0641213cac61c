"""Forgetting a person: what is personal goes out of every table and out of the history, the trail of spore stays.

This is the one place where lines that are only appended to are written over, with their triggers lifted for the moment.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from peewee import SqliteDatabase

from sporebank.bank.bank import Bank
from sporebank.bank.paths import KEY_SEPARATOR, SEPARATOR
from sporebank.bank.sql import one, rows
from sporebank.bank.undo import FINAL
from sporebank.core.sorting import natural

#: The columns that hold what people wrote, by table. Everything else is left alone, so that words of the program, codes
#: and names of ferns stay as they are.
FREE_TEXT: dict[str, tuple[str, ...]] = {
    "event": ("title", "by"),
    "clone": ("origin", "acquired_from", "permit_note", "received_as", "note"),
    "batch": ("amount_said", "note"),
    "place": ("name", "path"),
    "vial": ("note", "cull_reason"),
    "movement": ("note",),
    "mishap": ("note",),
    "test": ("medium", "light", "note", "left_out"),
    "sowing": ("room", "note"),
    "request": ("note",),
    "line": ("unmet",),
    "parcel": ("gap",),
    "look": ("note",),
    "exchange": ("note",),
    "offering": ("note",),
    "donation": ("received_as", "note"),
    "permit": ("number", "note"),
    "heed": ("note",),
    "credit": ("note",),
    "outcome": ("note",),
    "complaint": ("note", "settled"),
    "receipt": ("bank",),
}

_PERSONAL = ("organisation", "address", "email", "note")
_SHORTEST = 4
"""Letters that a name of one word has at least to be looked for elsewhere."""


def forgotten_name(contact_id: int) -> str:
    """Return what somebody is called who was forgotten."""
    return f"Forgotten person {contact_id}"


def forget(bank: Bank, contact_id: int) -> bool:
    """Take what is personal of somebody out of the bank file for ever and return whether nobody can read it there now.

    Every name and e-mail address they ever had goes out of what people wrote, also out of what deeds wrote and are
    called; taking earlier deeds back does not bring them back. Codes, days, amounts, the country and the
    code as a donor stay. While another program reads the file, what was there before can be read beside it.
    """
    new = forgotten_name(contact_id)
    database = bank.database
    database.execute_sql("PRAGMA secure_delete = ON")  # else what is written over can still be read in the file
    with bank.change(f"Forget a person, from now on {new}") as tx, _lifted(database):
        called = _called(bank, contact_id)  # before it is blanked
        _blank_contact(bank, contact_id, new)
        pattern = _pattern(called)
        if pattern is not None:
            _replace_everywhere(bank, lambda text: _replaced(text, pattern, new))
        tx.note_final(FINAL, contact_id, "contact", "event", "heed", "place", "request", "permit", "clone", "batch")
    busy, *_ = database.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    return not busy


@contextmanager
def _lifted(database: SqliteDatabase) -> Iterator[None]:
    """Lift the triggers that keep lines as they were written, and put them back within the same deed."""
    sql = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE '%!_stays!_as!_written' ESCAPE '!'"
    triggers = database.execute_sql(sql).fetchall()
    for name, _ in triggers:
        database.execute_sql(f'DROP TRIGGER "{name}"')
    yield
    for _, statement in triggers:
        database.execute_sql(statement)


def _blank_contact(bank: Bank, contact_id: int, new: str) -> None:
    """Empty the contact, its papers and the answers to cautions of its parcels, also as every deed wrote them."""
    blank = dict.fromkeys(_PERSONAL, "")
    _blank(bank, "contact", [(contact_id,)], {"name": new, **blank})
    today = bank.today().isoformat()
    bank.database.execute_sql("UPDATE contact SET forgotten_on = ? WHERE id = ?", (today, contact_id))
    papers = rows(bank, "SELECT id FROM permit WHERE contact_id = ?", contact_id)
    _blank(bank, "permit", papers, {"number": "", "note": ""})
    answers = rows(
        bank,
        """SELECT heed.id FROM heed JOIN parcel ON parcel.id = heed.parcel_id
           JOIN request ON request.id = parcel.request_id WHERE request.contact_id = ?""",
        contact_id,
    )
    _blank(bank, "heed", answers, {"note": ""})


def _blank(bank: Bank, kind: str, ids: Iterable[tuple[int]], blank: dict[str, str]) -> None:
    for (row_id,) in ids:
        _set(bank, kind, row_id, blank)
        _blank_entries(bank, kind, row_id, blank)


def _set(bank: Bank, table: str, row_id: int, values: Mapping[str, str | None]) -> None:
    """Write over columns of a row; no deed notes it."""
    marks = ", ".join(f'"{name}" = ?' for name in values)
    bank.database.execute_sql(f'UPDATE "{table}" SET {marks} WHERE id = ?', (*values.values(), row_id))


def _blank_entries(bank: Bank, kind: str, row_id: int, blank: dict[str, str]) -> None:
    """Write over what deeds noted of a row, before and after."""
    for entry_id, *texts in rows(
        bank, "SELECT id, before, after FROM entry WHERE kind = ? AND row_id = ?", kind, row_id
    ):
        before, after = (_blanked(text, blank) for text in texts)
        _set(bank, "entry", entry_id, {"before": before, "after": after})


def _blanked(text: str | None, blank: dict[str, str]) -> str | None:
    if text is None:
        return None
    values = json.loads(text)
    return json.dumps(values | {name: value for name, value in blank.items() if name in values})


def _called(bank: Bank, contact_id: int) -> set[str]:
    """Return every name and e-mail address that somebody has or ever had."""
    found = {str(text) for text in rows(bank, "SELECT name, email FROM contact WHERE id = ?", contact_id)[0]}
    for texts in rows(bank, "SELECT before, after FROM entry WHERE kind = 'contact' AND row_id = ?", contact_id):
        for values in (json.loads(text) for text in texts if text is not None):
            found.update(str(values[name]) for name in ("name", "email") if name in values)
    return found


def _pattern(called: Iterable[str]) -> re.Pattern[str] | None:
    """Return what finds these names as words of their own, or None where all are too short to be looked for."""
    names = {tuple(_composed(name).split()) for name in called}
    wanted = [words for words in names if len(words) > 1 or len("".join(words)) >= _SHORTEST]
    if not wanted:
        return None
    found = sorted((r"\s+".join(map(re.escape, words)) for words in wanted), key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(found)})(?!\w)", re.IGNORECASE)


def _composed(text: str) -> str:
    return unicodedata.normalize("NFC", text)


def _replaced(text: str, pattern: re.Pattern[str], new: str) -> str:
    """Return a text without these names; one that holds none of them is returned as it is."""
    replaced, count = pattern.subn(new, _composed(text))
    return replaced if count else text


def _replace_everywhere(bank: Bank, replace: Callable[[str], str]) -> None:
    """Replace in the rows and in what deeds noted of them alike, else those deeds could not be taken back any more."""
    for table, columns in FREE_TEXT.items():
        listed = ", ".join(f'"{column}"' for column in columns)
        for row_id, *texts in rows(bank, f'SELECT id, {listed} FROM "{table}"'):
            changed = _changed(table, dict(zip(columns, texts, strict=True)), replace)
            if changed:
                _set(bank, table, row_id, changed)
        for entry_id, *noted in rows(bank, "SELECT id, before, after FROM entry WHERE kind = ?", table):
            before, after = (_changed_note(table, text, replace) for text in noted)
            if [before, after] != noted:
                _set(bank, "entry", entry_id, {"before": before, "after": after})


def _changed_note(table: str, text: str | None, replace: Callable[[str], str]) -> str | None:
    if text is None:
        return None
    values = json.loads(text)
    changed = _changed(table, values, replace)
    return json.dumps(values | changed) if changed else text


def _changed(table: str, values: Mapping[str, Any], replace: Callable[[str], str]) -> dict[str, str]:
    """Return the columns of a row that read otherwise now; the key by which a place is sorted follows its path."""
    texts = {name: values[name] for name in FREE_TEXT[table] if isinstance(values.get(name), str)}
    changed = {name: now for name, text in texts.items() if (now := replace(text)) != text}
    if "path" in changed:
        changed["path_key"] = KEY_SEPARATOR.join(natural(step) for step in changed["path"].split(SEPARATOR))
    return changed


def waits(bank: Bank, contact_id: int) -> bool:
    """Return whether somebody has a request that is neither sent nor closed."""
    sql = "SELECT 1 FROM request WHERE contact_id = ? AND void = 0 AND state IN ('open', 'filled')"
    return one(bank, sql, contact_id) is not None
