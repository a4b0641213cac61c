"""A hand scanner types like a keyboard, only faster: its bursts are caught whatever has the focus.

What could be the beginning of a code is held back for a moment: a capital that begins a code, and what follows it as
long as it could go on as one. A Return at the end of a whole code is a scan, and nothing of it ever reaches the field
with the keyboard. Whatever turns out otherwise, or is too slow for a machine, is passed on as if nothing had been.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QWidget
from shiboken6 import isValid

from sporebank.core.codes import KINDS, LENGTH

GAP_MS = 60
"""A hand types a key in 80 ms or more; scanners send one every 1 to 30 ms (common practice, no source)."""

_BEGINNING = re.compile(rf"[{''.join(KINDS)}][0-9A-Z-]*")
_ENDS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class Wedge(QObject):
    """Watches the keys of the whole program. Signals: `scanned(text)`, a text as long as a code, right or wrong."""

    scanned = Signal(str)
    _passing = False  # of all: what one lets go no other holds back

    def __init__(self, parent: QObject | None = None, *, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(parent)
        self._clock, self._last = clock, 0.0
        self._held: list[tuple[QWidget, QKeyEvent]] = []
        self._patience = QTimer(self, singleShot=True, interval=GAP_MS)
        self._patience.timeout.connect(self.let_go)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Hold back, take, or let pass one key."""
        if Wedge._passing or event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        if not isinstance(watched, QWidget) or watched is not _goal(watched) or not self._mine(watched):
            return False
        return self._take(watched, event)

    def _take(self, widget: QWidget, event: QKeyEvent) -> bool:
        now, soon = self._clock(), self._clock() - self._last < GAP_MS / 1000
        self._last = now
        if self._held and not soon:
            self.let_go()
        if event.key() in _ENDS and _whole(self._text()):
            self._scan()
            return True
        if _plain(event) and _BEGINNING.fullmatch(self._text() + event.text()):
            self._held.append((widget, event.clone()))
            self._patience.start()
            return True
        self.let_go()
        return False

    def _mine(self, widget: QWidget) -> bool:
        """Return whether a widget is in the window watched, or in a dialog over it; without a window all are."""
        window, above = self.parent(), widget
        while isinstance(window, QWidget) and above is not window:
            higher = above.parentWidget()  # `isAncestorOf` would end at the edge of a dialog
            if higher is None:
                return False
            above = higher
        return True

    def _text(self) -> str:
        return "".join(event.text() for _, event in self._held)

    def _scan(self) -> None:
        text = self._text()
        self._forget()
        self.scanned.emit(text)

    def _forget(self) -> None:
        self._patience.stop()
        self._held = []

    def let_go(self) -> None:
        """Pass on what was held back, to whom it was meant for."""
        held = self._held
        self._forget()
        Wedge._passing = True
        try:
            for widget, event in held:
                if isValid(widget):
                    QCoreApplication.sendEvent(widget, event)
        finally:
            Wedge._passing = False


def _goal(widget: QWidget) -> QWidget:
    """Return the widget that keys go to first: what passes them on afterwards is not asked again."""
    return QApplication.focusWidget() or widget.window()


def _plain(event: QKeyEvent) -> bool:
    modifiers = event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier)
    return len(event.text()) == 1 and modifiers == Qt.KeyboardModifier.NoModifier


def _whole(text: str) -> bool:
    return len(text.replace("-", "")) == LENGTH
