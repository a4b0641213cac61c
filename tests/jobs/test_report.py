"""The batch report gathered from the bank."""

from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.core.errors import Refusal
from sporebank.core.looks import LookKind, Seen
from sporebank.core.records import MishapKind, Reason
from sporebank.jobs import chart, culling, looks, mishaps, report, undo, vials
from sporebank.jobs.looks import LookForm
from sporebank.jobs.sowing import SowForm, sow
from tests.builders import TODAY, clone, counted, fridge, stored


def test_the_report_has_every_vial_with_its_history_and_ledger(bank):
    boxes = fridge(bank, boxes=2)
    batch = stored(bank)
    first = batch.vial_ids[0]
    counted(bank, batch.batch_id, 60)
    vials.take(bank, vials.TakeForm(first, 2_000, Reason.GIFT, TODAY))
    vials.move(bank, vials.free_moves(bank, [first], boxes[1]), TODAY)
    mishaps.record(bank, [first], MishapKind.WET, TODAY, "the tray leaked")
    found = report.batch_report(bank, batch.batch_id)
    assert [vial.row.id for vial in found.vials] == list(batch.vial_ids)
    one = found.vials[0]
    assert [line.micrograms for line in one.ledger] == [10_000, -2_000]
    assert [stay.place[-10:] for stay in one.stays] == ["Box 1 / A1", "Box 2 / A1"]
    assert [mishap.note for mishap in one.mishaps] == ["the tray leaked"]
    assert [test.germinated for test, _ in found.tests] == [60]
    assert found.renew_below == 51  # 85 % of 60 %
    assert found.chart == chart.vial_chart(bank, first)
    assert (found.forecast.share, found.on, found.bank) == (found.chart.share, TODAY, bank.name)


def test_the_report_is_of_the_vial_asked_for_and_keeps_culled_ones(bank):
    fridge(bank)
    batch = stored(bank)
    culling.cull(bank, [batch.vial_ids[0]], TODAY)
    found = report.batch_report(bank, batch.batch_id, batch.vial_ids[2])
    assert found.chart.code == queries.vial_row(bank, batch.vial_ids[2]).code
    assert found.renew_below == 0
    assert {vial.row.id for vial in found.vials} == set(batch.vial_ids)


def test_the_report_has_every_sowing_of_the_batch_with_the_last_look_at_its_pots(bank):
    fridge(bank)
    batch, other = stored(bank), stored(bank, clone=clone("P-2"))
    later, first, _ = (
        sow(bank, SowForm(vial_id, room, on, 3, 300))
        for vial_id, room, on in (
            (batch.vial_ids[0], "Fog house", date(2026, 2, 3)),
            (batch.vial_ids[2], "Lean-to", date(2026, 1, 10)),
            (other.vial_ids[0], "Cold frame", date(2026, 1, 11)),
        )
    )
    pots = queries.pots(bank, first)
    looks.record(bank, LookForm(tuple(pot.id for pot in pots), date(2026, 2, 20), LookKind.FILM))
    looks.record(bank, LookForm((pots[0].id,), TODAY, LookKind.PROTHALLI))
    found = report.batch_report(bank, batch.batch_id).sowings
    assert [one.id for one in found] == [first, later]
    assert [len(one.pots) for one in found] == [3, 3]
    assert found[0].seen == Seen(TODAY, ((LookKind.PROTHALLI, 1), (LookKind.FILM, 2)))
    assert found[1].seen is None


def test_who_it_was_raised_from_is_named(bank):
    fridge(bank)
    parent = stored(bank, clone=clone("P-1"))
    child = stored(bank, clone=clone("P-2", parent=queries.batch(bank, parent.batch_id).clone.code))
    assert report.batch_report(bank, child.batch_id).raised_from == "P-1"


def test_a_batch_taken_back_cannot_be_reported(bank):
    fridge(bank)
    batch = stored(bank)
    undo.undo(bank)
    with pytest.raises(Refusal, match="no vials"):
        report.batch_report(bank, batch.batch_id)
