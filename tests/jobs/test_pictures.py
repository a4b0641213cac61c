"""What the labels of a picture are."""

from __future__ import annotations

import pytest

from sporebank.bank import queries
from sporebank.core import codes
from sporebank.core.records import VialFilter
from sporebank.core.scanning import Fault
from sporebank.jobs import culling
from sporebank.jobs.pictures import MOST_SHOWN, recognise
from tests.builders import fridge, new_bank, sound, stored


@pytest.fixture
def bank(tmp_path):
    made = new_bank(tmp_path)
    made.boxes = fridge(made)
    stored(made)
    yield made
    sound(made)
    made.close()


def vials(bank):
    return [row for _, row in queries.box_vials(bank, bank.boxes[0])]


def test_each_label_is_named_once_in_order_with_what_is_wrong(bank):
    first, second, _ = vials(bank)
    box = queries.place(bank, bank.boxes[0])[0].code
    foreign = codes.make("V", "000" if bank.tag != "000" else "001", 3)
    mistake = first.code[:-1] + ("0" if first.code[-1] != "0" else "1")
    unknown = codes.make("V", bank.tag, 99_999)
    address = "https://example.org/" + "fern" * 500
    texts = [second.code, codes.grouped(second.code).lower(), box, first.batch, foreign, mistake, unknown, address]
    found = recognise(bank, [*texts, second.code, address])
    assert [one.text for one in found] == [second.code, box, first.batch, foreign, mistake, unknown, address[:60]]
    assert found[0].what == "Dryopteris affinis, C-01"
    assert found[0].where.endswith("Box 1 / A2")
    assert (found[1].what, found[1].where.endswith("Fridge 1 / Box 1")) == ("Place", True)
    assert found[2].what == "Batch"
    faults = [None, None, None, Fault.FOREIGN, Fault.MISTAKE, Fault.UNKNOWN, Fault.MISTAKE]
    assert [one.fault for one in found] == faults
    assert [bool(one.holder) for one in found] == [fault is None for fault in faults]
    sentences = {one.what for one in found if one.fault}
    assert len(sentences) == 4
    assert all(len(sentence) < MOST_SHOWN + 150 for sentence in sentences)


def test_a_culled_vial_says_so(bank):
    row = vials(bank)[0]
    culling.cull(bank, [row.id], bank.today())
    assert recognise(bank, [row.code])[0].where == "culled"


def test_the_filter_shows_just_these_vials(bank):
    first, _, last = vials(bank)
    wanted = VialFilter(vial_ids=(last.id, first.id))
    assert queries.vial_ids(bank, wanted, "code", False) == [first.id, last.id]
    assert queries.vial_counts(bank, wanted).vials == 2
    assert queries.vial_ids(bank, VialFilter(vial_ids=()), "code", False) == []
