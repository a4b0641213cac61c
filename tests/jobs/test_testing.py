"""Germination tests: what is counted is kept, nonsense is refused, and the forecast follows."""

from datetime import date, timedelta

import pytest

from sporebank.bank import queries
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Replicate, State
from sporebank.jobs import cards, undo
from sporebank.jobs.testing import TestForm, check, record_test
from tests.builders import TODAY, clone, counted, fridge, stored

SOWN = date(2026, 1, 10)
COUNTED = date(2026, 2, 2)


@pytest.fixture
def batch(bank):
    fridge(bank)
    return stored(bank)


def form(batch, **more):
    fields = {
        "batch_id": batch.batch_id,
        "vial_id": None,
        "sown_on": SOWN,
        "counted_on": COUNTED,
        "replicates": (Replicate(100, 61), Replicate(100, 58)),
        **more,
    }
    return TestForm(**fields)


def test_a_test_keeps_everything_that_was_counted(bank, batch):
    wanted = form(batch, vial_id=batch.vial_ids[1], medium="agar", temperature=20.0, light="12 h", note="some mould")
    test_id = record_test(bank, wanted)
    ((kept, stays),) = queries.tests_of(bank, [batch.batch_id])[batch.batch_id]
    assert kept.id == test_id
    for name in ("vial_id", "sown_on", "counted_on", "replicates", "medium", "temperature", "light", "note"):
        assert getattr(kept, name) == getattr(wanted, name), name
    assert stays == queries.stays(bank, [batch.vial_ids[1]])[batch.vial_ids[1]]
    assert queries.events(bank)[0].title.endswith("119 of 200 germinated")


def test_tests_are_told_oldest_first_on_the_card_of_every_vial_of_the_batch(bank, batch):
    later = record_test(bank, form(batch))
    earlier = counted(bank, batch.batch_id, 70, on=date(2025, 9, 1))
    for vial_id in batch.vial_ids:
        assert [test.id for test in cards.vial_card(bank, vial_id).tests] == [earlier, later]


@pytest.mark.parametrize(
    ("field", "more"),
    [
        ("replicates", {"replicates": ()}),
        ("replicates", {"replicates": (Replicate(0, 0),)}),
        ("replicates", {"replicates": (Replicate(100, 50), Replicate(100, 101))}),
        ("replicates", {"replicates": (Replicate(100, -1),)}),
        ("sown_on", {"sown_on": date(2025, 8, 13)}),
        ("counted_on", {"counted_on": SOWN - timedelta(days=1)}),
        ("counted_on", {"counted_on": TODAY + timedelta(days=1)}),
        ("temperature", {"temperature": 68.0}),
    ],
)
def test_nonsense_is_refused_beside_its_field(bank, batch, field, more):
    assert [one for one, _ in check(bank, form(batch, **more))] == [field]
    with pytest.raises(Refusal) as caught:
        record_test(bank, form(batch, **more))
    assert caught.value.field == field
    assert queries.tests_of(bank, [batch.batch_id]) == {batch.batch_id: []}


def test_a_vial_of_another_batch_is_refused(bank, batch):
    other = stored(bank, "Osmunda regalis", clone=clone("O-1"))
    assert [field for field, _ in check(bank, form(batch, vial_id=other.vial_ids[0]))] == ["vial_id"]


def test_a_partly_known_day_of_collecting_is_given_the_benefit_of_the_doubt(bank):
    fridge(bank)
    batch = stored(bank, collected=PartDate(2025, 8))
    assert check(bank, form(batch, sown_on=date(2025, 8, 1))) == ()
    assert [field for field, _ in check(bank, form(batch, sown_on=date(2025, 7, 31)))] == ["sown_on"]


def test_a_test_narrows_the_band_and_a_bad_one_lowers_it(bank, batch):
    before = queries.vial_row(bank, batch.vial_ids[0]).share
    counted(bank, batch.batch_id, 240, 300)
    good = queries.vial_row(bank, batch.vial_ids[0]).share
    assert good.high - good.low < before.high - before.low
    undo.undo(bank)
    assert queries.vial_row(bank, batch.vial_ids[0]).share == before
    counted(bank, batch.batch_id, 6, 300)
    bad = queries.vial_row(bank, batch.vial_ids[0])
    assert bad.share.high < good.low
    assert bad.state is State.SPENT


def test_the_forecast_says_on_what_it_rests(bank, batch):
    assert cards.vial_card(bank, batch.vial_ids[0]).forecast.basis.startswith("No test yet")
    record_test(bank, form(batch))
    basis = cards.vial_card(bank, batch.vial_ids[0]).forecast.basis
    assert "1 test" in basis
    assert "200 spores" in basis
