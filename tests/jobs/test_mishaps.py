"""What befell vials stands on their cards and warns until a test is made after it."""

from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Advice, MishapKind, Replicate
from sporebank.jobs import culling, figures, mishaps, sharing, undo
from sporebank.jobs.cards import vial_card
from sporebank.jobs.sharing import Wish
from sporebank.jobs.testing import TestForm, record_test
from tests.builders import TODAY, asked, clone, counted, fridge, stored
from tests.jobs.test_figures import fresh

DAY = date(2026, 2, 3)


def tried(bank, batch_id, vial_id, germinated, on=date(2026, 3, 1)):
    """Record a test of 100 spores of one vial."""
    return record_test(bank, TestForm(batch_id, vial_id, on, on, (Replicate(100, germinated),)))


def test_a_mishap_warns_until_the_spore_is_tested_and_can_be_taken_back(bank):
    fridge(bank)
    figures.refresh_all(bank)
    batch = stored(bank)
    first, second, _ = batch.vial_ids
    mishaps.record(bank, [first], MishapKind.THAWED, DAY, " power cut ")
    fresh(bank)
    card = vial_card(bank, first)
    assert [(each.on, each.kind, each.note) for each in card.mishaps] == [(DAY, MishapKind.THAWED, "power cut")]
    assert "froze and thawed on 3 Feb 2026" in card.forecast.cautions[0]
    assert not any("froze" in caution for caution in vial_card(bank, second).forecast.cautions)
    undo.undo(bank)
    assert vial_card(bank, first).mishaps == ()
    undo.redo(bank)
    counted(bank, batch.batch_id, 80, on=date(2026, 3, 1))
    assert any("froze" in caution for caution in vial_card(bank, first).forecast.cautions), "not a test of this vial"
    assert vial_card(bank, second).forecast.basis.startswith("From 1 test")
    tried(bank, batch.batch_id, first, 80)
    assert not any("froze" in caution for caution in vial_card(bank, first).forecast.cautions)
    assert vial_card(bank, first).mishaps


def test_only_a_test_of_spore_that_went_through_it_settles_it(bank):
    """Vial by vial: the advice, what may be given away, the next test, and what the tests say."""
    fridge(bank)
    figures.refresh_all(bank)
    batch = stored(bank)
    first, second, third = batch.vial_ids
    counted(bank, batch.batch_id, 90, on=date(2026, 1, 10))
    mishaps.record(bank, [second, third], MishapKind.HOT, DAY)
    tried(bank, batch.batch_id, first, 88)
    for vial_id in (second, third):
        card = vial_card(bank, vial_id)
        assert card.advice[0] is Advice.TEST
        assert "It got hot on 3 Feb 2026" in card.advice[1]
        assert card.forecast.next_test == DAY
        assert not queries.vial_row(bank, vial_id).surplus
    assert queries.vial_row(bank, first).surplus
    sound_middle = vial_card(bank, first).forecast.share.middle
    tried(bank, batch.batch_id, second, 5)
    for vial_id in (second, third):
        card = vial_card(bank, vial_id)
        assert not any("got hot" in caution for caution in card.forecast.cautions)
        assert card.forecast.share.middle < 0.3
        assert card.forecast.basis.startswith("From 1 test, 100 spores")
    assert vial_card(bank, first).forecast.share.middle == sound_middle
    fresh(bank)


def test_the_tests_of_sisters_do_not_go_by_a_vial_that_got_wet(bank):
    fridge(bank)
    figures.refresh_all(bank)
    wet = stored(bank)
    other = stored(bank, clone=clone("C-02"))
    before = vial_card(bank, other.vial_ids[0]).forecast
    mishaps.record(bank, [wet.vial_ids[1]], MishapKind.WET, DAY)
    tried(bank, wet.batch_id, wet.vial_ids[1], 0)
    after = vial_card(bank, other.vial_ids[0]).forecast
    assert (after.share, after.basis) == (before.share, before.basis)
    tried(bank, wet.batch_id, wet.vial_ids[0], 0)
    assert vial_card(bank, other.vial_ids[0]).forecast.share.middle < before.share.middle


def test_nothing_that_something_befell_is_given_away_or_culled_unseen(bank):
    fridge(bank)
    figures.refresh_all(bank)
    batch = stored(bank, vials=1)
    dead = stored(bank, clone=clone("C-02"), vials=1, collected=PartDate(2015, 7), stored_on=date(2015, 8, 2))
    counted(bank, dead.batch_id, 0, 400, on=date(2026, 1, 20))
    mishaps.record(bank, [*batch.vial_ids, *dead.vial_ids], MishapKind.WET, DAY)
    request = asked(bank, Wish(1, 3_000, clone_id=queries.batch(bank, batch.batch_id).clone.id))
    (filled,) = sharing.propose(bank, request).values()
    assert filled.vials == ()
    assert filled.unmet == "It got wet on 3 Feb 2026 and was not tested since. Test it, then choose a vial by hand."
    (past,) = culling.candidates(bank)
    assert past.advice is Advice.TEST
    assert "it got wet on 3 Feb 2026" in past.reason


def test_several_vials_at_once_are_one_deed(bank):
    fridge(bank)
    figures.refresh_all(bank)
    batch = stored(bank)
    mishaps.record(bank, batch.vial_ids, MishapKind.HOT, DAY)
    assert queries.events(bank, "", 0, 1)[0].title == "3 vials got hot"
    assert set(queries.mishaps(bank, batch.vial_ids)) == set(batch.vial_ids)


def test_what_cannot_be_is_refused(bank):
    fridge(bank)
    figures.refresh_all(bank)
    first, second, _ = stored(bank).vial_ids
    with pytest.raises(Refusal, match="Choose"):
        mishaps.record(bank, [], MishapKind.WET, DAY)
    with pytest.raises(Refusal, match="not come yet"):
        mishaps.record(bank, [first], MishapKind.WET, date(2026, 3, 15))
    with pytest.raises(Refusal, match="was stored on"):
        mishaps.record(bank, [first], MishapKind.WET, date(2025, 8, 1))
    culling.cull(bank, [second], TODAY)
    with pytest.raises(Refusal, match="was culled"):
        mishaps.record(bank, [first, second], MishapKind.WET, DAY)
    assert queries.mishaps(bank, [first, second]) == {}
