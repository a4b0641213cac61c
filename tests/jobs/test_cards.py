"""The card of a vial answers what, how alive, for how long, how much, where and what happened."""

from sporebank.bank import queries
from sporebank.core.records import Reason
from sporebank.core.sharing import Filled
from sporebank.jobs import culling, sharing, sowing, undo, vials
from sporebank.jobs.cards import vial_card
from tests.builders import TODAY, asked, clone, counted, fridge, stored


def test_the_card_brings_everything_together(bank):
    fridge(bank, boxes=2)
    batch = stored(bank)
    first = batch.vial_ids[0]
    counted(bank, batch.batch_id, 60)
    vials.take(bank, vials.TakeForm(first, 2_000, Reason.GIFT, TODAY))
    vials.note(bank, [first], "clumped")
    card = vial_card(bank, first)
    assert card.row == queries.vial_row(bank, first)
    assert card.batch == queries.batch(bank, batch.batch_id)
    assert (card.forecast.share, card.forecast.crossing.likely) == (card.row.share, card.row.crosses)
    assert [line.micrograms for line in card.movements] == [10_000, -2_000]
    assert [stay.place for stay in card.stays] == ["Potting shed / Fridge 1 / Box 1 / A1"]
    assert [test.germinated for test in card.tests] == [60]
    titles = [event.title.split()[0] for event in card.events]
    assert titles == ["Note", "Take", "Test", "Store"]
    assert card.chart.curve is not None
    assert card.held == 0


def test_the_card_of_a_neighbour_does_not_tell_what_happened_to_this_one(bank):
    fridge(bank)
    first, second, _ = stored(bank).vial_ids
    vials.take(bank, vials.TakeForm(first, 2_000, Reason.GIFT, TODAY))
    assert len(vial_card(bank, second).events) == 1


def test_pots_worth_is_what_the_free_spore_will_sow(bank):
    fridge(bank)
    batch = stored(bank)
    first = batch.vial_ids[0]
    before = vial_card(bank, first).pots
    assert sowing.dose(bank, first, before) <= 10_000 < sowing.dose(bank, first, before + 2)
    request_id = asked(bank, sharing.Wish(2, 2_500, clone_id=queries.batch(bank, batch.batch_id).clone.id))
    line = queries.request(bank, request_id).lines[0].id
    sharing.keep_fill(bank, request_id, {line: Filled((first, first), "")})
    card = vial_card(bank, first)
    assert (card.held, card.row.left) == (5_000, 10_000)
    assert abs(card.pots - before / 2) <= 1


def test_the_last_of_its_clone_is_called_out(bank):
    fridge(bank)
    first, second, third = stored(bank).vial_ids
    other = stored(bank, clone=clone("C-02"))
    assert not vial_card(bank, first).last_of_clone
    culling.cull(bank, [second, third], TODAY)
    assert vial_card(bank, first).last_of_clone
    assert not vial_card(bank, other.vial_ids[0]).last_of_clone


def test_a_culled_vial_still_has_its_card(bank):
    fridge(bank)
    first = stored(bank).vial_ids[0]
    culling.cull(bank, [first], TODAY)
    card = vial_card(bank, first)
    assert (card.row.culled_on, card.row.place, card.row.left, card.pots) == (TODAY, "", 0, 0)
    assert [stay.place for stay in card.stays][-1] == ""


def test_the_ledger_on_the_card_marks_what_was_taken_back(bank):
    fridge(bank)
    first = stored(bank).vial_ids[0]
    vials.take(bank, vials.TakeForm(first, 2_000, Reason.GIFT, TODAY))
    undo.undo(bank)
    card = vial_card(bank, first)
    assert [(line.micrograms, line.reversed) for line in card.movements] == [(10_000, False), (-2_000, True)]
    assert [event.undone for event in card.events] == [True, True, False]
