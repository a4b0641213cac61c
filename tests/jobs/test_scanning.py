"""What scans write, and how the last one is taken back."""

from __future__ import annotations

import pytest

from sporebank.bank import invariants, queries
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.records import Reason
from sporebank.jobs import scanning, vials
from sporebank.jobs.sharing import Wish, keep_fill, propose
from tests.builders import asked, fridge, new_bank, stored


@pytest.fixture
def bank(tmp_path):
    made = new_bank(tmp_path)
    made.boxes = fridge(made, boxes=2)
    made.stored = stored(made)
    yield made
    assert invariants.broken(made) == []
    made.close()


def first(bank):
    return queries.box_vials(bank, bank.boxes[0])[0][1]


@pytest.mark.parametrize("kind", ["V", "B", "L"])
def test_what_carries_a_code_is_found_and_what_nothing_carries_is_not(bank, kind):
    known = {"V": first(bank).code, "B": first(bank).batch, "L": queries.place(bank, bank.boxes[0])[0].code}
    assert queries.holder(bank, codes.parse(known[kind], bank.tag)) is not None
    assert queries.holder(bank, codes.parse(codes.make(kind, bank.tag, 99_999), bank.tag)) is None
    assert queries.holder(bank, codes.parse(codes.make("T", bank.tag, 1), bank.tag)) is None


def test_a_scan_takes_out_and_is_taken_back(bank):
    row = first(bank)
    effect = scanning.take(bank, row.id, 2_000, Reason.SOWING)
    assert effect.text.endswith("8 mg left.")
    assert queries.vial_row(bank, row.id).left == row.left - 2_000
    scanning.undo(bank, effect)
    assert queries.vial_row(bank, row.id).left == row.left


def test_a_scan_moves_into_the_next_free_slot_and_once(bank):
    row = first(bank)
    effect = scanning.move(bank, row.id, bank.boxes[1])
    assert queries.vial_row(bank, row.id).place.endswith("Box 2 / A1")
    again = scanning.move(bank, row.id, bank.boxes[1])
    assert again.event == 0
    assert "lies there already" in again.text
    scanning.undo(bank, effect)
    assert queries.vial_row(bank, row.id).place == row.place


def test_another_deed_in_between_is_never_taken_back_instead(bank):
    row = first(bank)
    effect = scanning.take(bank, row.id, 2_000, Reason.SOWING)
    vials.note(bank, [row.id], "cap is cracked")
    with pytest.raises(Refusal, match="Something else has been done since"):
        scanning.undo(bank, effect)
    assert queries.vial_row(bank, row.id).note == "cap is cracked"


def test_a_vial_off_the_packing_list_can_be_put_on_it_while_a_wish_lacks_packets(bank):
    row = first(bank)
    others = [one.id for _, one in queries.box_vials(bank, bank.boxes[0])][1:]
    request = asked(bank, Wish(2, 2_000, taxon_id=row.taxon_id))
    assert scanning.packing(bank, request, row.id).packets == 0
    line = queries.request(bank, request).lines[0].id
    assert scanning.packing(bank, request, row.id).could_fill == line
    scanning.add_to_packing(bank, request, line, row.id)
    assert scanning.packing(bank, request, row.id).packets == 1
    scanning.add_to_packing(bank, request, line, others[0])
    full = scanning.packing(bank, request, others[1])
    assert (full.packets, full.could_fill) == (0, None)
    keep_fill(bank, request, propose(bank, request))
