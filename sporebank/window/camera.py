"""Scanning with a camera: what it lacks where it cannot be, and its frames read off the window's thread.

What Qt needs for it (PySide6-Addons, the extra `camera`) is imported only where it is there.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from importlib.util import find_spec
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QAction, QImage
from PySide6.QtWidgets import QDialog, QMenu, QWidget

from sporebank.core.scanning import Once
from sporebank.window.context import Context
from sporebank.window.lane import Lane

if TYPE_CHECKING:
    from sporebank.formats.symbols import Grey

APART = 0.2
"""Seconds from one frame that is read to the next."""

AGAIN_AFTER = 2.0
"""Seconds for which a label must be out of sight before it is another scan."""

WIDEST = 1600


def lacks() -> str:
    """Return why there is no scanning with a camera and what to do, or "" where there is."""
    if find_spec("PySide6.QtMultimedia") is None:
        return 'The part for cameras is not installed. Install it with: pip install "sporebank[camera]"'
    try:
        from PySide6.QtMultimedia import QMediaDevices
    except ImportError as error:  # a library of the system that it needs
        return f"The part for cameras lacks a library of the system, to be installed first: {error}"
    return "" if QMediaDevices.videoInputs() else "No camera was found. Plug one in, then open this menu again."


class CameraDoor(QObject):
    """Keeps the action on or off by what is there, looked at whenever its menu opens; `take` takes each scan."""

    def __init__(self, context: Context, window: QWidget, take: Callable[[str], object]) -> None:
        super().__init__(window)
        self._context, self._window, self._take = context, window, take
        self._dialog: QDialog | None = None
        self.ready = False

    def watch(self, menu: QMenu, action: QAction) -> None:
        """Look what is there when a menu opens."""
        menu.setToolTipsVisible(True)
        menu.aboutToShow.connect(lambda: self._look(action))

    def _look(self, action: QAction) -> None:
        lacking = lacks()
        self.ready = not lacking
        action.setEnabled(self.ready)
        action.setToolTip(lacking or action.statusTip())

    def open(self) -> None:
        """Show what the camera sees, beside the window and not in its way."""
        from sporebank.window.dialogs.camera import CameraDialog  # brings QtMultimedia

        self.shut()
        self._dialog = CameraDialog(self._context, self._window, self._take)
        self._dialog.finished.connect(self._closed)
        self._dialog.show()

    def shut(self) -> None:
        """Let go of the camera."""
        if self._dialog is not None:
            self._dialog.reject()

    def _closed(self) -> None:
        self._dialog = None


class FrameReader(QObject):
    """Reads some of the frames that are offered. Signals: `scanned(text)`, once while a label stays in sight."""

    scanned = Signal(str)

    def __init__(
        self, context: Context, parent: QObject | None = None, *, clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__(parent)
        self._clock, self._last, self._busy = clock, float("-inf"), False
        self._once = Once(AGAIN_AFTER)
        self._lane = Lane(context.tell.bug, "camera")

    def ready(self) -> bool:
        """Return whether another frame would be read now."""
        return not self._busy and self._clock() - self._last >= APART

    def offer(self, frame: QImage) -> None:
        """Read a frame, unless one is being read or was read just now."""
        if not self.ready() or frame.isNull():
            return
        self._busy, self._last = True, self._clock()
        grey = _grey(frame)
        self._lane.submit(lambda: _read(grey), then=self._found, failed=self._failed)

    def shut(self) -> bool:
        """Stop reading, and say whether it ended in time."""
        return self._lane.shut()

    def _found(self, texts: list[str]) -> None:
        self._busy = False
        for text in texts:
            if self._once.fresh(text, self._last):
                self.scanned.emit(text)

    def _failed(self, failure: Exception) -> None:
        self._busy = False
        self._lane.on_failure(failure)


def _grey(frame: QImage) -> Grey:
    import numpy as np

    if frame.width() > WIDEST:
        frame = frame.scaledToWidth(WIDEST, Qt.TransformationMode.SmoothTransformation)
    frame = frame.convertToFormat(QImage.Format.Format_Grayscale8)
    rows = np.frombuffer(frame.constBits(), np.uint8).reshape(frame.height(), frame.bytesPerLine())
    return rows[:, : frame.width()].copy()


def _read(grey: Grey) -> list[str]:
    from sporebank.formats.symbols import read_grey  # brings zxing-cpp

    return [symbol.text for symbol in read_grey(grey)]
