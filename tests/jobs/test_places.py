"""The place tree: naming, conditions, boxes that move with everything in them."""

from datetime import date, timedelta

import pytest

from sporebank.bank import queries
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.records import PlaceKind
from sporebank.jobs import culling, undo
from sporebank.jobs.figures import forecast_vial
from sporebank.jobs.places import (
    MOST_SLOTS,
    PlaceForm,
    add_place,
    check,
    move_place,
    moves_into,
    rename,
    set_conditions,
)
from sporebank.jobs.vials import Move, free_moves, move
from tests.builders import TODAY, clone, fridge, stored


def named(bank, name):
    return next(place for place, _, _ in queries.places(bank) if place.name == name)


def test_a_place_has_a_path_a_code_and_what_is_in_it(bank):
    fridge(bank, boxes=2)
    stored(bank)
    found = queries.places(bank)
    assert [(path, count) for _, path, count in found] == [
        ("Potting shed", 0),
        ("Potting shed / Fridge 1", 0),
        ("Potting shed / Fridge 1 / Box 1", 3),
        ("Potting shed / Fridge 1 / Box 2", 0),
    ]
    for place, _, _ in found:
        assert codes.parse(place.code, bank.tag).kind == "L"
        assert queries.place_id_of_code(bank, place.code) == place.id


def test_the_tree_is_walked_in_order_whatever_the_names(bank):
    # A space sorts before a slash: what is inside “Fridge 1” must still come before “Fridge 1 old”.
    for number in (10, 9, 1):
        add_place(bank, PlaceForm(PlaceKind.FRIDGE, f"Fridge {number}"))
    add_place(bank, PlaceForm(PlaceKind.FRIDGE, "Fridge 1 old"))
    add_place(bank, PlaceForm(PlaceKind.SHELF, "Door", named(bank, "Fridge 1").id))
    assert [path for _, path, _ in queries.places(bank)] == [
        "Fridge 1",
        "Fridge 1 / Door",
        "Fridge 1 old",
        "Fridge 9",
        "Fridge 10",
    ]


@pytest.mark.parametrize(
    ("field", "form"),
    [
        ("name", PlaceForm(PlaceKind.ROOM, "  ")),
        ("name", PlaceForm(PlaceKind.ROOM, "North / South")),
        ("name", PlaceForm(PlaceKind.ROOM, "potting SHED ")),
        ("temperature", PlaceForm(PlaceKind.FREEZER, "Cold", temperature=-201.0)),
        ("temperature", PlaceForm(PlaceKind.ROOM, "Kiln", temperature=61.0)),
        ("humidity", PlaceForm(PlaceKind.ROOM, "Dry", humidity=-1.0)),
        ("humidity", PlaceForm(PlaceKind.ROOM, "Wet", humidity=101.0)),
        ("rows", PlaceForm(PlaceKind.BOX, "Box", rows=0, columns=9)),
        ("rows", PlaceForm(PlaceKind.BOX, "Box", rows=-3, columns=-3)),
        ("rows", PlaceForm(PlaceKind.BOX, "Box", rows=51, columns=50)),
        ("rows", PlaceForm(PlaceKind.BOX, "Box", rows=703, columns=1)),
    ],
)
def test_nonsense_is_refused_beside_its_field(bank, field, form):
    fridge(bank)
    assert [one for one, _ in check(bank, form)] == [field]
    with pytest.raises(Refusal) as caught:
        add_place(bank, form)
    assert caught.value.field == field


def test_the_largest_box_has_a_label_for_its_last_slot(bank):
    box = add_place(bank, PlaceForm(PlaceKind.BOX, "Tray", rows=50, columns=50))
    vial_id = stored(bank, vials=1).vial_ids[0]
    move(bank, [Move(vial_id, box, MOST_SLOTS - 1)], TODAY)
    assert queries.vial_row(bank, vial_id).place == "Tray / AX50"


def test_the_same_name_may_stand_in_two_places(bank):
    fridge(bank)
    other = add_place(bank, PlaceForm(PlaceKind.FRIDGE, "Fridge 2"))
    add_place(bank, PlaceForm(PlaceKind.BOX, "Box 1", other, rows=1, columns=1))
    assert sum(path.endswith("Box 1") for _, path, _ in queries.places(bank)) == 2


def test_a_box_holds_vials_and_no_places(bank):
    box, other = fridge(bank, boxes=2)
    for work in (
        lambda: add_place(bank, PlaceForm(PlaceKind.SHELF, "Shelf", box)),
        lambda: move_place(bank, other, box, TODAY),
    ):
        with pytest.raises(Refusal) as caught:
            work()
        assert caught.value.field == "parent_id"


def test_conditions_left_out_are_those_of_the_parent(bank):
    (box,) = fridge(bank)
    assert queries.conditions(bank, box) == (4.0, 15.0)
    shelf = add_place(bank, PlaceForm(PlaceKind.SHELF, "Door", named(bank, "Fridge 1").id, temperature=8.0))
    assert queries.conditions(bank, shelf) == (8.0, 15.0)
    bare = add_place(bank, PlaceForm(PlaceKind.ROOM, "Attic"))
    assert queries.conditions(bank, bare) == (None, None)


def test_a_new_name_goes_into_every_path_below(bank):
    (box,) = fridge(bank)
    vial_id = stored(bank).vial_ids[0]
    rename(bank, named(bank, "Fridge 1").id, " Old fridge ")
    assert queries.vial_row(bank, vial_id).place == "Potting shed / Old fridge / Box 1 / A1"
    undo.undo(bank)
    assert queries.place(bank, box)[1] == "Potting shed / Fridge 1 / Box 1"
    with pytest.raises(Refusal) as caught:
        rename(bank, box, "")
    assert caught.value.field == "name"


def test_moving_a_box_writes_a_stay_for_every_vial_in_it_and_the_forecast_follows(bank):
    box, other = fridge(bank, boxes=2)
    ids = stored(bank).vial_ids
    move(bank, free_moves(bank, ids[2:], other), date(2025, 9, 1))
    before = {vial_id: queries.vial_row(bank, vial_id) for vial_id in ids}
    sill = add_place(bank, PlaceForm(PlaceKind.SHELF, "Window sill", temperature=27.0, humidity=60.0))
    move_place(bank, box, sill, date(2025, 10, 1))
    histories = queries.stays(bank, ids)
    for vial_id, slot in zip(ids[:2], ("A1", "A2"), strict=True):
        last = histories[vial_id][-1]
        assert (last.since, last.temperature, last.humidity) == (date(2025, 10, 1), 27.0, 60.0)
        assert last.place == f"Window sill / Box 1 / {slot}"
        assert queries.vial_row(bank, vial_id).share.middle < before[vial_id].share.middle
        assert queries.vial_row(bank, vial_id).crosses < before[vial_id].crosses
    assert queries.vial_row(bank, ids[2]) == before[ids[2]]
    undo.undo(bank)
    assert {vial_id: queries.vial_row(bank, vial_id) for vial_id in ids} == before


def test_a_fridge_moves_with_its_boxes(bank):
    fridge(bank)
    vial_id = stored(bank).vial_ids[0]
    cellar = add_place(bank, PlaceForm(PlaceKind.ROOM, "Cellar"))
    move_place(bank, named(bank, "Fridge 1").id, cellar, TODAY)
    assert queries.vial_row(bank, vial_id).place == "Cellar / Fridge 1 / Box 1 / A1"
    move_place(bank, named(bank, "Fridge 1").id, None, TODAY)
    assert queries.vial_row(bank, vial_id).place == "Fridge 1 / Box 1 / A1"
    assert len(queries.stays(bank, [vial_id])[vial_id]) == 3


def test_a_place_does_not_go_into_itself_nor_beside_its_namesake(bank):
    (box,) = fridge(bank)
    shed, cold = named(bank, "Potting shed").id, named(bank, "Fridge 1").id
    attic = add_place(bank, PlaceForm(PlaceKind.ROOM, "Attic"))
    add_place(bank, PlaceForm(PlaceKind.BOX, "Box 1", attic, rows=1, columns=1))
    for place_id, parent_id in ((shed, cold), (cold, cold), (box, attic)):
        with pytest.raises(Refusal) as caught:
            move_place(bank, place_id, parent_id, TODAY)
        assert caught.value.field == "parent_id"
    with pytest.raises(Refusal) as caught:
        move_place(bank, box, attic, TODAY + timedelta(days=1))
    assert caught.value.field == "on"


def test_a_failing_fridge_ages_what_is_in_it(bank):
    fridge(bank)
    vial_id = stored(bank).vial_ids[0]
    fresh, cold = forecast_vial(bank, vial_id, TODAY).share, named(bank, "Fridge 1").id
    set_conditions(bank, cold, 30.0, 70.0, date(2025, 9, 1))
    spoilt = forecast_vial(bank, vial_id, TODAY).share
    assert spoilt.middle < fresh.middle
    set_conditions(bank, cold, 4.0, 15.0, date(2025, 9, 15))
    mended = forecast_vial(bank, vial_id, TODAY).share
    assert spoilt.middle < mended.middle < fresh.middle
    assert [stay.temperature for stay in queries.stays(bank, [vial_id])[vial_id]] == [4.0, 30.0, 4.0]


def test_conditions_since_before_a_vial_came_leave_its_day_of_coming(bank):
    fridge(bank)
    vial_id = stored(bank).vial_ids[0]
    set_conditions(bank, named(bank, "Fridge 1").id, 9.0, None, date(2025, 1, 1))
    last = queries.stays(bank, [vial_id])[vial_id][-1]
    assert (last.since, last.temperature, last.humidity) == (date(2025, 8, 20), 9.0, 50.0)


def test_conditions_out_of_reason_or_still_to_come_are_refused(bank):
    fridge(bank)
    cold = named(bank, "Fridge 1").id
    for field, values in (
        ("temperature", (90.0, None, TODAY)),
        ("humidity", (None, 120.0, TODAY)),
        ("since", (5.0, 15.0, TODAY + timedelta(days=1))),
    ):
        with pytest.raises(Refusal) as caught:
            set_conditions(bank, cold, *values)
        assert caught.value.field == field


def test_a_culled_vial_does_not_come_back_with_its_box(bank):
    (box,) = fridge(bank)
    ids = stored(bank).vial_ids
    culling.cull(bank, ids[:1], TODAY)
    move_place(bank, box, None, TODAY)
    assert queries.vial_row(bank, ids[0]).place == ""
    assert [slot for slot, _ in queries.box_vials(bank, box)] == [1, 2]
    again = stored(bank, clone=clone("C-02"), vials=1)
    assert queries.vial_row(bank, again.vial_ids[0]).place == "Box 1 / A1"


def test_vials_go_into_a_box_from_a_slot_on_around_those_that_lie_there(bank):
    box, other = fridge(bank, boxes=2)
    first, second, third = stored(bank).vial_ids
    move(bank, [Move(third, other, 41)], TODAY)
    assert moves_into(bank, [second, first], other, 40) == [Move(second, other, 40), Move(first, other, 42)]
    assert moves_into(bank, [first, second], box, 1) == [Move(first, box, 1), Move(second, box, 2)]


def test_a_taken_slot_or_too_little_room_below_it_is_refused(bank):
    box, other = fridge(bank, boxes=2)
    ids = stored(bank).vial_ids
    move(bank, [Move(ids[2], other, 40)], TODAY)
    with pytest.raises(Refusal, match="E5 .* is taken"):
        moves_into(bank, ids[:1], other, 40)
    with pytest.raises(Refusal, match="1 free slots from I9 on"):
        moves_into(bank, ids[:2], box, 80)
