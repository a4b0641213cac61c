"""A hand scanner that types, in the midst of a hand that types."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDialog, QLineEdit, QPushButton, QTableWidget, QVBoxLayout, QWidget
from pytestqt.qtbot import QtBot

from sporebank.core import codes
from sporebank.window.wedge import Wedge

CODE = codes.make("V", "7K2", 1234)


class Bench:
    """A form with the wedge over it, and a clock set by hand."""

    def __init__(self, qtbot: QtBot) -> None:
        self.qtbot, self.now, self.scans = qtbot, 0.0, []
        self.wedge = Wedge(clock=lambda: self.now)
        self.wedge.scanned.connect(self.scans.append)
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


def test_a_code_cut_short_is_passed_on(bench: Bench, qtbot: QtBot) -> None:
    bench.line.setFocus()
    bench.keys(CODE[:7] + "\n", 0.005)
    assert bench.line.text() == CODE[:7]
    bench.keys(CODE[:7], 0.005)
    qtbot.waitUntil(lambda: bench.line.text() == CODE[:7] * 2)


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
