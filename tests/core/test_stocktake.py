"""A stocktake in memory: every vial ends in one group, in whatever order and however often it is scanned."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import codes
from sporebank.core.records import TaxonName
from sporebank.core.stocktake import (
    Corrected,
    Correction,
    Expected,
    Group,
    Heard,
    Part,
    Plan,
    Spot,
    Stocktake,
    Way,
    choices,
    resumed,
    settled,
)

TAG = "7K2"
NAME = TaxonName("Dryopteris", "affinis")
BOX = Part(1, codes.make("L", TAG, 1), "Fridge / Box 1", 2, 3)
SHELF = Part(2, codes.make("L", TAG, 2), "Shelf")
VIALS = tuple(
    Expected(number, codes.make("V", TAG, number), NAME, "D-1", Spot(1, number - 1) if number < 5 else Spot(2))
    for number in range(1, 7)
)
PLAN = Plan("Fridge", TAG, (BOX, SHELF), VIALS)
FOREIGN = codes.make("V", "000", 9)
OTHER = codes.make("V", TAG, 99)


@given(
    st.sampled_from(list(Way)),
    st.lists(st.sampled_from([*(vial.code for vial in VIALS), OTHER, FOREIGN, BOX.code, SHELF.code, "nonsense"])),
)
def test_every_vial_ends_in_exactly_one_group(way, scans):
    taken = Stocktake(PLAN, way)
    for text in scans:
        taken.take(text)
    lines = taken.result({}, {})
    counts = taken.counts()
    assert sorted(line.text for line in lines if line.vial) == sorted(vial.code for vial in VIALS)
    assert (counts.right, counts.missing, counts.wrong, counts.strangers) == tuple(
        sum(line.group is group for line in lines)
        for group in (Group.RIGHT, Group.MISSING, Group.WRONG, Group.STRANGER)
    )
    again = resumed(PLAN, json.loads(json.dumps(taken.kept())))
    assert again.counts() == counts
    for part in PLAN.parts:
        assert again.here(part.place_id) == taken.here(part.place_id)


def test_slot_by_slot_what_lies_elsewhere_is_wrong_and_the_last_slot_ends_the_box():
    taken = Stocktake(PLAN, Way.SLOTS)
    heard = [taken.take(VIALS[n].code).heard for n in (1, 0, 2, 2)]
    assert heard == [Heard.WRONG, Heard.WRONG, Heard.RIGHT, Heard.AGAIN]
    assert taken.slot_said() == "B1"
    taken.step(9)
    assert taken.slot_said().startswith("the next box")
    assert taken.take(VIALS[3].code).heard is Heard.REFUSED
    assert taken.take(OTHER).heard is Heard.REFUSED
    taken.step(-1)
    assert taken.take(OTHER).heard is Heard.STRANGER
    assert taken.take(OTHER).heard in (Heard.AGAIN, Heard.REFUSED)
    assert taken.take(SHELF.code).heard is Heard.TURNED
    assert taken.take(VIALS[4].code).heard is Heard.RIGHT
    assert Group.WRONG in {group for group, _ in taken.here(1).values()}
    taken.begin_anew(Way.ANY)
    assert not taken.begun()


@pytest.mark.parametrize(
    "text",
    [
        codes.make("L", TAG, 77),
        codes.make("B", TAG, 3),
        VIALS[0].code[:-1] + ("0" if VIALS[0].code[-1] != "0" else "1"),
    ],
)
def test_what_is_no_vial_of_a_place_here_is_refused(text):
    taken = Stocktake(PLAN)
    assert taken.take(text).heard is Heard.REFUSED
    assert not taken.begun()


def test_strangers_say_what_they_are_and_what_may_be_done():
    taken = Stocktake(PLAN)
    texts = [codes.make("V", TAG, 90 + n) for n in range(3)]
    for text in (*texts, FOREIGN):
        taken.take(text)
    homes = (Spot(50), None, Spot(51))
    known = {text: Expected(90 + n, text, NAME, "X", homes[n], culled=n == 2) for n, text in enumerate(texts)}
    lines = {line.text: line for line in taken.result(known, {50: "Attic"})}
    assert "Attic" in lines[texts[0]].why
    assert "no place in the bank" in lines[texts[1]].why
    assert "culled" in lines[texts[2]].why
    assert "another bank" in lines[FOREIGN].why
    assert choices(lines[texts[0]])[0] is Correction.MOVE
    assert choices(lines[texts[2]]) == (Correction.NONE,)
    assert Correction.LOST in choices(lines[VIALS[0].code])
    assert PLAN.where(None) == "nowhere"
    assert PLAN.where(Spot(99)) == "elsewhere"


@given(
    st.lists(st.sampled_from([vial.vial_id for vial in VIALS]), unique=True),
    st.lists(st.sampled_from([Correction.MOVE, Correction.MISSING, Correction.NONE]), min_size=6, max_size=6),
    st.lists(st.sampled_from([Spot(1), Spot(1, 5), Spot(2)]), min_size=6, max_size=6),
)
def test_whatever_moves_into_a_box_has_a_slot_of_its_own_while_there_are_any(ids, corrections, spots):
    wanted = [
        Corrected(number, how, spot if how is Correction.MOVE else None)
        for number, how, spot in zip(ids, corrections, spots, strict=False)
    ]
    answer = settled(PLAN, wanted)
    assert [(one.vial_id, one.correction) for one in answer] == [(one.vial_id, one.correction) for one in wanted]
    leaving = {one.vial_id for one in wanted if one.correction is not Correction.NONE}
    staying = {vial.spot for vial in VIALS if vial.vial_id not in leaving and vial.spot.slot is not None}
    named = [one.spot for one, before in zip(answer, wanted, strict=True) if before.spot == Spot(1)]
    looked_at = {one.spot for one in wanted if one.spot == Spot(1, 5)}
    assert len(set(named)) == len(named)
    assert not set(named) & (staying | looked_at)
    assert all(spot.slot is not None for spot in named)  # six slots for six vials
    for one, before in zip(answer, wanted, strict=True):
        if before.spot != Spot(1):
            assert one == before


def test_where_no_slot_is_free_none_is_made_up():
    full = Plan("Box", TAG, (BOX,), tuple(Expected(n, str(n), NAME, "D-1", Spot(1, n)) for n in range(BOX.size)))
    assert settled(full, [Corrected(99, Correction.MOVE, Spot(1))])[0].spot == Spot(1)
