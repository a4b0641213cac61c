"""Every bank file ever released can still be worked with, not only opened."""

import shutil
from pathlib import Path

import pytest

from sporebank.bank import queries
from sporebank.bank.opening import open_bank
from sporebank.bank.sql import one
from sporebank.core.records import Reason, VialFilter
from sporebank.jobs import cards, figures, papers, today, undo, vials
from tests.builders import TODAY, Clock, sound

OLD = sorted(Path(__file__).parent.glob("*.sporebank"))

#: Tables that a bank file of any schema has something in.
FURNISHED = (
    "event", "entry", "taxon", "contact", "clone", "batch", "place", "vial", "movement", "stay", "test", "replicate",
    "sowing", "pot", "request", "line", "parcel", "packet", "figure", "setting",
)  # fmt: skip


@pytest.fixture(params=OLD, ids=lambda path: path.stem)
def old(request, tmp_path):
    shutil.copy(request.param, tmp_path / request.param.name)
    bank = open_bank(tmp_path / request.param.name, Clock())
    figures.keep_fresh(bank)
    yield bank
    sound(bank)
    bank.close()


#: And those that came with a later schema.
SINCE = {
    3: (
        "look", "exchange", "offering", "part", "giving", "donation", "pin", "permit", "heed", "credit", "outcome",
        "complaint",
    ),
    4: ("outlook",),
}  # fmt: skip


def test_it_holds_one_of_everything(old):
    schema = int(old.path.stem.split("_")[1])
    later = [table for number, tables in SINCE.items() if number <= schema for table in tables]
    for table in (*FURNISHED, *later):
        assert one(old, f"SELECT COUNT(*) > 0 FROM {table}") == (1,), table
    assert one(old, "SELECT COUNT(DISTINCT kind) FROM event") == (3,)
    assert one(old, "SELECT COUNT(*) > 0 FROM vial WHERE culled_on IS NOT NULL") == (1,)
    assert old.settings.keeper


def test_it_is_read_and_worked_on(old):
    figures.refresh_all(old)
    for row in queries.vials(old, VialFilter(), "taxon", False, 0, 100):
        assert cards.vial_card(old, row.id).row == row
    assert today.agenda(old).requests
    sent = [request for request in queries.requests(old) if request.dispatched_on]
    assert papers.manifest(old, sent[0].id, TODAY).items
    row = next(row for row in queries.vials(old, VialFilter(), "code", False, 0, 100) if row.left > 8_000)
    vials.take(old, vials.TakeForm(row.id, 100, Reason.LOSS, TODAY))
    assert queries.vial_row(old, row.id).left == row.left - 100


def test_its_last_deeds_are_taken_back(old):
    while undo.next_steps(old).undo:
        undo.undo(old)
        sound(old)
    assert queries.vial_ids(old, VialFilter(), "code", False) == []
