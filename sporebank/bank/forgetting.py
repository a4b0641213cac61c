"""Forgetting a person: what is personal goes out of every table and out of the history, the trail of spore stays.

This is the one place where lines that are only appended to are written over, with their triggers lifted for the moment.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from contextlib import contextmanager

from peewee import SqliteDatabase, TextField

from sporebank.bank.bank import Bank
from sporebank.bank.change import kind_of
from sporebank.bank.sql import one, rows
from sporebank.bank.tables import ALL, Contact, Entry, Event, Figure, Meta, Permit, Setting, Taxon
from sporebank.bank.undo import FINAL

_PERSONAL = ("organisation", "address", "country", "email", "note")
_NOT_WORDS = {"code", "kind", "state", "path", "path_key", "sort_key"}
_LEFT_ALONE = (Contact, Permit, Entry, Event, Meta, Setting, Taxon, Figure)
_Pattern = re.Pattern[str]


def forgotten_name(contact_id: int) -> str:
    """Return what somebody is called who was forgotten."""
    return f"Forgotten person {contact_id}"


def forget(bank: Bank, contact_id: int) -> str:
    """Take what is personal of somebody out of the bank file for ever and return what they are called now.

    Their name and e-mail address go out of every text of the bank, also out of what deeds wrote and are called; taking
    earlier deeds back does not bring them back. Codes, days, amounts and the code as a donor stay.
    """
    name, email = rows(bank, "SELECT name, email FROM contact WHERE id = ?", contact_id)[0]
    new = forgotten_name(contact_id)
    database = bank.database
    database.execute_sql("PRAGMA secure_delete = ON")  # else what is written over can still be read in the file
    with bank.change(f"Forget a person, from now on {new}") as tx, _lifted(database):
        _blank_contact(bank, contact_id, new)
        for word in filter(None, (name, email)):
            _replace_everywhere(bank, str(word), new)
        tx.note_final(FINAL, contact_id, "contact", "request", "permit", "clone", "batch", "event")
    database.execute_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    return new


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
    """Empty the contact and its papers, as they are and as every deed wrote them."""
    blank = ", ".join(f"{column} = ''" for column in _PERSONAL)
    bank.database.execute_sql(
        f"UPDATE contact SET name = ?, {blank}, forgotten_on = ? WHERE id = ?",
        (new, bank.today().isoformat(), contact_id),
    )
    _blank_entries(bank, "contact", contact_id, {"name": new, **dict.fromkeys(_PERSONAL, "")})
    papers = {"number": "", "note": ""}
    for (permit_id,) in rows(bank, "SELECT id FROM permit WHERE contact_id = ?", contact_id):
        bank.database.execute_sql("UPDATE permit SET number = '', note = '', void = 1 WHERE id = ?", (permit_id,))
        _blank_entries(bank, "permit", permit_id, papers)


def _blank_entries(bank: Bank, kind: str, row_id: int, blank: dict[str, str]) -> None:
    """Write over what deeds noted of a row, before and after."""
    for entry_id, *texts in rows(
        bank, "SELECT id, before, after FROM entry WHERE kind = ? AND row_id = ?", kind, row_id
    ):
        bank.database.execute_sql(
            "UPDATE entry SET before = ?, after = ? WHERE id = ?",
            (*(_blanked(text, blank) for text in texts), entry_id),
        )


def _blanked(text: str | None, blank: dict[str, str]) -> str | None:
    if text is None:
        return None
    values = json.loads(text)
    return json.dumps(values | {name: value for name, value in blank.items() if name in values})


def _replace_everywhere(bank: Bank, word: str, new: str) -> None:
    """Replace a name wherever a text holds it as words of its own."""
    flags = re.IGNORECASE if " " in word or "@" in word else re.NOFLAG  # a single word may be a common one
    pattern = re.compile(rf"(?<!\w){re.escape(word)}(?!\w)", flags)
    for table in ALL:
        if table not in _LEFT_ALONE:
            words = [one.name for one in table._meta.sorted_fields if isinstance(one, TextField)]
            _replace(bank, kind_of(table), [name for name in words if name not in _NOT_WORDS], word, pattern, new)
    _replace(bank, "event", ["title"], word, pattern, new)
    _replace_noted(bank, word, pattern, new)


def _replace(bank: Bank, table: str, columns: list[str], word: str, pattern: _Pattern, new: str) -> None:
    for column in columns:
        sql = f"""SELECT id, "{column}" FROM "{table}" WHERE instr(folded(COALESCE("{column}", '')), ?)"""
        for row_id, text in rows(bank, sql, word.casefold()):
            bank.database.execute_sql(
                f'UPDATE "{table}" SET "{column}" = ? WHERE id = ?', (pattern.sub(new, text), row_id)
            )


def _replace_noted(bank: Bank, word: str, pattern: _Pattern, new: str) -> None:
    """Replace a name in what deeds noted of rows; there it is written as JSON writes it."""
    written = json.dumps(word)[1:-1].casefold()
    sql = """SELECT id, before, after FROM entry
        WHERE instr(folded(COALESCE(before, '')), ?1) OR instr(folded(COALESCE(after, '')), ?1)"""
    for entry_id, *texts in rows(bank, sql, written):
        replaced = (_replaced(text, pattern, new) for text in texts)
        bank.database.execute_sql("UPDATE entry SET before = ?, after = ? WHERE id = ?", (*replaced, entry_id))


def _replaced(text: str | None, pattern: _Pattern, new: str) -> str | None:
    if text is None:
        return None
    values = json.loads(text)
    return json.dumps({name: pattern.sub(new, one) if isinstance(one, str) else one for name, one in values.items()})


def waits(bank: Bank, contact_id: int) -> bool:
    """Return whether somebody has a request that is neither sent nor closed."""
    sql = "SELECT 1 FROM request WHERE contact_id = ? AND void = 0 AND state IN ('open', 'filled')"
    return one(bank, sql, contact_id) is not None
