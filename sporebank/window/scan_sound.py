"""The sound of a scan that needs a look: the system's own, so many times."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QApplication

from sporebank.core.records import Changed
from sporebank.window.context import Context

BETWEEN_MS = 220


class ScanSound(QObject):
    """Plays the system's sound unless the keeper has switched it off; `beep` plays it once."""

    def __init__(self, context: Context, parent: QObject, beep: Callable[[], object] = QApplication.beep) -> None:
        super().__init__(parent)
        self._context, self._beep, self._on = context, beep, True
        context.changed.connect(self._hear)
        self._read()

    def play(self, times: int) -> None:
        """Play it so many times, far enough apart to be counted."""
        for number in range(times if self._on else 0):
            QTimer.singleShot(number * BETWEEN_MS, self, self._beep)

    def _hear(self, changed: Changed) -> None:
        if "setting" in changed.kinds:
            self._read()

    def _read(self) -> None:
        self._context.read(lambda bank: bank.settings.scan_sound, self._set, background=True)

    def _set(self, word: str) -> None:
        self._on = word == "on"
