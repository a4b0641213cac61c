"""The room that a screen gives to a dialog."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtWidgets import QDialog

from sporebank.window.screens import room_for

AROUND = QSize(20, 60)
"""What a dialog leaves to its frame and to the system's own bars."""


def most_size(dialog: QDialog) -> QSize:
    """Return how large a dialog may be on its screen."""
    return room_for(dialog.parentWidget() or dialog) - AROUND


def resize_within(dialog: QDialog, width: int, height: int) -> None:
    """Give a dialog a size, or as much of it as the screen has."""
    dialog.resize(QSize(width, height).boundedTo(most_size(dialog)))
