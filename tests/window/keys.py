"""Working a window as a keeper without a mouse does."""

from __future__ import annotations

import re
from collections import Counter

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QAbstractButton, QApplication, QComboBox, QLabel, QLineEdit, QTabBar, QWidget
from pytestqt.qtbot import QtBot

MOST_STOPS = 200


def at(window: QWidget) -> QWidget:
    """Return the widget that has the keyboard."""
    found = QApplication.focusWidget() or window.focusWidget()
    assert found is not None, "nothing has the keyboard"
    return found


def tab_to(qtbot: QtBot, window: QWidget, name: str) -> QWidget:
    """Press Tab until the widget with this accessible name has the keyboard."""
    met = []
    for _ in range(MOST_STOPS):
        here = at(window)
        said = here.accessibleName() or (here.text().replace("&", "") if isinstance(here, QAbstractButton) else "")
        if said == name:
            return here
        met.append(said)
        qtbot.keyClick(here, Qt.Key.Key_Tab)
    raise AssertionError(f"Tab never comes to “{name}”, only to {sorted(set(met))}")


def write(qtbot: QtBot, window: QWidget, name: str, text: str) -> QWidget:
    """Tab to a field and write a text in place of what it holds."""
    here = tab_to(qtbot, window, name)
    qtbot.keyClick(here, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClicks(here, text) if text else qtbot.keyClick(here, Qt.Key.Key_Delete)
    if isinstance(here, QLineEdit) and here.completer() is not None:
        close_list(qtbot, window, here)
    return here


def close_list(qtbot: QtBot, window: QWidget, line: QLineEdit) -> None:
    """Close the list of words under a line; the offscreen platform must be told which window is in front again."""
    popup = line.completer().popup()
    if popup.isVisible():
        qtbot.keyClick(popup, Qt.Key.Key_Escape)
    QApplication.processEvents()
    bring_to_front(qtbot, window)
    line.setFocus()


def bring_to_front(qtbot: QtBot, window: QWidget) -> None:
    """Make the window the one that keys go to."""
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)


def choose(qtbot: QtBot, window: QWidget, name: str, text: str) -> None:
    """Tab to a box and go down its list to a text."""
    here = tab_to(qtbot, window, name)
    assert isinstance(here, QComboBox)
    qtbot.keyClick(here, Qt.Key.Key_Home)
    for _ in range(here.count()):
        if here.currentText().startswith(text):
            return
        qtbot.keyClick(here, Qt.Key.Key_Down)
    raise AssertionError(f"“{name}” does not offer “{text}”")


def press(qtbot: QtBot, window: QWidget, name: str) -> None:
    """Tab to a button or a tick and press the space bar."""
    qtbot.keyClick(tab_to(qtbot, window, name), Qt.Key.Key_Space)


def turn_to(qtbot: QtBot, window: QWidget, first: str, wanted: str) -> None:
    """Tab to a row of chips, of which `first` holds, and go right to another."""
    here = tab_to(qtbot, window, first)
    for _ in range(MOST_STOPS):
        if here.accessibleName() == wanted:
            return
        qtbot.keyClick(here, Qt.Key.Key_Right)
        here = at(window)
    raise AssertionError(f"The right arrow never comes to “{wanted}”")


def keep(qtbot: QtBot, window: QWidget) -> None:
    """Press Ctrl and Return."""
    bring_to_front(qtbot, window)
    qtbot.keyClick(at(window), Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)


def doubled_letters(page: QWidget) -> list[str]:
    """Return the letters that Alt would lead to two things in sight on a page, or to nothing."""
    labels = [label.text() for label in page.findChildren(QLabel) if label.buddy() and label.isVisible()]
    buttons = [button.text() for button in page.findChildren(QAbstractButton) if button.isVisible()]
    bars = [bar for bar in page.findChildren(QTabBar) if bar.isVisible()]
    tabs = [bar.tabText(place) for bar in bars for place in range(bar.count())]
    letters = [letter.lower() for text in labels + buttons + tabs for letter in re.findall("&([^& ])", text)]
    dead = [label.text() for label in page.findChildren(QLabel) if _leads_nowhere(label)]
    return [letter for letter, times in Counter(letters).items() if times > 1] + dead


def _leads_nowhere(label: QLabel) -> bool:
    buddy = label.buddy()
    return buddy is not None and "&" in label.text() and buddy.focusPolicy() == Qt.FocusPolicy.NoFocus
