"""When the file itself says no, the keeper reads a sentence, and nothing has changed."""

import sqlite3
from contextlib import closing

import pytest

from sporebank.bank import queries
from sporebank.bank.tables import Clone, Contact, Taxon, Vial
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
