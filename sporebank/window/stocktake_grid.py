"""A box as it fills in during a stocktake: each slot with a sign, and the marker that goes from slot to slot."""

from __future__ import annotations

from collections.abc import Mapping

from PySide6.QtCore import QPointF, QRect, QRectF, QSizeF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from sporebank.core import slots
from sporebank.core.stocktake import Expected, Group, Part
from sporebank.window.theme import tokens

LEGEND = "tick: right · ring: not yet · ! wrong slot · + stranger · – not here"
LARGEST_CELL = 96
MOST_UNLIKE = 1.4  # how much higher or wider than the other way a slot is drawn, to fill the room
_TOKENS = {Group.RIGHT: "alive", Group.WRONG: "warn", Group.STRANGER: "bad", Group.MISSING: "mute", None: "edge"}
_SIGNS = {Group.WRONG: "!", Group.STRANGER: "+", Group.MISSING: "–"}
_WORDS = {Group.WRONG: "wrong slot", Group.STRANGER: "stranger", Group.MISSING: "not here", Group.RIGHT: "right"}

Shown = Mapping[int, tuple[Group | None, Expected | None]]


class StockGrid(QWidget):
    """Shows a box. Signals: `stepped(by)` for Space, Right and Left; `chosen(slot)` when a slot is clicked."""

    stepped = Signal(int)
    chosen = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._part: Part | None = None
        self._shown: Shown = {}
        self._marker: int | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(230, 200)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_box(self, part: Part, shown: Shown, marker: int | None) -> None:
        """Show a box, with the marker at a slot where it is gone through slot by slot."""
        before, self._shown = self._shown, shown
        marked, self._marker = self._marker, marker
        same, self._part = part is self._part, part
        self.setAccessibleName(f"{part.path}, {part.rows} rows of {part.columns} slots")
        self.setAccessibleDescription("" if marker is None else self.told(marker))
        if not same:
            self.update()
            return
        for slot in range(part.size):  # a whole box is too much to draw for every scan
            if shown.get(slot) != before.get(slot) or (slot in (marked, marker) and marked != marker):
                self.update(self._area(slot))

    def told(self, slot: int) -> str:
        """Return a slot as a screen reader says it."""
        assert self._part is not None
        if slot >= self._part.size:
            return "the last slot is behind"
        group, vial = self._shown.get(slot, (None, None))
        where = slots.label(slot, self._part.columns)
        if slot not in self._shown:
            return f"{where}: nothing expected"
        return f"{where}: {'not yet scanned' if group is None else _WORDS[group]}{f', {vial.clone}' if vial else ''}"

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave a slot empty with Space or Right, look at the one before again with Left."""
        steps = {Qt.Key.Key_Space: 1, Qt.Key.Key_Right: 1, Qt.Key.Key_Left: -1, Qt.Key.Key_Backspace: -1}
        if event.key() in steps:
            self.stepped.emit(steps[Qt.Key(event.key())])
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Put the marker at the slot clicked."""
        super().mousePressEvent(event)
        for slot in range(self._part.size if self._part else 0):
            if self._cell(slot).contains(event.position()):
                self.chosen.emit(slot)

    # -- drawing

    def _size(self) -> QSizeF:
        """Return the room of a slot."""
        assert self._part is not None
        head = self._head()
        across = min(LARGEST_CELL, (self.width() - head) / max(1, self._part.columns))
        down = min(LARGEST_CELL, (self.height() - head) / max(1, self._part.rows))
        return QSizeF(min(across, down * MOST_UNLIKE), min(down, across * MOST_UNLIKE))

    def _head(self) -> float:
        return self.fontMetrics().height() + 6.0

    def _cell(self, slot: int) -> QRectF:
        assert self._part is not None
        size, head = self._size(), self._head()
        row, column = divmod(slot, self._part.columns)
        corner = QPointF(head + column * size.width(), head + row * size.height())
        return QRectF(corner, size).adjusted(1.5, 1.5, -1.5, -1.5)

    def _area(self, slot: int) -> QRect:
        return self._cell(slot).toAlignedRect().adjusted(-2, -2, 2, 2)  # its outline lies half outside

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the box."""
        if self._part is None or not self._part.size:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._draw_heads(painter, self._part)
        for slot in range(self._part.size):
            if event.region().intersects(self._area(slot)):
                self._draw(painter, slot)
        painter.end()

    def _draw_heads(self, painter: QPainter, part: Part) -> None:
        size, head = self._size(), self._head()
        painter.setPen(tokens().colour("mute"))
        for column in range(part.columns):
            where = QRectF(head + column * size.width(), 0, size.width(), head)
            painter.drawText(where, Qt.AlignmentFlag.AlignCenter, str(column + 1))
        for row in range(part.rows):
            where = QRectF(0, head + row * size.height(), head, size.height())
            painter.drawText(where, Qt.AlignmentFlag.AlignCenter, slots.label(row * part.columns, part.columns)[:-1])

    def _draw(self, painter: QPainter, slot: int) -> None:
        colours, cell = tokens(), self._cell(slot)
        taken = slot in self._shown
        group = self._shown[slot][0] if taken else None
        token = _TOKENS[group] if taken else "line"
        filled = group in (Group.RIGHT, Group.WRONG, Group.STRANGER)
        painter.setPen(QPen(colours.colour(token), 1.2))
        painter.setBrush(colours.colour(token, 0.18) if filled else colours.colour("sheet"))
        painter.drawRoundedRect(cell, 4, 4)
        painter.setPen(QPen(colours.colour(token), 2))
        if group is Group.RIGHT:
            self._tick(painter, cell)
        elif group is not None:
            painter.drawText(cell, Qt.AlignmentFlag.AlignCenter, _SIGNS[group])
        elif taken:
            least = min(cell.width(), cell.height())
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(cell.center(), least * 0.16, least * 0.16)
        if slot == self._marker:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(colours.colour("ink"), 3))
            painter.drawRoundedRect(cell, 4, 4)

    @staticmethod
    def _tick(painter: QPainter, cell: QRectF) -> None:
        middle, size = cell.center(), min(cell.width(), cell.height()) * 0.22
        corners = [(-1.0, 0.0), (-0.3, 0.7), (1.0, -0.8)]
        painter.drawPolyline([QPointF(middle.x() + x * size, middle.y() + y * size) for x, y in corners])
