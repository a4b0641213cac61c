"""When the file itself says no, the keeper reads a sentence, and nothing has changed."""

import sqlite3
from contextlib import closing

import peewee
import pytest

from sporebank.bank import queries
from sporebank.bank.tables import Clone, Contact, Meta, Taxon, Vial
from sporebank.core.errors import Refusal
from tests.builders import fridge, stored


def add_contact(bank, name="Ilse Brandhof"):
    with bank.change("Add contact") as tx:
        tx.insert(Contact, name=name)


def refused(bank, words, work):
    before = queries.events(bank)
    with pytest.raises(Refusal, match=words) as caught:
        work(bank)
    assert "Nothing was changed" in str(caught.value)
    assert queries.events(bank) == before


def test_a_full_disk_is_named(bank):
    pages = bank.database.execute_sql("PRAGMA page_count").fetchone()[0]
    bank.database.execute_sql(f"PRAGMA max_page_count = {pages}")
    refused(bank, "disk is full", lambda bank: add_contact(bank, "x" * 100_000))
    bank.database.execute_sql("PRAGMA max_page_count = 1000000")
    add_contact(bank, "x" * 100_000)


def test_another_program_that_writes_is_named(bank):
    bank.database.execute_sql("PRAGMA busy_timeout = 0")
    with closing(sqlite3.connect(bank.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        refused(bank, "Another program is writing", add_contact)
    add_contact(bank)


def test_a_file_that_may_not_be_written_is_named(bank):
    bank.database.execute_sql("PRAGMA query_only = 1")
    refused(bank, "may not be written to", add_contact)
    bank.database.execute_sql("PRAGMA query_only = 0")
    add_contact(bank)


@pytest.mark.parametrize(
    ("words", "table", "values"),
    [
        (
            "already has this code",
            Clone,
            {"code": "c-01", "sort_key": "", "taxon_id": 1, "source": "", "permission": ""},
        ),
        ("already has this name", Taxon, {"name": "Dryopteris affinis", "sort_key": "", "spore_class": "green"}),
        ("would no longer agree", Vial, {"code": "V", "batch_id": 99, "number": 1}),
    ],
)
def test_rows_that_clash_with_others_are_refused(bank, words, table, values):
    fridge(bank)
    stored(bank)

    def insert(bank):
        with bank.change("Wrong") as tx:
            tx.insert(table, **values)

    refused(bank, words, insert)


def fill_up(bank):
    """Write until the file may not grow any more."""
    (pages,) = bank.database.execute_sql("PRAGMA page_count").fetchone()
    bank.database.execute_sql(f"PRAGMA max_page_count = {pages}")
    Meta.insert(key="ballast", value="x" * 100_000).execute(bank.database)


def test_a_deed_that_is_done_is_not_refused_for_what_should_follow_from_it(bank):
    heard = []
    bank.subscribe(lambda _: fill_up(bank))
    bank.subscribe(heard.append)
    add_contact(bank)
    assert [one.title for one in heard] == [one.title for one in queries.events(bank)] == ["Add contact"]


def test_what_the_file_says_no_to_beside_deeds_is_a_sentence(bank):
    with pytest.raises(Refusal, match=r"^The disk is full\. Make room\.$"):
        bank.run(fill_up)
    bank.database.execute_sql("PRAGMA query_only = 1")
    with pytest.raises(Refusal, match="may not be written to"):
        bank.run(lambda bank: Meta.insert(key="a", value="b").execute(bank.database))


def test_a_file_that_is_damaged_while_it_is_open_is_named(bank):
    stored(bank)
    for pragma in ("cache_size = 1", "wal_checkpoint(TRUNCATE)", "shrink_memory"):
        bank.database.execute_sql(f"PRAGMA {pragma}")
    whole = bank.path.read_bytes()
    with bank.path.open("r+b") as file:
        file.truncate(4096 * 3)
    with pytest.raises(Refusal, match="damaged"):
        bank.run(
            lambda bank: [bank.database.execute_sql(f"SELECT * FROM {one}").fetchall() for one in ("event", "vial")]
        )
    with pytest.raises(Refusal, match=r"damaged\. Nothing was changed\. Open the bank again"):
        add_contact(bank)
    bank.path.write_bytes(whole)
    add_contact(bank)


def test_a_fault_of_the_program_stays_one(bank):
    with pytest.raises(peewee.OperationalError, match="no such column"):
        bank.run(lambda bank: bank.database.execute_sql("SELECT colour FROM vial"))
    with pytest.raises(peewee.OperationalError, match="no such column"), bank.change("Wrong") as tx:
        tx._database.execute_sql("UPDATE vial SET colour = 1")
