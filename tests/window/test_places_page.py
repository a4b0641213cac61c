"""The Places page, by what a keeper does and sees: where everything lies, what it meets there, and moving it."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QDragEnterEvent, QDragMoveEvent, QDropEvent, QPixmap
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.core import forecast_words
from sporebank.core.layout import Kind
from sporebank.core.records import PlaceKind
from sporebank.jobs import label_records, vials
from sporebank.jobs.places import PlaceForm, add_place
from sporebank.window.actions import Needs
from sporebank.window.dialogs.labels import LabelsDialog
from sporebank.window.dialogs.places import (
    AddPlaceDialog,
    ConditionsDialog,
    MovePlaceDialog,
    RenameDialog,
    next_name,
)
from sporebank.window.pages.places import PlacesPage
from sporebank.window.place_tree import OWN_ROLE, as_mime, cold_caution, vials_of
from tests.documents.examples import pictures, symbols
from tests.window.conftest import TODAY, Told
from tests.window.desk import PageDesk, Settle, Show
from tests.window.keys import doubled_letters

LEFT = Qt.MouseButton.LeftButton
SHIFT, CTRL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier


class House(PageDesk):
    """A bank with two fridges and a box in each, and the page on it."""

    kind, size = PlacesPage, (1000, 620)

    def place(self, name: str) -> int:
        return self.read(lambda bank: next(place.id for place, _, _ in queries.places(bank) if place.name == name))

    def lies(self, vial_id: int) -> str:
        return self.read(lambda bank: queries.vial_row(bank, vial_id).place)

    def dialog(self, made: Any) -> Any:
        self.show(made)
        self.settle()
        return made


@pytest.fixture
def house(make_context: Any, show: Show, settle: Settle, qtbot: QtBot, told: Told) -> House:
    """81 vials in Fridge 1 / Box 1, full to the last slot, and 9 in Fridge 2 / Box 2."""
    return House(make_context(90), show, settle, qtbot, told)


def turn(house: House, name: str) -> PlacesPage:
    house.page.focus_on(place_id=house.place(name))
    house.settle()
    return house.page


def middle(widget: Any, index: Any) -> QPointF:
    return QPointF(widget.visualRect(index).center())


def drop(view: Any, at: QPointF, ids: list[int]) -> None:
    """Drag vials over a view and let them go, as the window system would tell it."""
    data = as_mime(ids)
    common = (Qt.DropAction.MoveAction, data, LEFT, Qt.KeyboardModifier.NoModifier)
    enter, over = QDragEnterEvent(at.toPoint(), *common), QDragMoveEvent(at.toPoint(), *common)
    view.dragEnterEvent(enter)
    view.dragMoveEvent(over)
    assert enter.isAccepted()
    assert over.isAccepted()
    view.dropEvent(QDropEvent(at, *common))


def test_an_empty_bank_says_what_to_do_first(make_context, show, settle, qtbot, told) -> None:
    house = House(make_context(), show, settle, qtbot, told)
    page = house.open()
    assert page.empty.isVisible()
    house.click(page.empty.button)
    key, arguments = house.dialogs[0]
    assert key == "add_place"
    dialog = house.dialog(AddPlaceDialog(house.context, page, **arguments))
    assert (dialog.kind.value(), dialog.name.text()) == (PlaceKind.ROOM, "Room 1")
    house.click(dialog.go)
    assert page.tree.topLevelItem(0).text(0) == "Room 1"
    assert page.title.text() == "Room 1"
    assert page.met.text().endswith("Temperature not known; humidity not known.")


def test_the_tree_tells_what_is_met_and_how_much_lies_there(house: House) -> None:
    tree = house.open().tree
    fridge, other = tree.topLevelItem(0), tree.topLevelItem(1)
    assert [fridge.text(column) for column in range(4)] == ["Fridge 1", "4 °C, 15 % RH", "81", ""]
    assert [other.child(0).text(column) for column in range(4)] == ["Box 2", "4 °C, 15 % RH", "9", "72"]
    assert [item.data(1, OWN_ROLE) for item in (other, other.child(0))] == [True, False]
    spoken = other.child(0).data(0, Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == "Fridge 2 / Box 2, 4 °C, as Fridge 2; 15 % RH, as Fridge 2. 9 vials, 72 free slots"


def test_a_box_lies_open_with_a_sign_and_a_number_in_every_slot(house: House) -> None:
    page = house.open()
    assert page.title.text() == "Fridge 1 / Box 1"
    assert "81 of 81 slots taken · A alive · F fading · S spent · ? not known" in page.counts.text()
    model = page.grid.box
    assert {model.index(0, column).data() for column in range(9)} == {"A 61", "F 44", "S 8", "A 86"}
    assert model.headerData(2, Qt.Orientation.Vertical) == "C"
    assert model.headerData(3, Qt.Orientation.Horizontal) == "4"
    said = model.index(2, 3).data(Qt.ItemDataRole.AccessibleTextRole)
    assert said.startswith("C4: V-")
    assert "% alive, likely" in said
    turn(house, "Box 2")
    assert page.grid.box.index(8, 8).data(Qt.ItemDataRole.AccessibleTextRole) == "I9: free"


def test_slots_are_walked_selected_opened_and_moved_with_the_keyboard(house: House) -> None:
    page = house.open()
    grid = page.grid
    house.key(page.tree, Qt.Key.Key_Return)
    assert grid.hasFocus()
    assert not page.has(Needs.SELECTION)
    house.key(grid, Qt.Key.Key_Space)
    house.key(grid, Qt.Key.Key_Right, CTRL)
    house.key(grid, Qt.Key.Key_Right, CTRL)
    house.key(grid, Qt.Key.Key_Space)
    assert [row.place for row in grid.chosen_rows()] == ["Fridge 1 / Box 1 / A1", "Fridge 1 / Box 1 / A3"]
    house.key(grid, Qt.Key.Key_Down)
    house.key(grid, Qt.Key.Key_Right, SHIFT)
    assert [row.place[-2:] for row in grid.chosen_rows()] == ["B3", "B4"]
    assert page.has(Needs.SELECTION)
    house.key(grid, Qt.Key.Key_M, CTRL)
    assert house.dialogs == [("move_vials", {"vial_ids": tuple(row.id for row in grid.chosen_rows())})]
    house.key(grid, Qt.Key.Key_Return)
    assert house.went == [("vials", {"code": grid.chosen_rows()[1].code})]


def test_vials_dropped_on_a_slot_lie_from_there_on_and_go_back(house: House) -> None:
    house.open()
    page = turn(house, "Box 2")
    drop(page.grid, middle(page.grid, page.grid.box.index(2, 0)), [5, 1])
    house.settle()
    assert (house.lies(5), house.lies(1)) == ("Fridge 2 / Box 2 / C1", "Fridge 2 / Box 2 / C2")
    assert house.told.infos[-1][0] == "2 vials moved to Fridge 2 / Box 2."
    assert [row.id for row in page.grid.chosen_rows()] == [5, 1]
    stays = house.read(lambda bank: queries.stays(bank, [5])[5])
    assert stays[-1].since == TODAY
    house.told.infos[-1][1].do()
    house.settle()
    assert house.lies(5) == "Fridge 1 / Box 1 / A5"


def test_a_taken_slot_and_a_full_box_are_refused(house: House) -> None:
    house.open()
    page = turn(house, "Box 2")
    drop(page.grid, middle(page.grid, page.grid.box.index(0, 0)), [1])
    house.settle()
    assert "A1 of Fridge 2 / Box 2 is taken" in str(house.told.errors[-1])
    box = page.tree.topLevelItem(0).child(0)
    drop(page.tree, QPointF(page.tree.visualItemRect(box).center()), [85])
    house.settle()
    assert "0 free slots" in str(house.told.errors[-1])
    assert house.lies(1) == "Fridge 1 / Box 1 / A1"


def test_vials_dropped_on_the_tree_take_the_next_free_slots(house: House) -> None:
    page = house.open()
    box = page.tree.topLevelItem(1).child(0)
    drop(page.tree, QPointF(page.tree.visualItemRect(box).center()), [3, 4])
    house.settle()
    assert [house.lies(vial) for vial in (3, 4)] == ["Fridge 2 / Box 2 / B1", "Fridge 2 / Box 2 / B2"]
    assert page.title.text() == "Fridge 1 / Box 1"
    assert "79 of 81" in page.counts.text()


def test_what_is_no_vial_is_not_taken(house: House) -> None:
    page = house.open()
    data = as_mime([])
    for view in (page.grid, page.tree):
        event = QDragMoveEvent(
            view.rect().center(), Qt.DropAction.MoveAction, data, LEFT, Qt.KeyboardModifier.NoModifier
        )
        view.dragMoveEvent(event)
        assert not event.isAccepted()
    data.removeFormat("application/x-sporebank-vials")
    assert vials_of(data) == []


def test_a_place_without_slots_lists_what_lies_loose(house: House) -> None:
    page = house.open()
    turn(house, "Fridge 1")
    assert page.nothing.isVisible()
    assert page.counts.text() == "81 vials inside, 0 free slots."
    fridge = house.place("Fridge 1")
    house.read(lambda bank: vials.move(bank, [vials.Move(7, fridge)], TODAY))
    assert page.table.isVisible()
    house.key(page.table, Qt.Key.Key_Down)
    page.table.selectRow(0)
    assert [row.id for row in page.chosen_rows()] == [7]
    house.click(page.deeds["move_slots"])
    assert house.dialogs[-1] == ("move_vials", {"vial_ids": (7,)})
    house.click(page.deeds["show_vials"])
    assert house.went[-1] == ("vials", {"place_id": fridge})


def test_a_box_is_added_beside_the_one_chosen(house: House) -> None:
    page = house.open()
    page.add_place()
    dialog = house.dialog(AddPlaceDialog(house.context, page, **house.dialogs[-1][1]))
    assert (dialog.kind.value(), dialog.inside.currentText()) == (PlaceKind.BOX, "Fridge 1")
    assert dialog.name.text() == "Box 2"
    assert dialog.rows.isVisible()
    assert doubled_letters(dialog) == []
    house.key(dialog.usual, Qt.Key.Key_Down)
    assert (dialog.rows.value(), dialog.columns.value()) == (10, 10)
    house.key(dialog.columns, Qt.Key.Key_Up)
    assert dialog.usual.currentText() == "other"
    dialog.name.selectAll()
    house.qtbot.keyClicks(dialog.name, "box 1")
    house.key(dialog.name, Qt.Key.Key_Return)
    assert "already a box 1" in dialog.form.fields["name"].error
    dialog.name.selectAll()
    house.qtbot.keyClicks(dialog.name, "Tin")
    house.qtbot.keyClicks(dialog.temperature.line, "cold")
    house.key(dialog.name, Qt.Key.Key_Return)
    assert "not a number" in dialog.form.fields["temperature"].error
    dialog.temperature.line.clear()
    house.key(dialog.name, Qt.Key.Key_Return)
    assert not dialog.isVisible()
    assert page.title.text() == "Fridge 1 / Tin"
    assert (page.grid.box.rowCount(), page.grid.box.columnCount()) == (10, 11)


def test_only_a_box_asks_for_rows_and_columns(house: House) -> None:
    page = house.open()
    dialog = house.dialog(AddPlaceDialog(house.context, page, parent_id=house.place("Box 1")))
    house.key(dialog.kind, Qt.Key.Key_Up)
    assert dialog.kind.value() is PlaceKind.SHELF
    assert not dialog.rows.isVisible()
    assert dialog.name.text() == "Shelf 1"
    assert next_name([], None, PlaceKind.FREEZER) == "Freezer 1"


def test_a_place_is_renamed_and_everything_below_follows(house: House) -> None:
    page = house.open()
    turn(house, "Fridge 2")
    page.rename_place()
    dialog = house.dialog(RenameDialog(house.context, page, **house.dialogs[-1][1]))
    house.qtbot.keyClicks(dialog.name, "Fridge 1")
    house.key(dialog.name, Qt.Key.Key_Return)
    assert "already a Fridge 1" in dialog.form.fields["name"].error
    dialog.name.selectAll()
    house.qtbot.keyClicks(dialog.name, "Cold shelf")
    house.key(dialog.name, Qt.Key.Key_Return)
    assert page.title.text() == "Cold shelf"
    assert house.lies(85).startswith("Cold shelf / Box 2")


def test_conditions_are_set_from_a_day_and_the_cold_is_spoken_of(house: House) -> None:
    page = house.open()
    turn(house, "Box 1")
    page.set_conditions()
    dialog = house.dialog(ConditionsDialog(house.context, page, **house.dialogs[-1][1]))
    assert dialog.temperature.value() is None
    house.qtbot.keyClicks(dialog.temperature.line, "-80")
    assert dialog.caution.text() == forecast_words.COLD
    dialog.temperature.line.selectAll()
    house.qtbot.keyClicks(dialog.temperature.line, "-18")
    assert dialog.caution.text() == forecast_words.FREEZER
    house.qtbot.keyClicks(dialog.humidity.line, "150")
    house.key(dialog.humidity.line, Qt.Key.Key_Return)
    assert "between 0 and 100" in dialog.form.fields["humidity"].error
    dialog.humidity.line.selectAll()
    house.qtbot.keyClicks(dialog.humidity.line, "20")
    dialog.on.line.selectAll()
    house.qtbot.keyClicks(dialog.on.line, "1 May 2026")
    house.key(dialog.on.line, Qt.Key.Key_Return)
    assert not dialog.isVisible()
    last = house.read(lambda bank: queries.stays(bank, [1])[1][-1])
    assert (last.since, last.temperature, last.humidity) == (date(2026, 5, 1), -18.0, 20.0)
    assert page.caution.text() == forecast_words.FREEZER
    assert page.met.text().endswith("−18 °C, its own; 20 % RH, its own.")


def test_what_the_forecast_makes_of_the_cold() -> None:
    assert [cold_caution(celsius) for celsius in (None, 4.0, 0.0)] == ["", "", ""]
    assert cold_caution(-18.0) == forecast_words.FREEZER
    assert cold_caution(-80.0) == forecast_words.COLD


def test_a_whole_box_moves_with_its_vials(house: House) -> None:
    page = house.open()
    turn(house, "Box 1")
    page.move_place()
    dialog = house.dialog(MovePlaceDialog(house.context, page, **house.dialogs[-1][1]))
    choices = [dialog.inside.itemText(number) for number in range(dialog.inside.count())]
    assert choices == ["at the top", "Fridge 1", "Fridge 2"]
    house.key(dialog.inside, Qt.Key.Key_Down)
    house.click(dialog.go)
    assert house.lies(1) == "Fridge 2 / Box 1 / A1"
    assert page.title.text() == "Fridge 2 / Box 1"
    assert house.read(lambda bank: queries.stays(bank, [1])[1][-1]).since == TODAY


def test_labels_are_offered_for_what_lies_in_a_place(house: House) -> None:
    page = house.open()
    turn(house, "Fridge 2")
    page.place_labels()
    house.settle()
    key, arguments = house.dialogs[-1]
    assert key == "labels"
    assert len(house.read(lambda bank: label_records.gather(bank, arguments["kind"], arguments["find"](bank)))) == 9
    house.read(lambda bank: add_place(bank, PlaceForm(PlaceKind.ROOM, "Shed")))
    turn(house, "Shed")
    page.place_labels()
    house.settle()
    assert house.told.infos[-1][0] == "There is no vial in this place."


def choose_label(house: House, down: int) -> Any:
    """Open the menu of labels, go down so many times, and return what is asked of the window."""
    button = house.page.labels
    button.setFocus()
    house.key(button, Qt.Key.Key_Space)
    for _ in range(down):
        house.key(button.menu(), Qt.Key.Key_Down)
    house.key(button.menu(), Qt.Key.Key_Return)
    return house.dialogs[-1]


def test_a_place_and_all_places_in_it_are_labelled_from_the_menu(house: House) -> None:
    page = house.open()
    turn(house, "Fridge 2")
    key, arguments = choose_label(house, 2)
    assert (key, arguments["title"], arguments["kind"]) == ("labels", "Labels of places", Kind.PLACE)
    assert arguments["find"](None) == [house.place("Fridge 2")]
    key, arguments = choose_label(house, 3)
    assert (key, arguments["kind"]) == ("labels", Kind.BOX)
    found = house.read(lambda bank: label_records.gather(bank, arguments["kind"], arguments["find"](bank)))
    assert [(label.title, label.path) for label in found] == [("Fridge 2", ""), ("Box 2", "Fridge 2")]
    key, arguments = choose_label(house, 1)
    assert (key, arguments["kind"]) == ("labels", Kind.VIAL)
    turn(house, "Box 2")
    assert choose_label(house, 3)[1]["find"](None) == [house.place("Box 2")]
    assert page.isVisible()


def test_the_label_of_a_box_is_printed_and_read_back(house: House) -> None:
    house.open()
    turn(house, "Box 2")
    _, arguments = choose_label(house, 2)
    dialog = house.dialog(LabelsDialog(house.context, house.page, **arguments))
    house.qtbot.waitUntil(dialog.save_button.isEnabled, timeout=20_000)
    box = house.place("Box 2")
    code = house.read(lambda bank: queries.place(bank, box)[0].code)
    assert symbols(pictures(dialog.pdf, 300)) == [code]


def test_a_scanned_place_is_turned_to_also_before_the_page_was_ever_shown(house: House) -> None:
    box = house.place("Box 2")
    code = house.read(lambda bank: queries.place(bank, box)[0].code)
    page = PlacesPage(house.context)
    page.focus_on(code=code)
    house.show(page)
    house.settle()
    assert page.title.text() == "Fridge 2 / Box 2"
    page.focus_on(code="L00000000X")
    house.settle()
    assert "No place with the code" in house.told.infos[-1][0]


def test_the_place_chosen_last_is_chosen_again(house: House) -> None:
    house.open()
    turn(house, "Box 2")
    again = house.open()
    assert again.title.text() == "Fridge 2 / Box 2"


@pytest.mark.parametrize("size", [(1000, 620), (520, 420)])
def test_slots_are_drawn_whatever_the_room(house: House, size: tuple[int, int]) -> None:
    page = house.open()
    page.resize(*size)
    house.settle()
    page.grid.setFocus()
    plain = page.grid.grab().toImage()
    page.grid.selectAll()
    assert page.grid.grab().toImage() != plain
    cell = page.grid.visualRect(page.grid.box.index(0, 0))
    assert cell.height() >= page.grid.fontMetrics().height()
    assert isinstance(page.tree.grab(), QPixmap)


def test_every_control_has_a_name(house: House) -> None:
    page = house.open()
    for widget in page.findChildren(QWidget):
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isVisible():
            named = widget.accessibleName() or getattr(widget, "text", lambda: "")()
            assert named, f"{type(widget).__name__} has no name"
    assert doubled_letters(page) == []
