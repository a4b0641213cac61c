"""What batches of one taxon lend each other follows every deed."""

from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.core.dates import PartDate
from sporebank.jobs import undo
from sporebank.jobs.cards import vial_card
from sporebank.jobs.figures import forecast_vial
from sporebank.jobs.testing import leave_out
from tests.builders import TODAY, clone, counted, fridge, stored


@pytest.fixture
def sisters(bank):
    """Two batches of one taxon and one of another, all of 2021."""
    fridge(bank)
    old = {"collected": PartDate(2021, 8, 14), "stored_on": date(2021, 8, 20)}
    first = stored(bank, clone=clone("C-01"), vials=1, **old)
    second = stored(bank, clone=clone("C-02"), vials=1, **old)
    stranger = stored(bank, "Athyrium filix-femina", clone=clone("A-01"), vials=1, **old)
    return first, second, stranger


def width(bank, batch):
    share = queries.vial_row(bank, batch.vial_ids[0]).share
    return share.high - share.low


def test_a_test_narrows_the_band_of_an_untested_sister_and_of_no_stranger(bank, sisters):
    first, second, stranger = sisters
    before, beside = width(bank, second), width(bank, stranger)
    counted(bank, first.batch_id, 180, 200)
    assert width(bank, second) < 0.9 * before
    assert width(bank, stranger) == beside
    undo.undo(bank)
    assert width(bank, second) == pytest.approx(before)


def test_a_test_left_out_lends_nothing(bank, sisters):
    first, second, _ = sisters
    before = width(bank, second)
    test_id = counted(bank, first.batch_id, 180, 200)
    leave_out(bank, test_id, "the dish dried out")
    assert width(bank, second) == pytest.approx(before)


def test_the_words_count_the_sisters(bank, sisters):
    first, second, _ = sisters
    counted(bank, first.batch_id, 180, 200)
    assert forecast_vial(bank, second.vial_ids[0], TODAY).basis == "No test yet: from tests of 1 sister batch."
    counted(bank, second.batch_id, 90)
    assert vial_card(bank, second.vial_ids[0]).forecast.basis == "From 1 test, 100 spores, and 1 sister batch."
