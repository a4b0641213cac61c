"""A hand scanner that types, in the midst of a hand that types."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut, QTextCursor
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QCompleter,
    QDialog,
    QLineEdit,
    QMenu,
    QPlainTextEdit,
    QPushButton,
    QSpinBox,
    QTableWidget,
    QVBoxLayout,
    QWidget,
)
from pytestqt.qtbot import QtBot

from sporebank.core import codes
from sporebank.window.wedge import Wedge
from sporebank.window.widgets.day import DayEdit

CODE = codes.make("V", "7K2", 1234)
EAN = "4006381333931"
"""An example of EAN-13 (GS1 General Specifications), as it stands on a bag of growing mix or a bottle."""
NO = Qt.KeyboardModifier.NoModifier
SECOND_ENDS = [
    (Qt.Key.Key_Return, "\r", NO),
    (Qt.Key.Key_Enter, "\r", Qt.KeyboardModifier.KeypadModifier),
    (Qt.Key.Key_J, "\n", Qt.KeyboardModifier.ControlModifier),
]


class Bench:
    """A form with the wedge over it, and a clock set by hand."""

    def __init__(self, qtbot: QtBot) -> None:
        self.qtbot, self.now, self.scans = qtbot, 0.0, []
        self.wedge = Wedge(clock=lambda: self.now)
        self.unread: list[str] = []
        self.wedge.scanned.connect(self.scans.append)
        self.wedge.unread.connect(self.unread.append)
        self.form = QWidget()
        layout = QVBoxLayout(self.form)
        self.line, self.table, self.button = QLineEdit(), QTableWidget(3, 1), QPushButton("Do")
        self.pressed = []
        self.button.clicked.connect(lambda: self.pressed.append(True))
        for widget in (self.line, self.table, self.button):
            layout.addWidget(widget)
        qtbot.addWidget(self.form)
        with qtbot.waitExposed(self.form):
            self.form.show()
        self.form.activateWindow()
        qtbot.waitUntil(self.form.isActiveWindow)

    def keys(self, text: str, gap: float) -> None:
        """Type a text, so many seconds from key to key; Return for a new line."""
        for character in text:
            self.now += gap
            target = QApplication.focusWidget()
            if character == "\n":
                self.qtbot.keyClick(target, Qt.Key.Key_Return)
            else:
                self.qtbot.keyClicks(target, character)

    def scan(self, text: str) -> None:
        self.keys(f"{text}\n", 0.005)


@pytest.fixture
def bench(qtbot: QtBot) -> Iterator[Bench]:
    made = Bench(qtbot)
    app = QApplication.instance()
    app.installEventFilter(made.wedge)
    yield made
    app.removeEventFilter(made.wedge)


@pytest.mark.parametrize("text", [CODE, codes.grouped(CODE), CODE[:-1] + "0", "B7K200001X"])
def test_a_burst_that_ends_with_return_is_a_scan_wherever_the_focus_is(bench: Bench, text: str) -> None:
    for widget in (bench.line, bench.table, bench.button):
        widget.setFocus()
        bench.scan(text)
    assert bench.scans == [text] * 3
    assert bench.line.text() == ""
    assert bench.pressed == []


def test_a_half_typed_field_stays_as_it_is(bench: Bench) -> None:
    bench.line.setFocus()
    bench.keys("Vernal spl", 0.15)
    bench.line.setCursorPosition(3)
    bench.scan(CODE)
    assert (bench.line.text(), bench.line.cursorPosition()) == ("Vernal spl", 3)
    bench.keys("!", 0.15)
    assert bench.line.text() == "Ver!nal spl"
    assert bench.scans == [CODE]


def test_a_hand_that_types_a_code_is_no_scanner(bench: Bench, qtbot: QtBot) -> None:
    bench.line.setFocus()
    bench.keys(CODE, 0.15)
    qtbot.waitUntil(lambda: bench.line.text() == CODE)
    bench.keys("\n", 0.15)
    assert bench.scans == []


@pytest.mark.parametrize("text", ["Struthiopteris spicant", "VERY BIG", "BLECHNUM", "5 mg", "P", "T-shirt", "LR"])
def test_words_arrive_whole_and_in_order_however_fast(bench: Bench, qtbot: QtBot, text: str) -> None:
    bench.line.setFocus()
    bench.keys(text, 0.001)
    qtbot.waitUntil(lambda: bench.line.text() == text)
    bench.keys("\n", 0.001)
    assert bench.scans == []


def test_a_code_cut_short_is_passed_on_where_no_return_tells_of_a_machine(bench: Bench, qtbot: QtBot) -> None:
    bench.line.setFocus()
    bench.keys(CODE[:7], 0.005)
    qtbot.waitUntil(lambda: bench.line.text() == CODE[:7])
    bench.now += 0.2
    bench.keys(CODE[:7] + "\n", 0.005)
    assert (bench.line.text(), bench.unread) == (CODE[:7], [CODE[:7]])


def test_keys_with_control_are_commands(bench: Bench) -> None:
    bench.line.setText("all of it")
    bench.line.setFocus()
    bench.qtbot.keyClick(bench.line, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    assert bench.line.selectedText() == "all of it"
    bench.qtbot.keyClick(bench.line, Qt.Key.Key_X, Qt.KeyboardModifier.ControlModifier)
    assert bench.line.text() == ""


def test_two_scans_at_full_speed_are_two(bench: Bench) -> None:
    other = codes.make("L", "7K2", 5)
    bench.table.setFocus()
    bench.scan(CODE)
    bench.scan(other)
    assert bench.scans == [CODE, other]


def test_who_is_gone_when_keys_are_let_go_is_let_be(bench: Bench, qtbot: QtBot) -> None:
    bench.line.setFocus()
    bench.keys("V7", 0.005)
    bench.form.layout().removeWidget(bench.line)
    bench.line.deleteLater()
    QApplication.sendPostedEvents(None, 52)  # QEvent.DeferredDelete
    bench.wedge.let_go()
    assert bench.scans == []


def test_a_second_window_disturbs_nothing(bench: Bench, qtbot: QtBot) -> None:
    other = Wedge(clock=lambda: bench.now)
    QApplication.instance().installEventFilter(other)
    try:
        bench.line.setFocus()
        bench.keys("Scouring rush SO", 0.001)
        qtbot.waitUntil(lambda: bench.line.text() == "Scouring rush SO")
    finally:
        QApplication.instance().removeEventFilter(other)


def test_the_window_and_the_dialogs_over_it_are_watched_and_no_other(bench: Bench, qtbot: QtBot) -> None:
    heard: list[str] = []
    own = Wedge(bench.form, clock=lambda: bench.now)
    own.scanned.connect(heard.append)
    app = QApplication.instance()
    app.removeEventFilter(bench.wedge)
    app.installEventFilter(own)
    dialog, stranger = QDialog(bench.form), QLineEdit()
    over = QLineEdit(dialog)
    qtbot.addWidget(stranger)
    try:
        for window, field in ((bench.form, bench.line), (dialog, over), (stranger, stranger)):
            with qtbot.waitExposed(window):
                window.show()
            window.activateWindow()
            qtbot.waitUntil(window.isActiveWindow)
            field.setFocus()
            bench.scan(CODE)
    finally:
        app.removeEventFilter(own)
        app.installEventFilter(bench.wedge)
    assert heard == [CODE, CODE]
    assert stranger.text() == CODE


def test_a_field_by_itself_that_is_led_to_by_its_own_line_holds_nothing_up(bench: Bench, qtbot: QtBot) -> None:
    """Its line is its proxy, and it is the line's parent: who asks whose they are must not go round for ever."""
    app, own, alone = QApplication.instance(), Wedge(bench.form, clock=lambda: bench.now), DayEdit(date(2026, 3, 14))
    qtbot.addWidget(alone)
    app.installEventFilter(own)
    try:
        with qtbot.waitExposed(alone):
            alone.show()
        alone.activateWindow()
        qtbot.waitUntil(alone.isActiveWindow)
        alone.setFocus()
        qtbot.keyClicks(alone.line, "7")
    finally:
        app.removeEventFilter(own)
    assert alone.line.text().endswith("7")


def _key(widget: QWidget, key: Qt.Key, text: str, at_ms: int = 0, modifiers: Qt.KeyboardModifier = NO) -> None:
    """Lay a key before a widget as the system does, with the time at which it was typed."""
    event = QKeyEvent(QEvent.Type.KeyPress, key, modifiers, text)
    event.setTimestamp(at_ms)
    QCoreApplication.postEvent(widget, event)


def _typed(widget: QWidget, text: str, begin: int, gap: int) -> int:
    """Lay a text before a widget, so many milliseconds from key to key, and return when the last was typed."""
    for number, character in enumerate(text):
        returned = character == "\n"
        key = Qt.Key.Key_Return if returned else Qt.Key(ord(character.upper()))
        _key(widget, key, "\r" if returned else character, begin + number * gap)
    return begin + (len(text) - 1) * gap


def _in_dialog(bench: Bench, qtbot: QtBot) -> tuple[QDialog, QLineEdit]:
    """Open a dialog whose default button would do something, with the keyboard in its field."""
    dialog = QDialog(bench.form)
    field, deed = QLineEdit(dialog), QPushButton("Take it out", dialog)
    deed.setDefault(True)
    deed.clicked.connect(lambda: bench.pressed.append(True))
    with qtbot.waitExposed(dialog):
        dialog.show()
    dialog.activateWindow()
    qtbot.waitUntil(dialog.isActiveWindow)
    field.setFocus()
    return dialog, field


@pytest.mark.parametrize("lock", [False, True])
def test_capitals_come_with_shift_and_under_caps_lock_as_small_letters(bench: Bench, lock: bool) -> None:
    """USB HID usage tables 1.5, section 10: a keyboard sends keys, and a capital is its key with Shift."""
    bench.line.setFocus()
    shift = Qt.KeyboardModifier.ShiftModifier
    for number, character in enumerate(CODE):
        if character.isalpha():
            _key(bench.line, Qt.Key.Key_Shift, "", 4 + 5 * number, shift)
        text = character.lower() if lock else character
        _key(bench.line, Qt.Key(ord(character)), text, 5 + 5 * number, shift if character.isalpha() else NO)
    _key(bench.line, Qt.Key.Key_Return, "\r", 60)
    QCoreApplication.sendPostedEvents()
    assert bench.scans == [CODE]
    assert bench.line.text() == ""


def test_a_busy_window_breaks_no_scan_in_two(bench: Bench, qtbot: QtBot) -> None:
    """A clock that runs ahead while keys wait stands for a window that is busy; each key has its own time."""
    _, field = _in_dialog(bench, qtbot)
    last = _typed(field, CODE[:4], 1_000, 4)
    QCoreApplication.sendPostedEvents()
    bench.now += 10
    _typed(field, f"{CODE[4:]}\n", last + 4, 4)
    bench.wedge._patience.timeout.emit()  # patience ends before the keys that wait are handled
    QApplication.processEvents()
    assert (bench.scans, bench.pressed, field.text()) == ([CODE], [], "")


@pytest.mark.parametrize("pause", [100, 400])
@pytest.mark.parametrize("first", [1, 4, 9])
def test_the_return_of_a_burst_cut_in_two_presses_nothing(bench: Bench, qtbot: QtBot, pause: int, first: int) -> None:
    _, field = _in_dialog(bench, qtbot)
    last = _typed(field, CODE[:first], 1_000, 4)
    _typed(field, f"{CODE[first:]}\n", last + pause, 4)
    QCoreApplication.sendPostedEvents()
    assert bench.pressed == []
    assert bench.scans == [CODE]


@pytest.mark.parametrize("text", [EAN, "https://x.example/1", "ABC123", "X7K2000016"])
def test_what_else_a_machine_types_is_told_and_presses_nothing(bench: Bench, qtbot: QtBot, text: str) -> None:
    _, field = _in_dialog(bench, qtbot)
    _typed(field, f"{text}\n\n", 1_000, 5)
    QCoreApplication.sendPostedEvents()
    assert bench.unread == [text.upper()]
    assert (bench.scans, bench.pressed, field.text()) == ([], [], "")


def test_small_letters_without_shift_are_a_scan_and_leave_nothing_in_the_field(bench: Bench, qtbot: QtBot) -> None:
    _, field = _in_dialog(bench, qtbot)
    _typed(field, f"{CODE.lower()}\n", 1_000, 5)
    QCoreApplication.sendPostedEvents()
    assert (bench.scans, bench.pressed, field.text()) == ([CODE], [], "")


@pytest.mark.parametrize("text", [EAN, "V400638133393", "ean of a pot", CODE.lower(), f"x{CODE[:8]}"])
def test_what_was_half_typed_before_a_machine_stays_to_the_letter(bench: Bench, qtbot: QtBot, text: str) -> None:
    edited: list[str] = []
    bench.line.textEdited.connect(edited.append)
    bench.line.setFocus()
    bench.keys("Vernal spl", 0.15)
    qtbot.waitUntil(lambda: bench.line.text() == "Vernal spl")
    bench.line.setSelection(3, 4)
    bench.now += 0.2
    bench.scan(text)
    assert (bench.line.text(), bench.line.selectedText(), bench.line.cursorPosition()) == ("Vernal spl", "nal ", 7)
    assert edited[-1] == "Vernal spl"
    bench.now += 0.2
    bench.keys("! ", 0.15)
    assert bench.line.text() == "Ver! spl"


def test_a_number_a_list_of_words_and_a_note_get_back_what_they_held(bench: Bench, qtbot: QtBot) -> None:
    number, words, note = QSpinBox(bench.form), QComboBox(bench.form), QPlainTextEdit("ten\npots", bench.form)
    number.setRange(1, 500)
    number.setValue(12)
    words.setEditable(True)
    words.setCurrentText("peat")
    note.moveCursor(QTextCursor.MoveOperation.End)
    for field in (number, words, note):
        field.show()
        field.setFocus()
        bench.now += 0.2
        bench.scan(EAN)
    assert bench.unread == [EAN] * 3
    assert (number.value(), words.currentText(), note.toPlainText()) == (12, "peat", "ten\npots")
    bench.now += 0.2
    bench.keys("!", 0.2)
    assert note.toPlainText() == "ten\npots!"


def test_a_field_with_words_to_complete_gets_back_what_it_held(bench: Bench, qtbot: QtBot) -> None:
    bench.line.setCompleter(QCompleter(["400 pots", "40 clones"], bench.line))
    bench.line.setFocus()
    bench.keys("4", 0.15)
    popup = bench.line.completer().popup()
    qtbot.waitUntil(popup.isVisible)
    bench.now += 0.2
    for character in f"{EAN}\n":
        bench.now += 0.005
        target = QApplication.activePopupWidget() or bench.line
        qtbot.keyClick(target, Qt.Key.Key_Return) if character == "\n" else qtbot.keyClicks(target, character)
    assert (bench.line.text(), bench.unread) == ("4", [EAN])


@pytest.mark.parametrize(("key", "text", "modifier"), SECOND_ENDS)
def test_a_scanner_that_ends_with_two_characters_presses_nothing(
    bench: Bench, qtbot: QtBot, key: Qt.Key, text: str, modifier: Qt.KeyboardModifier
) -> None:
    _, field = _in_dialog(bench, qtbot)
    for begin in (1_000, 1_200):
        last = _typed(field, f"{CODE}\n", begin, 5)
        _key(field, key, text, last + 5, modifier)
    _key(field, Qt.Key.Key_Return, "\r", last + 400)
    QCoreApplication.sendPostedEvents()
    assert bench.scans == [CODE] * 2
    assert bench.pressed == [True]  # by hand, at the end


@pytest.mark.parametrize("gaps", [[35] * 7, [12, 90] * 4, [5, 5, 5, 80, 95, 5, 5, 110], [4] * 5])
def test_a_quick_hand_presses_return(bench: Bench, qtbot: QtBot, gaps: list[int]) -> None:
    """Keys rolled over come close together by twos and threes (Dhakal et al. 2018: fast typists roll half of them)."""
    _, field = _in_dialog(bench, qtbot)
    at_ms = 1_000
    for character, gap in zip("2.5 mg Q\n"[-len(gaps) :], gaps, strict=True):
        _typed(field, character, at_ms := at_ms + gap, 0)
    QCoreApplication.sendPostedEvents()
    assert (bench.pressed, bench.unread) == ([True], [])


def test_control_and_return_is_a_command_however_fast(bench: Bench, qtbot: QtBot) -> None:
    kept: list[bool] = []
    QShortcut(QKeySequence("Ctrl+Return"), bench.form, lambda: kept.append(True))
    bench.line.setFocus()
    bench.keys("Lean-to", 0.001)
    qtbot.keyClick(bench.line, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert (kept, bench.unread, bench.line.text()) == ([True], [], "Lean-to")


def test_a_key_held_down_is_no_machine(bench: Bench, qtbot: QtBot) -> None:
    _, field = _in_dialog(bench, qtbot)
    for number in range(12):
        event = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_X, NO, "x", number > 0)
        event.setTimestamp(1_000 + 20 * number)
        QCoreApplication.postEvent(field, event)
    _typed(field, "\n", 1_240, 0)
    QCoreApplication.sendPostedEvents()
    assert (bench.pressed, bench.unread) == ([True], [])


@pytest.mark.parametrize("what", ["words", "list", "menu"])
def test_an_open_list_is_closed_by_a_scan_and_gets_none_of_it(bench: Bench, qtbot: QtBot, what: str) -> None:
    own = Wedge(bench.form, clock=lambda: bench.now)
    own.scanned.connect(bench.scans.append)
    app = QApplication.instance()
    app.removeEventFilter(bench.wedge)
    app.installEventFilter(own)
    chosen: list[object] = []
    try:
        if what == "words":
            bench.line.setCompleter(QCompleter(["Athyrium", "Athyrium filix-femina"], bench.line))
            bench.line.setFocus()
            bench.keys("Athy", 0.15)
        elif what == "list":
            combo = QComboBox(bench.form)
            combo.addItems(["Any", "Vernal", "7 years"])
            combo.activated.connect(chosen.append)
            combo.show()
            combo.showPopup()
        else:
            menu = QMenu(bench.form)
            menu.addAction("&Void it", lambda: chosen.append(True))
            menu.popup(bench.form.pos())
        qtbot.waitUntil(lambda: QApplication.activePopupWidget() is not None)
        for character in CODE:
            bench.now += 0.005
            popup = QApplication.activePopupWidget()
            qtbot.keyClicks(popup.focusWidget() or popup, character)
        bench.now += 0.005
        popup = QApplication.activePopupWidget()
        qtbot.keyClick(popup.focusWidget() or popup, Qt.Key.Key_Return)
        assert bench.scans == [CODE]
        assert QApplication.activePopupWidget() is None
        assert chosen == []
        assert bench.line.text() == ("Athy" if what == "words" else "")
    finally:
        app.removeEventFilter(own)
        app.installEventFilter(bench.wedge)
