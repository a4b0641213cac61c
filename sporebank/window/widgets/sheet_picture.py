"""A sheet of labels as a small picture, in which the first free label is chosen."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from sporebank.core.sheets import Sheet, cell
from sporebank.window.theme import tokens

HEIGHT = 150


class SheetPicture(QWidget):
    """Used labels crossed out, those of this print filled, free ones empty; arrows and clicks move the first.

    Signals: `edited` when the keeper chose another first label, never when the program did.
    """

    edited = Signal()

    def __init__(self, height: int = HEIGHT) -> None:
        super().__init__()
        self._sheet: Sheet | None = None
        self._first, self._count = 0, 0
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFixedHeight(height)

    def sizeHint(self) -> QSize:
        """Return room for a sheet."""
        return QSize(self.height(), self.height())

    def value(self) -> int:
        """Return the first free label, counted from 0."""
        return self._first

    def show_sheet(self, sheet: Sheet, first: int) -> None:
        """Show another sheet with its first free label; one made smaller since, that has no such label, begins anew."""
        self._sheet = sheet
        self.setEnabled(sheet.cells > 1)
        self._go(first if first < sheet.cells else 0)

    def show_count(self, count: int) -> None:
        """Show how many labels are printed."""
        self._count = count
        self.update()

    def said(self) -> str:
        """Return the choice in words."""
        return "" if self._sheet is None else f"label {self._first + 1} of {self._sheet.cells}"

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move with the arrows, Home and End."""
        columns = self._sheet.columns if self._sheet else 1
        cells = self._sheet.cells if self._sheet else 1
        steps = {
            Qt.Key.Key_Left: -1,
            Qt.Key.Key_Right: 1,
            Qt.Key.Key_Up: -columns,
            Qt.Key.Key_Down: columns,
            Qt.Key.Key_Home: -self._first,
            Qt.Key.Key_End: cells - 1 - self._first,
        }
        step = steps.get(Qt.Key(event.key()))
        if step is None:
            super().keyPressEvent(event)
        else:
            self._choose(self._first + step)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the label under the mouse."""
        for index in range(self._sheet.cells if self._sheet else 0):
            if self._rect(index).contains(event.position()):
                self._choose(index)

    def _choose(self, index: int) -> None:
        before = self._first
        self._go(index)
        if self._first != before:
            self.edited.emit()

    def _go(self, index: int) -> None:
        if self._sheet is not None and 0 <= index < self._sheet.cells:
            self._first = index
        self.setAccessibleDescription(self.said())
        self.update()

    def _scale(self) -> tuple[float, QPointF]:
        """Return pixels per mm, and where the paper's corner is."""
        assert self._sheet is not None
        width, height = self._sheet.paper_width, self._sheet.paper_height
        scale = min((self.width() - 4) / width, (self.height() - 4) / height)
        return scale, QPointF(2, (self.height() - height * scale) / 2)

    def _rect(self, index: int) -> QRectF:
        assert self._sheet is not None
        scale, corner = self._scale()
        one = cell(self._sheet, index)
        return QRectF(
            corner.x() + one.left * scale, corner.y() + one.top * scale, one.width * scale, one.height * scale
        )

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the paper and its labels."""
        if self._sheet is None:
            return
        colours, painter = tokens(), QPainter(self)
        scale, corner = self._scale()
        painter.setPen(QPen(colours.colour("accent" if self.hasFocus() else "line"), 1.5))
        painter.setBrush(colours.colour("sheet"))
        paper = QRectF(corner.x(), corner.y(), self._sheet.paper_width * scale, self._sheet.paper_height * scale)
        painter.drawRect(paper)
        for index in range(self._sheet.cells):
            self._draw(painter, index)
        painter.end()

    def _draw(self, painter: QPainter, index: int) -> None:
        assert self._sheet is not None
        colours, rect = tokens(), self._rect(index).adjusted(0.7, 0.7, -0.7, -0.7)
        printed = self._first <= index < self._first + self._count
        painter.setPen(QPen(colours.colour("ink" if index == self._first else "line"), 1))
        painter.setBrush(colours.colour("accent", 1.0 if index == self._first else 0.45 if printed else 0.0))
        if self._sheet.round:
            painter.drawEllipse(rect)
        else:
            painter.drawRect(rect)
        if index < self._first:
            painter.setPen(QPen(colours.colour("mute"), 1))
            painter.drawLine(rect.bottomLeft(), rect.topRight())
