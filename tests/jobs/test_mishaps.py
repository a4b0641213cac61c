"""What befell vials stands on their cards and warns until a test is made after it."""

from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.core.errors import Refusal
from sporebank.core.records import MishapKind
from sporebank.jobs import culling, figures, mishaps, undo
from sporebank.jobs.cards import vial_card
from tests.builders import TODAY, counted, fridge, stored
from tests.jobs.test_figures import fresh

DAY = date(2026, 2, 3)


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
    assert not any("froze" in caution for caution in vial_card(bank, first).forecast.cautions)
    assert vial_card(bank, first).mishaps


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
