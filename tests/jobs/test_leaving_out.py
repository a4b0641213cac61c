"""A test that is not to be trusted is left out of the forecast with a reason, kept, and taken back in."""

from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.core.errors import Refusal
from sporebank.core.records import State
from sporebank.jobs import cards, culling, figures, undo
from sporebank.jobs.testing import leave_out, take_back_in
from tests.builders import counted, fridge, sound, stored

WHY = "Mould on two dishes"


@pytest.fixture
def batch(bank):
    fridge(bank)
    return stored(bank)


@pytest.fixture
def bad(bank, batch):
    """The id of a test that speaks against another."""
    counted(bank, batch.batch_id, 270, 300, on=date(2025, 12, 1))
    return counted(bank, batch.batch_id, 3, 300)


def row(bank, batch):
    return queries.vial_row(bank, batch.vial_ids[0])


def test_the_forecast_no_longer_goes_by_it_and_it_stays_on_record(bank, batch, bad):
    with_it = row(bank, batch)
    leave_out(bank, bad, f"  {WHY} ")
    without = row(bank, batch)
    assert without.state is State.ALIVE
    assert without.share.low > with_it.share.high
    kept = cards.vial_card(bank, batch.vial_ids[0])
    assert [test.left_out for test in kept.tests] == ["", WHY]
    assert "1 test" in kept.forecast.basis
    assert kept.forecast.share == figures.forecast_vial(bank, batch.vial_ids[0], bank.today()).share
    sound(bank)


def test_it_counts_again_once_taken_back_in(bank, batch, bad):
    before = row(bank, batch)
    leave_out(bank, bad, WHY)
    take_back_in(bank, bad)
    assert row(bank, batch) == before
    assert queries.test(bank, bad).left_out == ""


def test_undo_and_redo_move_the_forecast_along(bank, batch, bad):
    before = row(bank, batch)
    leave_out(bank, bad, WHY)
    after = row(bank, batch)
    title = undo.next_steps(bank).undo
    assert title.startswith("Leave out the test of B-")
    assert title.endswith(f"3 of 300 germinated: {WHY}")
    assert undo.undo(bank) == title
    assert (row(bank, batch), queries.test(bank, bad).left_out) == (before, "")
    assert undo.redo(bank) == title
    assert (row(bank, batch), queries.test(bank, bad).left_out) == (after, WHY)
    take_back_in(bank, bad)
    undo.undo(bank)
    assert (row(bank, batch), queries.test(bank, bad).left_out) == (after, WHY)
    sound(bank)


def test_it_is_on_record_in_the_history_of_every_vial_of_the_batch(bank, batch, bad):
    leave_out(bank, bad, WHY)
    for vial_id in batch.vial_ids:
        assert WHY in queries.events_of_vial(bank, vial_id)[0].title


def test_a_test_left_out_does_not_bear_out_a_cull(bank, batch):
    bad = counted(bank, batch.batch_id, 0, 300)
    assert {one.advice for one in culling.candidates(bank)} == {"cull"}
    leave_out(bank, bad, WHY)
    assert all(one.last_test is None for one in culling.candidates(bank))
    assert queries.past_viability(bank, 0.0)[0][2] is None


def test_a_batch_whose_only_test_is_left_out_wants_another(bank, batch):
    fresh = cards.vial_card(bank, batch.vial_ids[0]).forecast
    only = counted(bank, batch.batch_id, 150, 300)
    leave_out(bank, only, WHY)
    again = cards.vial_card(bank, batch.vial_ids[0]).forecast
    assert (again.share, again.next_test, again.basis) == (fresh.share, fresh.next_test, fresh.basis)


@pytest.mark.parametrize("reason", ["", "   \n"])
def test_a_reason_is_asked_for(bank, bad, reason):
    with pytest.raises(Refusal) as refused:
        leave_out(bank, bad, reason)
    assert refused.value.field == "reason"
    assert queries.test(bank, bad).left_out == ""


def test_a_test_that_was_taken_back_is_neither_left_out_nor_taken_in(bank, bad):
    undo.undo(bank)
    for deed in (lambda: leave_out(bank, bad, WHY), lambda: take_back_in(bank, bad), lambda: leave_out(bank, 999, WHY)):
        with pytest.raises(Refusal, match="taken back"):
            deed()
