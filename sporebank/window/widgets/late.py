"""A place for a plot: what draws it is loaded when there is first something to draw, and follows the palette worn."""

from __future__ import annotations

from typing import Generic, TypeVar

from PySide6.QtWidgets import QVBoxLayout, QWidget

from sporebank.window.theme import Tokens, follow, tokens

T = TypeVar("T")
W = TypeVar("W", bound=QWidget)


class Late(QWidget, Generic[T, W]):
    """Shows records of one kind in a widget that a subclass makes and fills; without a record it hides."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.record: T | None = None
        self.plot: W | None = None
        self._worn = tokens()
        self._inside = QVBoxLayout(self)
        self._inside.setContentsMargins(0, 0, 0, 0)
        follow(self._draw_anew)

    def make(self, colours: Tokens) -> W:
        """Return the widget that draws, in these colours."""
        raise NotImplementedError

    def fill(self, plot: W, record: T) -> None:
        """Draw a record."""
        raise NotImplementedError

    def show_record(self, record: T | None, description: str) -> None:
        """Show a record, or nothing; `description` says it to a screen reader."""
        self.record = record
        self.setAccessibleDescription(description)
        self.setVisible(record is not None)
        self._draw()

    def _draw(self) -> None:
        if self.record is None:
            return
        if self.plot is None:
            self._worn = tokens()
            self.plot = self.make(self._worn)
            self._inside.addWidget(self.plot)
            self.setFocusProxy(self.plot)
        self.plot.setAccessibleName(self.accessibleName())
        self.plot.setAccessibleDescription(self.accessibleDescription())
        self.fill(self.plot, self.record)

    def _draw_anew(self) -> None:
        """Draw in the colours now worn."""
        if self.plot is None or self._worn == tokens():
            return
        self._inside.removeWidget(self.plot)
        self.plot.hide()
        self.plot.deleteLater()
        self.plot = None
        self._draw()
