"""Taking back deeds that wrote many rows, at once and yet one by one where it matters."""

import pytest

from sporebank.bank import queries, tables
from sporebank.core.errors import Refusal
from sporebank.jobs import undo


def names(bank):
    return [(contact.name, contact.note) for contact in queries.contacts(bank)]


def many(bank, count=1203):
    with bank.change("Many") as tx:
        return tx.insert_many(tables.Contact, [{"name": f"Person {number:04d}"} for number in range(count)])


def test_many_rows_are_taken_back_and_brought_back_again_and_again(bank):
    ids = many(bank)
    with bank.change("Notes") as tx:
        tx.update_many(tables.Contact, {row: {"note": f"note {row}"} for row in ids})
    whole = names(bank)
    assert whole[0][1] == f"note {ids[0]}"
    for _ in range(2):
        undo.undo(bank)
        assert {note for _, note in names(bank)} == {""}
        undo.undo(bank)
        assert names(bank) == []
        undo.redo(bank)
        undo.redo(bank)
        assert names(bank) == whole


def test_a_row_that_a_deed_wrote_more_than_once_goes_back_step_by_step(bank):
    (row,) = many(bank, 1)
    with bank.change("Twice") as tx:
        tx.update(tables.Contact, row, note="one")
        tx.update(tables.Contact, row, note="two")
        tx.update(tables.Contact, row, name="Ida Falk", note="three")
        tx.update(tables.Contact, row, void=1)
    undo.undo(bank)
    assert names(bank) == [("Person 0000", "")]
    undo.redo(bank)
    assert names(bank) == []
    undo.undo(bank)
    assert names(bank) == [("Person 0000", "")]


def test_one_row_that_was_changed_since_keeps_all_of_a_deed_as_it_is(bank):
    ids = many(bank, 700)
    with bank.change("Notes") as tx:
        tx.update_many(tables.Contact, {row: {"note": "noted"} for row in ids})
    bank.database.execute_sql("UPDATE contact SET note = 'other' WHERE id = ?", (ids[650],))
    with pytest.raises(Refusal, match="changed since"):
        undo.undo(bank)
    assert {note for _, note in names(bank)} == {"noted", "other"}
