"""Culling: who is past viability, what is advised, and that it can be taken back."""

from datetime import date, timedelta

import pytest

from sporebank.bank import queries
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Permission, Reason, SporeClass, VialFilter
from sporebank.core.settings import Settings
from sporebank.core.sharing import Filled
from sporebank.jobs import sharing, undo
from sporebank.jobs.culling import DISPOSAL, candidates, cull, sheet
from sporebank.jobs.settings import change_settings
from tests.builders import TODAY, asked, caught_up, clone, counted, fridge, stored


def dead(bank, name="Dryopteris affinis", on=date(2026, 1, 10), **more):
    """Three vials of which a test has found next to nothing alive."""
    batch = stored(bank, name, **more)
    counted(bank, batch.batch_id, 2, 300, on=on)
    return batch


def test_only_what_is_almost_certainly_below_the_line_is_listed(bank):
    fridge(bank)
    spent = dead(bank)
    stored(bank, clone=clone("C-02"))
    unsure = stored(bank, clone=clone("C-03"))
    counted(bank, unsure.batch_id, 4, 20)
    found = candidates(bank)
    assert [one.vial.id for one in found] == list(spent.vial_ids)
    assert all(one.chance_below >= 0.95 for one in found)
    assert queries.cull_count(bank, 0.95) == 3


def test_the_line_and_the_certainty_are_the_keepers(bank):
    fridge(bank)
    batch = stored(bank)
    counted(bank, batch.batch_id, 120, 300)
    assert candidates(bank) == []
    change_settings(bank, Settings(cull_line=0.6, alive_line=0.8))
    caught_up(bank)
    assert len(candidates(bank)) == 3


def test_the_advice_rests_on_a_test_of_the_last_year(bank):
    fridge(bank)
    dead(bank)
    dead(bank, clone=clone("C-02"), collected=PartDate(2023), stored_on=date(2023, 8, 20), on=date(2024, 1, 10))
    stored(bank, "Osmunda regalis", clone=clone("O-1"), spore_class=SporeClass.GREEN, collected=PartDate(2020, 5))
    advised = {one.vial.clone: (one.advice, one.reason) for one in candidates(bank)}
    assert advised["C-01"][0] == "cull"
    assert "10 Jan 2026" in advised["C-01"][1]
    assert advised["C-02"][0] == "test first"
    assert "10 Jan 2024" in advised["C-02"][1]
    assert advised["O-1"][0] == "test first"
    assert "without any test" in advised["O-1"][1]


def test_the_list_is_walked_once(bank):
    fridge(bank, boxes=12, rows=1, columns=1)
    dead(bank, vials=12)
    places = [one.vial.place for one in candidates(bank)]
    assert places == [f"Potting shed / Fridge 1 / Box {number} / A1" for number in range(1, 13)]


def test_the_last_of_a_clone_is_called_out(bank):
    fridge(bank)
    dead(bank)
    mixed = dead(bank, clone=clone("C-02"))
    stored(bank, clone=queries.batch(bank, mixed.batch_id).clone.id)
    assert {one.vial.clone: one.last_of_clone for one in candidates(bank)} == {"C-01": True, "C-02": False}


def test_culling_empties_the_vials_and_their_slots_and_says_why(bank):
    (box,) = fridge(bank)
    batch = dead(bank)
    first, second, third = batch.vial_ids
    cull(bank, [first, second], TODAY, {first: "It is almost certainly spent."})
    for vial_id, why in ((first, "It is almost certainly spent."), (second, "The keeper's own choice.")):
        row = queries.vial_row(bank, vial_id)
        assert (row.left, row.place, row.culled_on) == (0, "", TODAY)
        assert queries.ledger(bank, vial_id)[-1].reason is Reason.CULL
        assert bank.database.execute_sql("SELECT cull_reason FROM vial WHERE id = ?", (vial_id,)).fetchone() == (why,)
    assert queries.vial_ids(bank, VialFilter(), "code", False) == [third]
    assert queries.free_slots(bank, 2) == [(box, 0), (box, 1)]
    assert [one.vial.id for one in candidates(bank)] == [third]
    assert candidates(bank)[0].last_of_clone


def test_one_undo_brings_them_all_back_as_they_were(bank):
    fridge(bank)
    batch = dead(bank)
    before = candidates(bank)
    cull(bank, batch.vial_ids, TODAY)
    assert candidates(bank) == []
    assert undo.undo(bank) == "Cull 3 vials"
    assert candidates(bank) == before


def test_an_empty_vial_is_culled_too(bank):
    fridge(bank)
    batch = stored(bank, vials=1, each=1)
    cull(bank, batch.vial_ids, TODAY)
    undo.undo(bank)
    bank_row = queries.vial_row(bank, batch.vial_ids[0])
    assert (bank_row.left, bank_row.culled_on) == (1, None)


def test_what_is_not_to_be_culled_is_refused(bank):
    fridge(bank)
    batch = stored(bank)
    with pytest.raises(Refusal, match="Choose the vials"):
        cull(bank, [], TODAY)
    for day in (TODAY + timedelta(days=1), date(2025, 8, 19)):
        with pytest.raises(Refusal) as caught:
            cull(bank, batch.vial_ids, day)
        assert caught.value.field == "on"
    request_id = asked(bank, sharing.Wish(1, 1_000, clone_id=queries.batch(bank, batch.batch_id).clone.id))
    line = queries.request(bank, request_id).lines[0].id
    sharing.keep_fill(bank, request_id, {line: Filled(batch.vial_ids[1:2], "")})
    with pytest.raises(Refusal, match="held back for a parcel"):
        cull(bank, batch.vial_ids, TODAY)
    sharing.close_request(bank, request_id)
    cull(bank, batch.vial_ids, TODAY)


def test_the_sheet_says_what_where_why_and_who_signs(bank):
    fridge(bank)
    change_settings(bank, Settings(keeper="Odile Marchbank"))
    # Lygodium japonicum: Commission Implementing Regulation (EU) 2019/1262 (the name from memory).
    dead(bank, "Lygodium japonicum", vials=1, clone=clone("L-1", permission=Permission.NO))
    dead(bank, vials=1)
    chosen = candidates(bank)
    paper = sheet(bank, chosen, TODAY)
    assert (paper.bank, paper.on, paper.signed_by) == ("Glasshouse bank", TODAY, "Odile Marchbank")
    assert [(item.clone, item.place[-2:], item.left, item.disposal) for item in paper.items] == [
        ("L-1", "A1", 10_000, DISPOSAL),
        ("C-01", "A2", 10_000, ""),
    ]
    assert all(item.last_of_clone and "takes in the test of" in item.why for item in paper.items)
    assert "seal and bin, do not compost" in DISPOSAL
