from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QScrollArea, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import queries, tables
from sporebank.core import codes, names
from sporebank.core.records import Advice, State
from sporebank.window.actions import Needs
from sporebank.window.context import Context
from sporebank.window.pages.vials import VialsPage
from sporebank.window.theme import Theme
from tests.window.conftest import TAXA, Told

Make = Callable[..., Context]
Show = Callable[[QWidget], QWidget]
Settle = Callable[[Context], None]


def _open(context: Context, show: Show, settle: Settle, qtbot: QtBot) -> VialsPage:
    page = VialsPage(context)
    qtbot.addWidget(page.panel)
    show(page)
    page.resize(900, 600)
    settle(context)
    return page


def test_all_vials_are_shown_in_order_of_their_taxon(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    page = _open(make_context(60), show, settle, qtbot)
    assert page.model.rowCount() == 60
    taxa = [names.sort_key(page.model.row_at(row).name) for row in range(60)]
    assert taxa == sorted(taxa)
    assert len(set(taxa)) == len(TAXA)
    assert "60 vials" in page.counts.text()


def test_chips_filter_and_show_all_widens(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(60)
    page = _open(context, show, settle, qtbot)
    qtbot.mouseClick(page.filters.states.buttons["spent"], Qt.MouseButton.LeftButton)
    settle(context)
    assert page.model.rowCount() == 15
    assert {page.model.row_at(row).state for row in range(15)} == {State.SPENT}
    qtbot.mouseClick(page.filters.surplus, Qt.MouseButton.LeftButton)
    settle(context)
    assert 0 < page.model.rowCount() < 15
    qtbot.mouseClick(page.filters.only, Qt.MouseButton.LeftButton)
    settle(context)
    assert page.model.rowCount() == 60


def test_places_and_years_filter(qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle) -> None:
    context = make_context(100)
    page = _open(context, show, settle, qtbot)
    at = page.filters.places.findText("Fridge 2")
    page.filters.places.setCurrentIndex(at)
    page.filters.places.activated.emit(at)
    settle(context)
    assert 0 < page.model.rowCount() < 100
    assert all(page.model.row_at(row).place.startswith("Fridge 2") for row in range(page.model.rowCount()))
    page.focus_on(state=None)
    settle(context)
    page.filters.years.setCurrentIndex(1)
    page.filters.years.activated.emit(1)
    settle(context)
    year = page.filters.years.currentData()
    assert {page.model.row_at(row).collected.year for row in range(page.model.rowCount())} == {year}


def test_advice_filters_by_the_keyboard(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(60)
    words = "CASE vial_id % 3 WHEN 0 THEN 'keep' WHEN 1 THEN 'sow first' ELSE 'cull' END"
    context.do(lambda bank: bank.database.execute_sql(f"UPDATE figure SET advice = {words}"))
    page = _open(context, show, settle, qtbot)
    given = {page.model.row_at(row).advice for row in range(60)}
    assert given == {Advice.KEEP, Advice.SOW, Advice.CULL}
    page.filters.advice.setFocus()
    for wanted in Advice:
        qtbot.keyClick(page.filters.advice, Qt.Key.Key_Down)
        settle(context)
        shown = {page.model.row_at(row).advice for row in range(page.model.rowCount())}
        assert shown == given & {wanted}


def test_a_header_sorts_by_amount_as_a_number(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(60)
    page = _open(context, show, settle, qtbot)
    left = [column.key for column in page.model.columns].index("left")
    page.table.sortByColumn(left, Qt.SortOrder.DescendingOrder)
    settle(context)
    amounts = [page.model.row_at(row).left for row in range(60)]
    assert amounts == sorted(amounts, reverse=True)
    assert amounts[0] > 9_999 > amounts[-1]


def test_text_finds_and_nothing_found_says_so(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(60)
    page = _open(context, show, settle, qtbot)
    page.focus_on(text="osmunda")
    settle(context)
    assert {page.model.row_at(row).name.genus for row in range(page.model.rowCount())} == {"Osmunda"}
    page.focus_on(text="no such fern")
    settle(context)
    assert page.empty.isVisible()
    assert page.empty.title.text() == "Nothing fits"
    assert page.empty.button.isHidden()


def test_an_empty_bank_says_what_to_do_first(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context()
    page = _open(context, show, settle, qtbot)
    went: list[str] = []
    context.gone.connect(lambda key, focus: went.append(key))
    assert page.empty.title.text() == "No vials yet"
    qtbot.mouseClick(page.empty.button, Qt.MouseButton.LeftButton)
    assert went == ["store"]


def test_a_scanned_vial_is_chosen_and_told_about(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle, told: Told
) -> None:
    context = make_context(60)
    page = _open(context, show, settle, qtbot)
    code = codes.make("V", context.tag, 37)
    page.focus_on(state=State.ALIVE)
    settle(context)
    page.focus_on(code=code)
    settle(context)
    assert page.has(Needs.ONE)
    qtbot.waitUntil(lambda: codes.grouped(code) in page.panel.accessibleDescription())
    page.focus_on(code=codes.make("V", context.tag, 30_000))
    settle(context)
    assert "No vial with the code" in told.infos[0][0]
    assert told.bugs == []


def test_a_scanned_batch_shows_its_vials(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(60)
    page = _open(context, show, settle, qtbot)
    code = codes.make("B", context.tag, 3)
    page.focus_on(code=code)
    settle(context)
    assert page.model.rowCount() == 4
    assert {page.model.row_at(row).batch for row in range(4)} == {code}


def test_actions_are_given_every_vial_chosen_in_the_order_of_the_table(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(450)
    page = _open(context, show, settle, qtbot)
    asked: list[tuple[str, dict[str, object]]] = []
    context.dialog_wanted.connect(lambda key, arguments: asked.append((key, arguments)))
    assert not page.has(Needs.SELECTION)
    page.table.selectRow(1)
    page.move_vials()
    page.select_all()
    assert page.has(Needs.SELECTION)
    assert not page.has(Needs.ONE)
    page.take_spore()
    settle(context)
    order: list[list[int]] = []
    context.read(lambda bank: queries.vial_ids(bank, page.filters.filter, "taxon", False), order.append)
    settle(context)
    assert asked[0] == ("move_vials", {"vial_ids": (order[0][1],)})
    assert asked[1] == ("take_spore", {"vial_ids": tuple(order[0])})


def test_a_deed_elsewhere_is_seen_and_the_choice_kept(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(60)
    page = _open(context, show, settle, qtbot)
    page.table.selectRow(3)
    row = page.model.row_at(3)

    def note(bank) -> None:
        with bank.change("Note on a vial") as tx:
            tx.update(tables.Vial, row.id, note="cap is cracked")

    with qtbot.waitSignal(context.changed):
        context.do(note)
    settle(context)
    assert page.model.row_at(3).note == "cap is cracked"
    assert page.has(Needs.ONE)


def test_a_page_out_of_sight_waits_until_it_is_shown(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(8)
    page = _open(context, show, settle, qtbot)
    refreshed: list[int] = []
    page.refresh = lambda: refreshed.append(1)
    page.hide()

    def note(bank) -> None:
        with bank.change("Note on a vial") as tx:
            tx.update(tables.Vial, 1, note="label is smudged")

    with qtbot.waitSignal(context.changed):
        context.do(note)
    assert refreshed == []
    page.show()
    assert refreshed == [1]


def test_every_control_has_a_name(qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle) -> None:
    page = _open(make_context(8), show, settle, qtbot)
    for widget in page.findChildren(QWidget):
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus and widget.isVisible():
            named = widget.accessibleName() or getattr(widget, "text", lambda: "")()
            assert named, f"{type(widget).__name__} has no name"


def test_the_panel_says_whether_there_is_a_vial_to_choose_and_scrolls_with_the_keys(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(8)
    page = _open(context, show, settle, qtbot)
    assert page.panel.accessibleDescription() == "Choose a vial"
    page.table.selectRow(0)
    with qtbot.waitSignal(page.panel.currentChanged):
        pass
    page.panel.resize(260, 200)
    show(page.panel)
    bar = page.panel.findChildren(QScrollArea)[0].verticalScrollBar()
    qtbot.waitUntil(lambda: bar.maximum() > 0)
    for key, at in ((Qt.Key.Key_End, bar.maximum()), (Qt.Key.Key_Home, 0)):
        qtbot.keyClick(page.panel, key)
        assert bar.value() == at
    page.focus_on(text="no such fern")
    settle(context)
    assert page.panel.accessibleDescription() == "No vial to choose"


def test_the_bags_of_the_batches_of_the_vials_chosen_are_labelled_once_each(
    qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle
) -> None:
    context = make_context(8)
    page = _open(context, show, settle, qtbot)
    asked: list[dict[str, Any]] = []
    context.dialog_wanted.connect(lambda _, arguments: asked.append(arguments))
    page.select_all()
    page.bag_labels()
    settle(context)
    assert asked[0]["kind"] == "bag"
    assert sorted(asked[0]["find"](None)) == [1, 2]
