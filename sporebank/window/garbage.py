"""Garbage of Python's is collected in the window's thread alone."""

from __future__ import annotations

import gc

from PySide6.QtCore import QObject, QTimer

EVERY_MS = 500


class Garbage(QObject):
    """Takes the place of Python's own timing, by which any thread that happens to allocate collects for all.

    A widget that is part of a cycle must not die in the lane: Qt allows that in the window's thread alone.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        gc.disable()
        self._timer = QTimer(self, interval=EVERY_MS)
        self._timer.timeout.connect(collect)
        self._timer.start()


def collect() -> None:
    """Collect the generations that are full, as Python would have by now."""
    for generation, (count, most) in reversed(list(enumerate(zip(gc.get_count(), gc.get_threshold(), strict=True)))):
        if count > most:
            gc.collect(generation)
            return
