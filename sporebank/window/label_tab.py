"""What the tabs of labels and printers have in common: when they read."""

from __future__ import annotations

from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QWidget

from sporebank.core.records import Changed
from sporebank.window.context import Context


class LabelTab(QWidget):
    """A tab that reads whenever it comes into sight, and while it is in sight after every deed that touches it."""

    def __init__(self, context: Context) -> None:
        super().__init__()
        self.context = context
        context.changed.connect(self._hear)

    def showEvent(self, event: QShowEvent) -> None:
        """Read what there is."""
        super().showEvent(event)
        self._read()

    def _hear(self, changed: Changed) -> None:
        if self.isVisible() and self.touched(changed):
            self._read()

    def touched(self, changed: Changed) -> bool:
        """Return whether a deed touches what the tab shows."""
        return True

    def _read(self) -> None:
        raise NotImplementedError
