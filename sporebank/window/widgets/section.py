"""Sections of a long form, and two columns of them that become one where the window is narrow."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QFrame, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from sporebank.window.widgets.simple import label

ONE_BELOW = 700


class Section(QFrame):
    """A card with a title, holding what belongs together."""

    def __init__(self, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("card", True)
        self.setAccessibleName(title)
        self.inside = QVBoxLayout(self)
        self.inside.setContentsMargins(14, 10, 14, 14)
        self.inside.setSpacing(9)
        self.inside.addWidget(label(title.upper(), "section"))

    def add(self, *widgets: QWidget) -> None:
        """Add widgets, one below the other."""
        for widget in widgets:
            self.inside.addWidget(widget)


class Columns(QWidget):
    """Two columns of widgets side by side, or one below the other where the window is narrow."""

    def __init__(
        self,
        left: Sequence[QWidget],
        right: Sequence[QWidget],
        stretch: tuple[int, int] = (1, 1),
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._across = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._across.setContentsMargins(0, 0, 0, 0)
        self._across.setSpacing(12)
        self._down = (QVBoxLayout(), QVBoxLayout())
        for column, widgets, share in zip(self._down, (left, right), stretch, strict=True):
            column.setSpacing(12)
            for widget in widgets:
                _give_way(widget)
                column.addWidget(widget)
            if not any(widget.sizePolicy().verticalPolicy() == QSizePolicy.Policy.Expanding for widget in widgets):
                column.addStretch(1)
            self._across.addLayout(column, share)

    def add_last(self, column: int, widget: QWidget) -> None:
        """Add a widget at the foot of a column (0 or 1); the keyboard comes to it after everything in both."""
        _give_way(widget)
        self._down[column].addWidget(widget)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Set the columns below one another where there is no room for two."""
        super().resizeEvent(event)
        narrow = event.size().width() < ONE_BELOW
        way = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        if way != self._across.direction():
            self._across.setDirection(way)


def _give_way(widget: QWidget) -> None:
    """Let the column decide how wide a widget is, unless the widget wants to be no wider than it must."""
    policy = widget.sizePolicy()
    if policy.horizontalPolicy() != QSizePolicy.Policy.Maximum:
        widget.setSizePolicy(QSizePolicy.Policy.Ignored, policy.verticalPolicy())


def bring_into_sight(widget: QWidget) -> None:
    """Scroll the page so that a widget is seen."""
    above = widget.parentWidget()
    while above is not None and not isinstance(above, QScrollArea):
        above = above.parentWidget()
    if above is not None:
        above.ensureWidgetVisible(widget)
