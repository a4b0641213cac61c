"""The chart of a vial gathered from the bank, with and without its sister batches."""

from dataclasses import replace
from datetime import date

from sporebank.bank import queries
from sporebank.core.dates import PartDate
from sporebank.core.intervals import exact
from sporebank.core.records import PlaceKind, SporeClass
from sporebank.jobs import chart, testing, vials
from sporebank.jobs.cards import vial_card
from sporebank.jobs.places import PlaceForm, add_place
from tests.builders import TODAY, clone, counted, fridge, stored


def test_the_chart_holds_the_curve_the_tests_and_the_stays(bank):
    fridge(bank)
    batch = stored(bank, collected=PartDate(2021, 8, 14), stored_on=date(2021, 8, 20))
    counted(bank, batch.batch_id, 60, on=date(2024, 1, 10))
    counted(bank, batch.batch_id, 5, on=date(2025, 1, 10))
    testing.leave_out(bank, queries.tests_of(bank, [batch.batch_id])[batch.batch_id][1][0].id, "the agar was mouldy")
    found = chart.vial_chart(bank, batch.vial_ids[0])
    row = queries.vial_row(bank, batch.vial_ids[0])
    assert (found.name, found.code, found.clone, found.collected) == (row.name, row.code, row.clone, row.collected)
    assert (found.today, found.line, found.share) == (TODAY, bank.settings.cull_line, row.share)
    assert found.began == date(2021, 8, 14)
    assert [(dot.germinated, dot.left_out) for dot in found.tests] == [(60, ""), (5, "the agar was mouldy")]
    assert (found.tests[0].low, found.tests[0].high) == exact(60, 100)
    assert [(span.since, span.word) for span in found.stays] == [
        (date(2021, 8, 14), "in a room"), (date(2021, 8, 20), "Fridge 1, 4 °C"),
    ]  # fmt: skip
    assert found.curve.dates[0] == found.began
    assert found.sisters == ()


def test_the_panel_and_the_dialog_show_the_same_chart(bank):
    fridge(bank)
    batch = stored(bank)
    counted(bank, batch.batch_id, 60)
    assert vial_card(bank, batch.vial_ids[1]).chart == chart.vial_chart(bank, batch.vial_ids[1])


def test_a_year_is_all_that_is_known(bank):
    fridge(bank)
    batch = stored(bank, collected=PartDate(2019), stored_on=date(2021, 8, 20))
    found = chart.vial_chart(bank, batch.vial_ids[0])
    assert found.began == date(2019, 12, 31)
    assert found.days[0] == date(2019, 1, 1)
    assert found.curve.dates[0] == found.began


def test_where_storage_is_not_modelled_there_is_no_curve(bank):
    fridge(bank)
    batch = stored(bank)
    counted(bank, batch.batch_id, 60)
    deep = add_place(bank, PlaceForm(PlaceKind.FREEZER, "Deep freezer", temperature=-80.0))
    vials.move(bank, vials.free_moves(bank, batch.vial_ids[:1], deep), date(2026, 2, 1))
    found = chart.vial_chart(bank, batch.vial_ids[0])
    assert (found.curve, found.share) == (None, None)
    assert not found.empty
    assert chart.with_sisters(bank, batch.vial_ids[0], found).sisters == ()


def test_sister_batches_are_the_most_tested_of_the_taxon(bank):
    fridge(bank, boxes=3)
    own = stored(bank, clone=clone("A-0"), vials=1)
    stored(bank, "Osmunda regalis", clone=clone("O-1"), vials=1)
    untested = stored(bank, clone=clone("A-99"), vials=1)
    others = [stored(bank, clone=clone(f"A-{number}"), vials=1) for number in range(1, 11)]
    for number, each in enumerate(others, start=1):
        counted(bank, each.batch_id, 5 * number, 10 * number)
    alone = chart.vial_chart(bank, own.vial_ids[0])
    found = chart.with_sisters(bank, own.vial_ids[0], alone)
    assert [sister.clone for sister in found.sisters] == [f"A-{number}" for number in range(10, 2, -1)]
    assert found.tested_sisters == 10
    assert replace(found, sisters=(), tested_sisters=0) == alone
    assert untested.batch not in {sister.code for sister in found.sisters}


def test_a_sister_is_drawn_as_its_own_vial_would_be(bank):
    fridge(bank)
    own, other = stored(bank, clone=clone("A-1")), stored(bank, clone=clone("A-2"), spore_class=SporeClass.GREEN)
    counted(bank, other.batch_id, 40)
    counted(bank, own.batch_id, 70)
    (sister,) = chart.with_sisters(bank, own.vial_ids[0], chart.vial_chart(bank, own.vial_ids[0])).sisters
    hers = chart.vial_chart(bank, other.vial_ids[0]).curve
    assert (sister.code, sister.dates, sister.middle) == (other.batch, hers.dates, hers.middle)


def test_a_slot_is_called_by_the_nearest_place_with_a_temperature(bank):
    boxes = fridge(bank, boxes=2)
    batch = stored(bank)
    vials.move(bank, vials.free_moves(bank, batch.vial_ids[:1], boxes[1]), TODAY)
    assert {span.word for span in chart.vial_chart(bank, batch.vial_ids[0]).stays} == {"in a room", "Fridge 1, 4 °C"}
