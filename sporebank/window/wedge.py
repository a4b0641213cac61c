"""A hand scanner types like a keyboard, only faster: its bursts are caught whatever has the focus.

What could be the beginning of a code is held back for a moment: a capital that begins a code, and what follows it as
long as it could go on as one. A Return at the end of a whole code is a scan, and nothing of it ever reaches the field
with the keyboard. Whatever turns out otherwise, or is too slow for a machine, is passed on as if nothing had been; but
the Return of anything that a machine typed is kept back, for it would press whatever button is the default. Only then
is it known that it was a machine: what it typed is taken out of the field again, and is a scan as well where it turns
out to be a code.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QWidget
from shiboken6 import isValid

from sporebank.core.codes import KINDS, LENGTH
from sporebank.window.half_typed import PutBack, half_typed

GAP_MS = 60
"""A hand types a key in 80 ms or more; scanners send one every 1 to 30 ms (common practice, no source)."""

MACHINE_MS = 30
"""So close together a machine types key after key, a hand only now and then."""

HELD_UP_MS = 500
"""A burst may be held up for so long, once, and is still one."""

FEWEST = 6
"""So many keys of a machine before a Return are a burst, whatever they say."""

AFTER_MS = 100
"""A scanner that ends with two characters has sent the second by then; no hand has pressed Return."""

_BEGINNING = re.compile(rf"[{''.join(KINDS)}][0-9A-Z-]*")
_ENDS = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_KEYS = (QEvent.Type.KeyPress, QEvent.Type.ShortcutOverride)
_SHIFTS = (Qt.Key.Key_Shift, Qt.Key.Key_CapsLock)


@dataclass(eq=False)
class _Key:
    """A key typed; `before` puts the field that it went to back to what it held."""

    text: str
    at: float
    before: PutBack | None = None


class Wedge(QObject):
    """Watches the keys of the whole program.

    Signals: `scanned(text)`, a text as long as a code, right or wrong; `unread(text)`, any other text that a machine
    typed and ended with Return. Keys that have no time of their own are timed by `clock`, in seconds.
    """

    scanned = Signal(str)
    unread = Signal(str)
    _passing = False  # of all: what one lets go no other holds back

    def __init__(self, parent: QObject | None = None, *, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(parent)
        self._clock, self._last, self._ended = clock, 0.0, 0.0
        self._held: list[tuple[QWidget, QKeyEvent, _Key]] = []
        self._burst = _Burst()
        self._patience = QTimer(self, singleShot=True, interval=GAP_MS)
        self._idle = QTimer(self, singleShot=True, interval=0)  # keys that wait to be handled come before it
        self._patience.timeout.connect(self._idle.start)
        self._idle.timeout.connect(self.let_go)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Hold back, take, or let pass one key."""
        if not isinstance(event, QKeyEvent) or Wedge._passing or event.type() not in _KEYS:  # nearly all are no keys
            return False
        if not isinstance(watched, QWidget) or watched is not _goal(watched) or not self._mine(watched):
            return False
        if event.type() == QEvent.Type.ShortcutOverride:
            return self._claim(event)
        return event.key() not in _SHIFTS and self._take(watched, event)

    def _claim(self, event: QKeyEvent) -> bool:
        """Keep the Return of a machine from shortcuts, and from lists, which take what is chosen before it is typed."""
        if not _is_end(event) or not self._from_machine(self._time(event)):
            return False
        event.accept()
        return True

    def _from_machine(self, now: float) -> bool:
        """Return whether a Return of this moment is a machine's: the end of a burst, or the second end of it."""
        if self._burst.empty():
            return _within(self._ended, now, AFTER_MS)
        return _whole(self._text()) or bool(self._burst.ended(now))

    def _time(self, event: QKeyEvent) -> float:
        return event.timestamp() / 1000 or self._clock()

    def _take(self, widget: QWidget, event: QKeyEvent) -> bool:
        now = self._time(event)
        soon, self._last = _within(self._last, now, GAP_MS), now
        if self._held and not soon:
            self.let_go()
        if _is_end(event):
            return self._end(now)
        if not _plain(event) or event.isAutoRepeat():
            self._burst.forget()
            self.let_go()
            return False
        key = _Key(_typed(event), now)
        self._burst.add(key)
        return self._hold(widget, event, key)

    def _hold(self, widget: QWidget, event: QKeyEvent, key: _Key) -> bool:
        """Hold back a key that goes on with a code or begins one, and say whether it does."""
        if not self._could_be(key):
            self.let_go()
        if not self._could_be(key):
            key.before = half_typed(widget)
            return False
        self._held.append((widget, event.clone(), key))
        self._idle.stop()
        self._patience.start()
        return True

    def _could_be(self, key: _Key) -> bool:
        return _BEGINNING.fullmatch(self._text() + key.text) is not None

    def _end(self, now: float) -> bool:
        """Take a Return, and say whether a machine pressed it."""
        mine, text, burst = self._from_machine(now), self._text(), self._burst.ended(now)
        second = self._burst.empty()
        self._burst.forget()
        if _whole(text):
            self._forget()
            burst = []
        else:
            self._held = [one for one in self._held if one[-1] not in burst]
            self.let_go()
            text = _said(burst)
        if mine and not second:
            self._ended = now
            _close_lists()
            _take_out(burst)  # nothing of a code that was held back
            (self.scanned if _is_code(text) else self.unread).emit(text)
        return mine

    def _mine(self, widget: QWidget) -> bool:
        """Return whether a widget is in the window watched or in what is open over it; without a window all are."""
        window, passed = self.parent(), list[QWidget]()
        above: QWidget | None = widget
        while above is not None and above not in passed:  # a field by itself leads to its line, and that back to it
            if above is window:
                return True
            passed.append(above)
            above = above.parentWidget() or above.focusProxy()  # `isAncestorOf` would end at the edge of a dialog
        return not isinstance(window, QWidget)

    def _text(self) -> str:
        return "".join(key.text for _, _, key in self._held)

    def _forget(self) -> None:
        self._patience.stop()
        self._idle.stop()
        self._held = []

    def let_go(self) -> None:
        """Pass on what was held back, to whom it was meant for."""
        held = self._held
        self._forget()
        Wedge._passing = True
        try:
            for widget, event, key in held:
                if isValid(widget):
                    key.before = half_typed(widget)
                    QCoreApplication.sendEvent(widget, event)
        finally:
            Wedge._passing = False


class _Burst:
    """The keys typed in a row."""

    def __init__(self) -> None:
        self._keys: list[_Key] = []

    def add(self, key: _Key) -> None:
        """Add a key; one after a pause begins another row."""
        if self._keys and not _within(self._keys[-1].at, key.at, HELD_UP_MS):
            self.forget()
        self._keys.append(key)

    def forget(self) -> None:
        """Begin another row."""
        self._keys = []

    def empty(self) -> bool:
        """Return whether no key was typed since the row began."""
        return not self._keys

    def ended(self, now: float) -> list[_Key]:
        """Return the keys that a machine typed before the Return of this moment, none where a hand may have."""
        times = [key.at for key in self._keys] + [now]
        gaps = [_within(*pair, MACHINE_MS) for pair in pairwise(times)]
        if len(gaps) < FEWEST or gaps[-FEWEST:].count(False) > 1 or not _within(self._keys[-1].at, now, HELD_UP_MS):
            return []
        begin = len(gaps)
        while begin and (gaps[begin - 1] or len(gaps) - begin < FEWEST):
            begin -= 1
        return self._keys if _is_code(_said(self._keys)) else self._keys[begin:]


def _within(before: float, after: float, milliseconds: int) -> bool:
    return 0 <= after - before < milliseconds / 1000


def _goal(widget: QWidget) -> QWidget:
    """Return the widget that keys go to first: what passes them on afterwards is not asked again."""
    popup = QApplication.activePopupWidget()
    if popup is not None:
        return popup.focusWidget() or popup
    return QApplication.focusWidget() or widget.window()


def _close_lists() -> None:
    """Close the menus and lists that are open over a window."""
    while (popup := QApplication.activePopupWidget()) is not None and popup.close():
        pass


def _is_end(event: QKeyEvent) -> bool:
    """Return whether a key is a Return, or a line feed as scanners type it; with Control, Return is a command."""
    return (event.key() in _ENDS and _alone(event)) or (event.key() == Qt.Key.Key_J and event.text() == "\n")


def _typed(event: QKeyEvent) -> str:
    """Return the text of a key; Caps Lock turns what is typed with Shift into small letters."""
    return event.text().upper() if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else event.text()


def _alone(event: QKeyEvent) -> bool:
    modifiers = event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier)
    return modifiers == Qt.KeyboardModifier.NoModifier


def _plain(event: QKeyEvent) -> bool:
    return len(event.text()) == 1 and _alone(event)


def _said(keys: list[_Key]) -> str:
    """Return the text of keys, small letters as capitals."""
    return "".join(key.text for key in keys).upper()


def _take_out(keys: list[_Key]) -> None:
    """Take what keys have typed out of the field again, which is then as it was before the first that reached it."""
    before = next((key.before for key in keys if key.before is not None), None)
    if before is not None:
        before()


def _is_code(text: str) -> bool:
    return _whole(text) and _BEGINNING.fullmatch(text) is not None


def _whole(text: str) -> bool:
    return len(text.replace("-", "")) == LENGTH
