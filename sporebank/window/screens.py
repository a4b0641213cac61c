"""How much room there is on the screen that a window is on."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QWidget


def room_for(widget: QWidget) -> QSize:
    """Return the room on the screen where a window is, or will be.

    Asked for by its place: `QWidget.screen()` makes Python take the screen for a child of the window, and a window that
    Python lets go of can then take the screen along.
    """
    screen = QGuiApplication.screenAt(widget.window().geometry().center()) or QGuiApplication.primaryScreen()
    return screen.availableSize()
