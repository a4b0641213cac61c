"""How spore keeps may be changed, taken back and put as it was at first; forecasts follow."""

import pytest

from sporebank.bank import queries
from sporebank.core.errors import Refusal
from sporebank.core.records import SporeClass
from sporebank.core.settings import Settings
from sporebank.core.storage import KIN, Number, numbers
from sporebank.formats.tables import load_storage
from sporebank.jobs import figures, keeping, undo
from sporebank.jobs.cards import vial_card
from sporebank.jobs.settings import change_settings
from tests.builders import caught_up, counted, fridge, stored
from tests.jobs.test_figures import fresh


def test_a_number_of_the_keepers_own_moves_the_forecast_until_it_is_reset(bank):
    fridge(bank)
    figures.refresh_all(bank)
    vial = stored(bank).vial_ids[0]
    at_first = vial_card(bank, vial).forecast.share.middle
    keeping.change(bank, Number("non-green.fridge", 60.0, 0.2))
    caught_up(bank)
    fresh(bank)
    own = vial_card(bank, vial).forecast.share.middle
    assert own < at_first - 0.3
    assert keeping.table(bank).rows[SporeClass.NON_GREEN].fridge.spread == 0.2
    keeping.change(bank, Number("non-green.fridge", 90.0, 0.2))
    assert own < vial_card(bank, vial).forecast.share.middle < at_first
    undo.undo(bank)
    assert vial_card(bank, vial).forecast.share.middle == own
    keeping.change(bank, Number(KIN, 0.2, None))
    keeping.reset(bank)
    caught_up(bank)
    fresh(bank)
    assert keeping.table(bank) == load_storage()
    assert vial_card(bank, vial).forecast.share.middle == at_first
    undo.undo(bank)
    assert keeping.table(bank).between_taxa == 0.2


def test_resetting_one_leaves_the_others(bank):
    keeping.change(bank, Number("green.room", 20.0, 0.4))
    keeping.change(bank, Number("green.fridge", 200.0, 0.4))
    keeping.reset(bank, "green.room", "dicksonia.room")
    assert set(queries.keeping(bank)) == {"green.fridge"}
    events = len(queries.events(bank, "", 0, 100))
    keeping.reset(bank, "green.room")
    assert len(queries.events(bank, "", 0, 100)) == events


def test_odd_numbers_are_refused_and_nothing_is_kept(bank):
    with pytest.raises(Refusal):
        keeping.change(bank, Number("green.room", -5.0, 0.4))
    assert queries.keeping(bank) == {}


def test_every_number_has_a_title():
    titles = [keeping.title(each.what) for each in numbers(load_storage())]
    assert len(set(titles)) == len(titles)
    assert "Non-green, fridge" in titles


def test_the_keeper_chooses_the_rule_of_testing(bank):
    fridge(bank)
    figures.refresh_all(bank)
    batch = stored(bank)
    counted(bank, batch.batch_id, 90)
    genebank = vial_card(bank, batch.vial_ids[0]).forecast.next_test
    change_settings(bank, Settings(test_rule="line", test_chance=0.01))
    early = vial_card(bank, batch.vial_ids[0]).forecast.next_test
    change_settings(bank, Settings(test_rule="line", test_chance=0.5))
    late = vial_card(bank, batch.vial_ids[0])
    assert early < late.forecast.next_test
    assert late.forecast.next_test == late.forecast.crossing.likely
    assert genebank not in (early, late.forecast.next_test)
    caught_up(bank)
    fresh(bank)
