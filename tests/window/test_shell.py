from __future__ import annotations

import threading
from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank import tables
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.jobs.sharing import Wish
from sporebank.window.background import Background
from sporebank.window.context import Context
from sporebank.window.find_field import FindField, looks_like_code
from sporebank.window.main import MainWindow
from sporebank.window.notice import Notice, Strip
from sporebank.window.page import Page
from sporebank.window.pages import PAGES, PageSpec
from sporebank.window.rail import Rail
from sporebank.window.screens import room_for
from sporebank.window.tell import Offer
from sporebank.window.theme import Theme
from tests.builders import asked
from tests.window.conftest import Told

Make = Callable[..., Context]
Show = Callable[[QWidget], QWidget]
Settle = Callable[[Context], None]


class PlainPage(Page):
    """A page of the tests: a button."""

    kinds = frozenset({"vial"})

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self.button = QPushButton("Do")
        self.body.addWidget(self.button)
        self.focused: dict[str, object] = {}

    def refresh(self) -> None:
        self.setToolTip("fresh")

    def focus_on(self, **focus: object) -> None:
        self.focused = focus

    def first_focus(self) -> QWidget:
        return self.button


PLACES = PageSpec("places", "Places", "places", "tests.window.test_shell:PlainPage")
SHARE = PageSpec("share", "Share", "share", "tests.window.test_shell:PlainPage")
VIALS = PageSpec("vials", "Vials", "vial", "sporebank.window.pages.vials:VialsPage")


@pytest.fixture
def window(make_context: Make, show: Show, settle: Settle, theme: Theme) -> MainWindow:
    context = make_context(30)
    made = MainWindow(context, (VIALS, PLACES, SHARE))
    show(made)
    made.activateWindow()
    settle(context)
    return made


def _note(vial_id: int) -> Callable[[Bank], None]:
    def job(bank: Bank) -> None:
        with bank.change("Note on a vial") as tx:
            tx.update(tables.Vial, vial_id, note="cap is cracked")

    return job


def test_the_window_says_which_bank_it_shows_and_where_it_lies(window: MainWindow) -> None:
    context = window.page().context
    assert "Fern House" in window.windowTitle()
    named = [one.accessibleName() for one in window.findChildren(QLabel)]
    assert any(str(context.path) in name for name in named)


def test_pages_open_by_their_number_and_by_the_rail(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert isinstance(window.page(), PlainPage)
    assert window.page().toolTip() == "fresh"
    window.rail.chosen.emit("vials")
    assert window.page().side_panel is not None


def test_the_rail_counts_what_waits(qtbot: QtBot, window: MainWindow) -> None:
    button = window.rail._buttons["share"]
    window.page().context.do(lambda bank: asked(bank, Wish(1, 1_000, taxon_id=1)))
    qtbot.waitUntil(lambda: button.accessibleName() == "Share, 1 waiting")


def test_a_page_can_be_asked_for_with_a_focus(window: MainWindow) -> None:
    window.page().context.go("places", place_id=4)
    assert isinstance(window.page(), PlainPage)
    assert window.page().focused == {"place_id": 4}


def test_actions_are_enabled_by_what_is_there(qtbot: QtBot, window: MainWindow) -> None:
    by_id = window.commands.by_id
    assert by_id["store_batch"].isEnabled()
    assert not by_id["take_spore"].isEnabled()
    window.page().table.selectRow(0)
    assert by_id["take_spore"].isEnabled()
    assert by_id["open_clone"].isEnabled()
    window.page().select_all()
    assert not by_id["open_clone"].isEnabled()
    window.show_page("places")
    assert not by_id["take_spore"].isEnabled()


def test_undo_and_redo_go_by_name(qtbot: QtBot, window: MainWindow, settle: Settle, told: Told) -> None:
    context = window.page().context
    undo, redo = window.commands.by_id["undo"], window.commands.by_id["redo"]
    with qtbot.waitSignal(context.changed):
        context.do(_note(1), lambda _: context.done("Noted"))
    settle(context)
    assert undo.text() == "Undo: Note on a vial"
    offer = told.infos[0][1]
    assert offer is not None
    with qtbot.waitSignal(context.changed):
        offer.do()
    settle(context)
    assert redo.text() == "Redo: Note on a vial"
    assert told.infos[-1][0] == "Taken back: Note on a vial"
    with qtbot.waitSignal(context.changed):
        redo.trigger()
    settle(context)
    assert undo.text() == "Undo: Note on a vial"
    assert not redo.isEnabled()


def test_a_refusal_without_a_form_is_told(qtbot: QtBot, window: MainWindow, told: Told) -> None:
    def refuse(bank: Bank) -> None:
        raise Refusal("There is not enough in it.")

    window.page().context.do(refuse)
    qtbot.waitUntil(lambda: bool(told.errors))
    assert str(told.errors[0]) == "There is not enough in it."


def test_a_scan_finds_a_vial_from_any_page(qtbot: QtBot, window: MainWindow, settle: Settle, told: Told) -> None:
    window.show_page("places")
    qtbot.keyClick(window, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    assert window.focusWidget() is window.find_field
    qtbot.keyClicks(window.find_field, codes.make("V", window.page().context.tag, 7).lower())
    qtbot.keyClick(window.find_field, Qt.Key.Key_Return)
    context = window.page().context
    settle(context)
    page = window.page()
    assert [page.model.row_at(row).code for row in page.table.chosen_rows()] == [codes.make("V", context.tag, 7)]
    assert told.errors == []


def test_text_filters_the_vials_while_the_keyboard_stays_in_the_field(
    qtbot: QtBot, window: MainWindow, settle: Settle
) -> None:
    window.find_field.setFocus()
    qtbot.keyClicks(window.find_field, "osmunda")
    page = window.page()
    qtbot.waitUntil(lambda: page.filters.filter.text == "osmunda")
    settle(page.context)
    assert 0 < page.model.rowCount() < 30
    assert window.focusWidget() is window.find_field
    qtbot.keyClick(window.find_field, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: page.filters.filter.text == "")


def test_f6_goes_round_the_areas(qtbot: QtBot, window: MainWindow) -> None:
    page = window.page()
    page.table.setFocus()
    window.next_area()
    assert window.focusWidget() is page.side_panel
    window.next_area()
    assert window.rail.isAncestorOf(window.focusWidget())
    window.next_area()
    assert window.focusWidget() is window.find_field
    window.next_area()
    assert window.focusWidget() is page.table


@pytest.mark.parametrize(("width", "height"), [(1366, 768), (911, 512)], ids=["1366x768", "at 150 %"])
def test_everything_fits(qtbot: QtBot, window: MainWindow, settle: Settle, width: int, height: int) -> None:
    window.page().table.selectRow(0)
    window.resize(width, height)
    settle(window.page().context)
    qtbot.waitUntil(lambda: window.width() == width)
    assert window.height() == height
    assert window.minimumSizeHint().width() <= width
    assert window.minimumSizeHint().height() <= height
    ground = window.rect()
    for button in window.findChildren(QPushButton):
        if button.isVisible() and not button.visibleRegion().isEmpty():
            corner = button.mapTo(window, button.rect().bottomRight())
            assert ground.contains(corner), button.text()


def test_every_page_of_the_rail_fits_at_150_percent(qtbot: QtBot, theme: Theme) -> None:
    rail = Rail(PAGES, "Fern House", "/banks/ferns.sporebank")
    qtbot.addWidget(rail)
    rail.set_narrow(True)
    assert rail.minimumSizeHint().height() <= 512 - 80  # the menu and the foot


def test_a_first_window_leaves_room_for_its_frame(make_context: Make, show: Show, theme: Theme) -> None:
    window = show(MainWindow(make_context(), (VIALS,)))
    assert window.height() + 20 < room_for(window).height()


def test_no_two_menu_entries_share_keys(window: MainWindow) -> None:
    keys: list[str] = []
    for top in window.menuBar().actions():
        keys += [entry.shortcut().toString() for entry in top.menu().actions() if not entry.shortcut().isEmpty()]
    assert len(keys) == len(set(keys))
    assert QKeySequence("Ctrl+1").toString() in keys


def test_the_window_remembers_its_shape(make_context: Make, show: Show, settle: Settle, theme: Theme) -> None:
    context = make_context()
    first = MainWindow(context, (VIALS,))
    show(first)
    first.resize(first.minimumSizeHint().width(), 640)  # the offscreen screen is no wider
    shape = (first.width(), first.height())
    settle(context)
    first.close()
    second = MainWindow(context, (VIALS,))
    show(second)
    assert (second.width(), second.height()) == shape


@pytest.mark.parametrize(
    ("text", "is_code"),
    [
        ("V-ABC-00001-X", True), ("vabc00001x", True), ("POLYPODIUM", False), ("Polystichum", False),
        ("K-001", False), ("XABC00001X", False), ("", False),
    ],
)  # fmt: skip
def test_a_code_is_told_from_a_name(text: str, is_code: bool) -> None:
    assert looks_like_code(text) is is_code


def test_a_wrong_check_character_is_refused_with_the_reason(qtbot: QtBot, theme: Theme) -> None:
    field = FindField("ABC")
    qtbot.addWidget(field)
    code = codes.make("V", "ABC", 17)
    with qtbot.waitSignal(field.refused):
        qtbot.keyClicks(field, code[:-1] + ("0" if code[-1] != "0" else "1"))
        qtbot.keyClick(field, Qt.Key.Key_Return)
    with qtbot.waitSignal(field.code_given) as given:
        field.setText(codes.grouped(code))
        qtbot.keyClick(field, Qt.Key.Key_Return)
    assert given.args == ["vials", code]


class TestNotice:
    def test_a_deed_goes_by_itself_and_a_refusal_stays(self, qtbot: QtBot, theme: Theme, show: Show) -> None:
        notice = Notice()
        show(notice)
        notice._timer.setInterval(20)
        notice.say("Stored.", None, bad=False)
        assert notice.accessibleName() == "Stored."
        qtbot.waitUntil(notice.isHidden)
        notice.say("No.", None, bad=True)
        assert not notice._timer.isActive()

    def test_the_offer_is_taken_once(self, qtbot: QtBot, theme: Theme, show: Show) -> None:
        notice = Notice()
        show(notice)
        done: list[int] = []
        notice.say("Stored.", Offer("Undo", lambda: done.append(1)), bad=False)
        qtbot.mouseClick(notice.offer, Qt.MouseButton.LeftButton)
        assert done == [1]
        assert notice.isHidden()


def test_the_strip_shows_long_work_and_stops_it(qtbot: QtBot, theme: Theme, show: Show, lane) -> None:
    background = Background()
    strip = Strip("/home/fern/bank.sporebank", background)
    host = QWidget()
    QVBoxLayout(host).addWidget(strip)
    show(host)
    assert not strip.stop.isVisible()
    step = threading.Event()

    def job(report, cancelled) -> None:
        report(2, 5, "Label 2 of 5")
        while not cancelled():
            step.wait(0.005)

    background.run(lane, "Labels", job)
    qtbot.waitUntil(strip.stop.isVisible)
    assert (strip.bar.value(), strip.bar.maximum()) == (2, 5)
    with qtbot.waitSignal(background.ended):
        qtbot.mouseClick(strip.stop, Qt.MouseButton.LeftButton)
    assert not strip.stop.isVisible()
