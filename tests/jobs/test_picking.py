"""The pick list: one walk for many parcels, and labels in its order."""

from __future__ import annotations

from pathlib import Path

import pytest

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.documents import pick_list as document
from sporebank.jobs import label_records, packing, picking, sharing
from tests.builders import TODAY, new_bank
from tests.documents.examples import text_of
from tests.jobs.test_packing import packed, packets, two_parcels
from tests.jobs.test_sharing_round import ask, held_back, opened, shared


@pytest.fixture
def bank(tmp_path: Path) -> Bank:
    return new_bank(tmp_path)


def test_one_walk_takes_all_that_is_not_packed_out_of_the_vials(bank: Bank) -> None:
    first, second = two_parcels(bank)
    found = picking.pick_list(bank, None)
    places = [item.place for item in found.walk()]
    assert places == sorted(places)
    assert (found.parcels, found.packets, found.on) == (2, 4, TODAY)
    # From the second clone's vial 3 mg go to one parcel and 1 mg to the other; it held 10 mg.
    assert [(item.take, item.remains) for item in found.walk()] == [(4_000, 6_000), (4_000, 6_000)]
    parcels = [codes.grouped(queries.request(bank, one).parcel) for one in (first, second)]
    assert found.walk()[0].packets == (f"2 × 2 mg, {parcels[0]} line 1",)
    assert found.walk()[1].packets == (f"1 × 3 mg, {parcels[0]} line 2", f"1 × 1 mg, {parcels[1]} line 1")
    packing.scan_in(bank, first, packets(bank, first)[0])
    assert picking.pick_list(bank, None).packets == 3
    packing.close(bank, first, "torn")
    sharing.dispatch(bank, second, TODAY)
    with pytest.raises(Refusal, match="Nothing is to be picked"):
        picking.pick_list(bank, None)


def test_what_is_taken_and_what_remains_is_what_the_vial_holds(bank: Bank) -> None:
    number = opened(bank)
    for who in ("Ida Brekke", "Tom Arkwell", "Wen Lindqvist"):
        ask(bank, number, who, (1, 2, 3))
    shared(bank, number)
    count = held_back(bank, number)
    found = picking.pick_list(bank, number)
    assert (found.title, found.packets, found.parcels) == ("Spring round 2026", count, 3)
    left = {row.code: row.left for row in queries.vials_by_id(bank, list(range(1, 10)))}
    assert all(item.take + item.remains == left[item.vial] for item in found.items)
    assert sum(item.take for item in found.items) == sum(queries.reserved(bank).values())


def test_labels_of_many_parcels_come_in_the_order_of_the_walk(bank: Bank) -> None:
    two_parcels(bank)
    labels = label_records.gather(bank, Kind.PACKET, picking.packets(bank, None))
    walked = [item.vial for item in picking.pick_list(bank, None).walk()]
    assert list(dict.fromkeys(label.vial for label in labels)) == walked
    assert len({label.code for label in labels}) == 4


def test_the_paper_says_what_to_take_what_remains_and_for_whom(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    read = text_of(document.render(picking.pick_list(bank, None)))
    for word in ("Pick list", "Take", "Remains", "8 mg from 2 vials", "4 packets for 2 parcels", "2 × 2 mg"):
        assert word in read
    assert codes.grouped(queries.request(bank, first).parcel) in read
    packed(bank, first)
    assert "1 packet for 1 parcel" in text_of(document.render(picking.pick_list(bank, None)))
