"""The demo bank is as large as told, sound, and the same whenever it is built."""

import shutil
import sqlite3
from array import array
from contextlib import closing

import pytest

from demo import scene
from demo.ship import SHIPPED
from demo.story import build
from sporebank.bank import queries
from sporebank.bank.opening import open_bank
from sporebank.core import names
from sporebank.core.exchange import Shape
from sporebank.core.looks import LookKind
from sporebank.core.records import RequestState, State, VialFilter
from sporebank.jobs import culling, figures, sharing_round
from sporebank.jobs.today import agenda
from tests.builders import sound


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    """The demo bank, told anew."""
    made = tmp_path_factory.mktemp("demo") / "demo.sporebank"
    build(made)
    return made


@pytest.fixture
def demo(path, tmp_path):
    shutil.copy(path, tmp_path / "demo.sporebank")
    bank = open_bank(tmp_path / "demo.sporebank")
    yield bank
    bank.close()


def count(bank, table):
    return bank.database.execute_sql(f"SELECT COUNT(*) FROM {table} WHERE void = 0").fetchone()[0]


def test_the_demo_is_as_large_as_told(demo):
    # The numbers of the plan: 60 taxa, about 140 clones, 300 batches, 1,100 vials, 12 contacts, 45 requests; with the
    # exchange come 3 batches given, 47 people, 45 orders of a round and 5 of a list open all year.
    exact = {table: count(demo, table) for table in ("taxon", "batch", "contact", "request")}
    assert exact == {"taxon": 60, "batch": 300 + 3, "contact": 12 + 47, "request": 45 + 45 + 5}
    assert 130 <= count(demo, "clone") <= 150
    assert 1_000 <= count(demo, "vial") <= 1_250
    days = demo.database.execute_sql("SELECT MIN(sown_on), MAX(counted_on), COUNT(*) FROM test").fetchone()
    assert (days[0][:4], days[1][:4]) <= ("2017", "2026")
    assert days[2] > 150


def test_the_demo_is_sound_and_its_figures_fresh_on_its_one_day(demo):
    sound(demo)
    assert demo.today() == scene.TODAY
    assert not figures.stale(demo)


def test_the_demo_has_something_of_everything_to_show(demo):
    shown = agenda(demo)
    assert all((shown.green, shown.requests, shown.tests, shown.crossing, shown.to_cull))
    for state in (State.ALIVE, State.FADING, State.SPENT):
        assert queries.vial_counts(demo, VialFilter(state=state)).vials > 50
    assert queries.vial_counts(demo, VialFilter(surplus=True)).vials > 50
    assert {one.advice for one in culling.candidates(demo)} == {"cull", "test first"}
    assert {request.state for request in queries.requests(demo)} >= {RequestState.OPEN, RequestState.FILLED}
    stands = [row.seen for row in queries.sowings(demo) if row.seen is not None]
    seen = {what for stand in stands for what, _ in stand.pots}
    assert seen == set(LookKind) - {LookKind.MOULD}  # whose pots are lost by then
    assert demo.database.execute_sql("SELECT COUNT(*) FROM vial WHERE culled_on IS NOT NULL").fetchone()[0] > 10


def test_the_demo_has_a_round_to_share_out_and_a_list_that_serves(demo):
    shapes = {one.shape: one for one in queries.exchanges(demo)}
    assert set(shapes) == set(Shape)
    found = shapes[Shape.ROUND]
    assert len(queries.placed(demo, found.id)) == 45
    assert len(queries.donations(demo, found.id)) == 3
    gathered = sharing_round.gather(demo, found.id)
    shared = sharing_round.work_out(gathered, lambda *_: None, lambda: False)
    assert shared.unmet
    assert shared.outcome.first > 150
    waiting = [line for line in queries.order_lines(demo, shapes[Shape.STANDING].id) if line.allotted is None]
    assert waiting


def test_every_name_of_the_demo_is_one_the_program_writes_itself(demo):
    assert {names.text(taxon.name) for taxon in queries.taxa(demo)} == {
        names.text(names.parse(one[0])) for one in scene.TAXA
    }
    assert all(taxon.family for taxon in queries.taxa(demo))


def content(path):
    """Everything in a bank file, table by table, numbers as far as they are told the same by every machine."""
    with closing(sqlite3.connect(path)) as connection:
        schema = sorted(connection.execute("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL"))
        tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        rows = {
            table: sorted(map(repr, map(_rounded, connection.execute(f"SELECT * FROM {table}")))) for table in tables
        }
    return schema, rows


def _rounded(row):
    return tuple(_told(value) for value in row)


def _told(value):
    """A number to four places; of the packed numbers of a figure's course each."""
    if isinstance(value, bytes):
        return tuple(round(number, 4) for number in array("f", value))
    return round(value, 4) if isinstance(value, float) else value


def test_the_demo_that_travels_with_the_program_is_the_one_told_here(path):
    schema, rows = content(path)
    shipped_schema, shipped_rows = content(SHIPPED)
    assert schema == shipped_schema, "Run python -m demo.ship."
    for table, kept in rows.items():
        assert kept == shipped_rows[table], f"{table} differs; run python -m demo.ship."
