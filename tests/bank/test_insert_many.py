import pytest

from sporebank.bank import queries, tables
from sporebank.core.records import Contact
from sporebank.jobs import undo
from sporebank.jobs.sharing import save_contact


def test_many_rows_are_written_and_taken_back_as_one_is(bank):
    save_contact(bank, Contact(0, "Ida Falk"))
    names = [f"Person {number:04d}" for number in range(1203)]
    heard = []
    bank.subscribe(heard.append)
    with bank.change("Many") as tx:
        ids = tx.insert_many(tables.Contact, [{"name": name, "country": "NL"} for name in names])
        one = tx.insert(tables.Contact, name="Jon Brandt")
    assert one == ids[-1] + 1
    assert [queries.contact(bank, row).name for row in ids[:2]] == names[:2]
    assert queries.contact(bank, ids[-1]) == Contact(ids[-1], names[-1], country="NL")
    assert heard[0].ids["contact"] == frozenset([*ids, one])
    undo.undo(bank)
    assert [contact.name for contact in queries.contacts(bank)] == ["Ida Falk"]
    undo.redo(bank)
    assert len(queries.contacts(bank)) == 1205


def test_no_rows_are_nothing(bank):
    with bank.change("Nothing") as tx:
        assert tx.insert_many(tables.Contact, []) == []


def test_many_rows_are_written_whole_or_not_at_all(bank):
    def write(tx):
        tx.insert_many(tables.Contact, [{"name": "Ida Falk"}])
        tx.insert_many(tables.Contact, [{"name": "Jon Brandt"}, {"name": None}])

    with pytest.raises(Exception, match="records would no longer agree"), bank.change("Half") as tx:
        write(tx)
    assert queries.contacts(bank) == []
