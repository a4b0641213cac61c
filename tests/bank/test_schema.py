"""What the file itself promises, whatever writes it."""

import peewee
import pytest

from sporebank.bank import tables
from sporebank.bank.sql import rows
from tests.builders import fridge, stored


def test_the_tables_of_peewee_are_those_of_the_file(bank):
    for table in tables.ALL:
        meta = table._meta
        columns = {row[1]: bool(row[3]) or bool(row[5]) for row in rows(bank, f"PRAGMA table_info({meta.table_name})")}
        assert columns == {name: not field.null for name, field in meta.fields.items()}, meta.table_name
    named = {row[0] for row in rows(bank, "SELECT name FROM sqlite_master WHERE type = 'table'")}
    assert named - {"sqlite_sequence"} == {table._meta.table_name for table in tables.ALL}


@pytest.mark.parametrize("table", ["movement", "stay", "event", "entry"])
def test_the_record_is_only_appended_to(bank, table):
    fridge(bank)
    stored(bank)
    for sql in (f"UPDATE {table} SET id = id", f"DELETE FROM {table}"):
        with pytest.raises(peewee.IntegrityError, match="only appended"):
            bank.database.execute_sql(sql)


def test_nothing_physical_disappears_while_something_points_at_it(bank):
    fridge(bank)
    stored(bank)
    for table in ("batch", "clone", "taxon", "place", "vial"):
        with pytest.raises(peewee.IntegrityError):
            bank.database.execute_sql(f"DELETE FROM {table}")


def test_a_slot_holds_one_vial(bank):
    fridge(bank)
    stored(bank)
    with pytest.raises(peewee.IntegrityError, match="vial.place_id"):
        bank.database.execute_sql("UPDATE vial SET slot = 0")


def test_a_vial_never_holds_less_than_nothing(bank):
    fridge(bank)
    stored(bank)
    with pytest.raises(peewee.IntegrityError, match="left >= 0"):
        bank.database.execute_sql(
            """INSERT INTO movement (event_id, vial_id, on_day, micrograms, reason, basis)
               VALUES (1, 1, '2026-01-01', -10001, 'loss', 'weighed')"""
        )
