"""A stocktake by a simulated scanner, in the real dialog."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from sporebank.bank import invariants, queries
from sporebank.core import codes, slots
from sporebank.core.stocktake import Correction, Part
from sporebank.jobs import undo
from sporebank.window.context import Context
from sporebank.window.stocktake_grid import StockGrid
from sporebank.window.tell import Question
from sporebank.window.theme import Theme
from sporebank.window.widgets.names import PAD
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, Show
from tests.window.keys import at, bring_to_front

FOREIGN = codes.make("V", "ABC", 7)


@pytest.fixture
def desk(
    qtbot: QtBot, make_context: Callable[..., Context], settle: Callable[[Context], None], told: Told
) -> DialogDesk:
    return DialogDesk(qtbot, make_context(85), settle, told)


def _boxes(desk: DialogDesk):
    listed = desk.read(queries.places)
    return [
        (place, desk.read(lambda bank, place=place: queries.box_vials(bank, place.id)))
        for place, _, _ in listed
        if place.rows
    ]


def _figures(dialog) -> dict[str, str]:
    return {key: figure.text() for key, figure in dialog.figures.items()}


def test_what_is_scanned_fills_in_and_what_is_not_right_is_set_right_in_one_deed(desk: DialogDesk) -> None:
    (box, full), (_, few) = _boxes(desk)
    dialog = desk.open("stocktake", place_id=box.id)
    for _, row in full[:78]:
        dialog.take_scan(row.code)
    dialog.take_scan(few[0][1].code)
    dialog.take_scan(codes.make("V", "000" if desk.context.tag != "000" else "001", 7))
    assert _figures(dialog) == {"right": "78", "missing": "3", "wrong": "0", "strangers": "2"}
    dialog.show_result()
    desk.settle()
    view = dialog.found
    assert "3 missing" in view.head.text()
    view.table.selectAll()
    desk.qtbot.mouseClick(view.buttons[Correction.MISSING], Qt.MouseButton.LeftButton)
    desk.qtbot.mouseClick(dialog.write, Qt.MouseButton.LeftButton)
    desk.settle()
    assert desk.told is not None
    assert desk.told.bugs == []
    assert len(desk.read(lambda bank: queries.box_vials(bank, box.id))) == 79
    assert desk.read(invariants.broken) == []
    desk.read(undo.undo)
    assert [row.code for _, row in desk.read(lambda bank: queries.box_vials(bank, box.id))] == [
        row.code for _, row in full
    ]


def test_slot_by_slot_space_leaves_one_empty_and_a_swap_is_written(desk: DialogDesk) -> None:
    (box, full), _ = _boxes(desk)
    dialog = desk.open("stocktake", place_id=box.id)
    desk.qtbot.mouseClick(dialog.ways.buttons["slot by slot"], Qt.MouseButton.LeftButton)
    order = [row.code for _, row in full]
    order[0], order[1] = order[1], order[0]
    for code in order[:4]:
        dialog.take_scan(code)
    desk.qtbot.keyClick(dialog.grid, Qt.Key.Key_Space)
    for code in order[5:]:
        dialog.take_scan(code)
    assert _figures(dialog) == {"right": "78", "missing": "1", "wrong": "2", "strangers": "0"}
    dialog.show_result()
    desk.settle()
    desk.qtbot.mouseClick(dialog.write, Qt.MouseButton.LeftButton)
    desk.settle()
    assert [row.code for _, row in desk.read(lambda bank: queries.box_vials(bank, box.id))] == order


def test_a_half_done_stocktake_is_gone_on_with(desk: DialogDesk) -> None:
    (box, full), _ = _boxes(desk)
    first = desk.open("stocktake", place_id=box.id)
    for _, row in full[:5]:
        first.take_scan(row.code)
    first.reject()
    again = desk.open("stocktake", place_id=box.id)
    assert _figures(again)["right"] == "5"


def test_a_vial_of_another_box_is_told_its_slot_before_it_is_written(desk: DialogDesk) -> None:
    (box, full), (_, few) = _boxes(desk)
    dialog = desk.open("stocktake")
    dialog.take_scan(box.code)
    for _, row in full[:79]:
        dialog.take_scan(row.code)
    stray = few[0][1].code
    dialog.take_scan(stray)
    dialog.show_result()
    desk.settle()
    view = dialog.found
    rows = {row.line.text: (number, row) for number, row in enumerate(view.model.rows)}
    number, row = rows[stray]
    assert row.does() == "Move there: no slot is free"
    desk.qtbot.mouseClick(dialog.write, Qt.MouseButton.LeftButton)
    desk.settle()
    assert "has no free slot on record" in dialog.message.text()
    view.table.choose_rows([rows[full[79][1].code][0]])
    desk.qtbot.mouseClick(view.buttons[Correction.MISSING], Qt.MouseButton.LeftButton)
    assert row.does() == f"Move to {slots.label(full[79][0], box.columns)}, first free"
    assert view.model.data(view.model.index(number, 2)) == row.does()
    desk.qtbot.mouseClick(dialog.write, Qt.MouseButton.LeftButton)
    desk.settle()
    assert "first free slot into the one named" in view.right.text()
    inside = {row.code: slot for slot, row in desk.read(lambda bank: queries.box_vials(bank, box.id))}
    assert inside[stray] == full[79][0]


@pytest.mark.parametrize("way", ["in any order", "slot by slot"])
def test_closed_in_the_middle_it_goes_on_at_the_same_slot(desk: DialogDesk, way: str) -> None:
    (box, full), (other, _) = _boxes(desk)
    first = desk.open("stocktake", place_id=None)
    desk.qtbot.mouseClick(first.ways.buttons[way], Qt.MouseButton.LeftButton)
    first.take_scan(box.code)
    for _, row in full[:7]:
        first.take_scan(row.code)
    first.take_scan(codes.make("V", "000" if desk.context.tag != "000" else "001", 7))
    desk.qtbot.keyClick(first, Qt.Key.Key_Escape)
    assert first.isHidden()
    again = desk.open("stocktake", place_id=None)
    assert "Gone on with where you left it" in again.last.text()
    assert (again.taken.at, again.taken.slot, again.taken.way.value) == (box.id, first.taken.slot, way)
    assert _figures(again) == _figures(first)
    again.take_scan(full[8][1].code)
    assert again.taken.found[full[8][1].code].slot == (8 if way == "slot by slot" else None)
    assert desk.open("stocktake", place_id=other.id).last.text() == ""


def test_what_is_scanned_after_the_end_begins_the_next_stocktake(desk: DialogDesk) -> None:
    (box, full), _ = _boxes(desk)
    dialog = desk.open("stocktake", place_id=box.id)
    for _, row in full[:80]:
        dialog.take_scan(row.code)
    dialog.show_result()
    desk.settle()
    dialog.found.table.selectAll()
    desk.qtbot.mouseClick(dialog.found.buttons[Correction.LOST], Qt.MouseButton.LeftButton)
    desk.qtbot.mouseClick(dialog.write, Qt.MouseButton.LeftButton)
    desk.settle()
    for _, row in full[:2]:
        dialog.take_scan(row.code)
    desk.settle()
    assert _figures(dialog) == {"right": "2", "missing": "78", "wrong": "0", "strangers": "0"}
    assert desk.told is not None
    assert desk.told.bugs == []


def test_another_way_forgets_what_was_said_and_pictures_count_in_any_order_only(desk: DialogDesk) -> None:
    (box, full), _ = _boxes(desk)
    dialog = desk.open("stocktake", place_id=box.id)
    dialog.take_scan(full[0][1].code)
    assert dialog.last.text().startswith("Right: ")
    assert dialog.picture.isEnabled()
    desk.qtbot.mouseClick(dialog.ways.buttons["slot by slot"], Qt.MouseButton.LeftButton)
    assert dialog.last.text().startswith("Right: ")  # not forgotten without a yes
    assert desk.told is not None
    desk.told.answer = "Forget it"
    desk.qtbot.mouseClick(dialog.ways.buttons["slot by slot"], Qt.MouseButton.LeftButton)
    assert (dialog.last.text(), dialog.earlier.text()) == ("", "")
    assert not dialog.picture.isEnabled()


def test_return_neither_chooses_a_way_nor_a_correction(desk: DialogDesk) -> None:
    (box, full), _ = _boxes(desk)
    dialog = desk.open("stocktake", place_id=box.id)
    for _, row in full[:3]:
        dialog.take_scan(row.code)
    for widget in (dialog.grid, dialog.ways.buttons["slot by slot"], dialog.scope):
        widget.setFocus()
        desk.enter(dialog)
    desk.qtbot.mouseClick(dialog.ways.buttons["in any order"], Qt.MouseButton.LeftButton)  # the one that holds
    assert desk.told is not None
    assert desk.told.asked == []
    assert _figures(dialog)["right"] == "3"
    dialog.show_result()
    desk.settle()
    dialog.found.table.selectAll()
    desk.enter(dialog)
    assert dialog.found.corrected() == []


def test_what_was_scanned_is_not_forgotten_by_return(qtbot: QtBot, theme: Theme) -> None:
    question = Question("Forget what was scanned so far?", ["Forget it"], careful=True)
    qtbot.addWidget(question)
    with qtbot.waitExposed(question):
        question.show()
    bring_to_front(qtbot, question)
    qtbot.keyClick(at(question), Qt.Key.Key_Return)
    assert question.isHidden()
    assert question.chosen == ""


def test_a_stocktake_left_long_ago_says_of_which_day_it_is(desk: DialogDesk) -> None:
    (box, full), _ = _boxes(desk)
    first = desk.open("stocktake", place_id=box.id)
    first.take_scan(full[0][1].code)
    first.reject()
    today = desk.open("stocktake", place_id=box.id)
    assert today.last.text() == "Gone on with where you left it on 4 May 2026."
    assert today.message.isHidden()
    today.reject()  # nothing more was scanned, so its day stays
    desk.context.today = lambda: date(2026, 11, 2)
    again = desk.open("stocktake", place_id=box.id)
    assert again.message.text() == "This was scanned on 4 May 2026. Press “Begin anew” to count afresh."
    assert again.message.isVisible()
    assert desk.told is not None
    desk.told.answer = "Forget it"
    desk.qtbot.mouseClick(again.anew, Qt.MouseButton.LeftButton)
    desk.settle()
    assert again.message.isHidden()
    assert _figures(again)["right"] == "0"
    again.take_scan(full[0][1].code)
    again.reject()
    assert desk.open("stocktake", place_id=box.id).last.text() == "Gone on with where you left it on 2 Nov 2026."


def test_a_scan_right_after_the_result_was_asked_for_is_looked_at_first(desk: DialogDesk) -> None:
    (box, full), _ = _boxes(desk)
    dialog = desk.open("stocktake", place_id=box.id)
    dialog.take_scan(full[0][1].code)
    dialog.show_result()
    dialog.take_scan(full[1][1].code)
    desk.settle()
    assert dialog.pages.currentIndex() == 0
    assert dialog.last.text().startswith("Right: ")
    dialog.show_result()
    desk.settle()
    assert dialog.pages.currentIndex() == 1
    assert dialog.found.head.text().startswith("2 right")


@pytest.mark.parametrize("size", [(1040, 660), (894, 464)])
@pytest.mark.parametrize("scope", ["one box", "the bank"])
def test_the_result_shows_every_slot_without_scrolling(desk: DialogDesk, scope: str, size: tuple[int, int]) -> None:
    """On a screen of 1366 by 768 it comes up at the first size, at 150 % of its size at the second."""
    (box, full), (_, few) = _boxes(desk)
    dialog = desk.open("stocktake", place_id=box.id if scope == "one box" else None)
    assert dialog.scope.currentText() == ("Fridge 1 / Box 1" if scope == "one box" else "The whole bank")
    dialog.resize(*size)
    desk.qtbot.mouseClick(dialog.ways.buttons["slot by slot"], Qt.MouseButton.LeftButton)
    dialog.take_scan(box.code)
    for code in (full[1][1].code, full[0][1].code, few[0][1].code, FOREIGN):
        dialog.take_scan(code)
    dialog.show_result()
    desk.settle()
    table, rows = dialog.found.table, dialog.found.model.rows
    assert table.horizontalScrollBar().maximum() == 0
    first = next(row for row in rows if row.line.text == full[0][1].code)
    path = "" if scope == "one box" else "Fridge 1 / Box 1 / "
    assert (first.expected(), first.found()) == (f"{path}A1", f"{path}A2")
    for column, text in ((3, first.expected()), (4, first.found())):
        room = table.columnWidth(column) - 2 * PAD
        assert table.itemDelegateForColumn(column).shortened(text, table.fontMetrics(), room).endswith(text[-2:])
    assert ("1 stranger" if scope == "the bank" else "2 strangers") in dialog.found.head.text()
    assert dialog.found.right.text().startswith(
        f"Stocktake of {'the whole bank' if scope == 'the bank' else 'Fridge 1 / Box 1'}."
    )
    assert dialog.words["strangers"].text() == ("stranger" if scope == "the bank" else "strangers")


def test_the_result_is_not_scrolled_sideways_the_second_time_either(desk: DialogDesk) -> None:
    """The first time the last column was made wider, for there was room; what it was is not to be had again."""
    dialogs = []
    for size in ((1240, 660), (1040, 660)):
        dialog = desk.open("stocktake")
        dialog.resize(*size)
        dialog.show_result()
        desk.settle()
        dialogs.append(dialog)
    assert dialogs[-1].found.table.horizontalScrollBar().maximum() == 0


@pytest.mark.parametrize(("size", "rows", "columns"), [((640, 500), 6, 10), ((300, 500), 9, 9), ((700, 480), 3, 4)])
def test_a_box_fills_the_room_it_has(show: Show, size: tuple[int, int], rows: int, columns: int) -> None:
    grid = StockGrid()
    grid.resize(*size)
    grid.show_box(Part(1, "L", "Box", rows, columns), {}, None)
    show(grid)
    first, last = grid._cell(0), grid._cell(rows * columns - 1)
    assert grid.rect().contains(last.toAlignedRect())
    across, down = last.right() / grid.width(), last.bottom() / grid.height()
    assert max(across, down) > 0.9 or first.height() > 90 or first.width() > 90
    assert 1 / 1.45 < first.width() / first.height() < 1.45
