"""Labels as they will be printed, with the fields of their layout outlined."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QImage, QMouseEvent, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from sporebank.core.layout import Layout
from sporebank.core.sheets import Rect
from sporebank.window.theme import palettes, tokens

GAP = 12
LEAST_HEIGHT = 120
COPIES = 2
NEAREST = 15.0
"""Pixels for a millimetre, at most: about four times the true size."""


class LabelPicture(QWidget):
    """Two labels of one layout, the field in hand and those that are wrong outlined.

    Signals: `chosen(place)` when a field was clicked; `resized` when the pictures have to be drawn anew.
    """

    chosen = Signal(int)
    resized = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._layout: Layout | None = None
        self._images: Sequence[QImage] = ()
        self._hand, self._wrong = -1, frozenset[int]()
        self.setAccessibleName("The label as it will be printed")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(LEAST_HEIGHT)

    def sizeHint(self) -> QSize:
        """Return room for two labels."""
        return QSize(480, 170)

    def show_layout(self, layout: Layout, hand: int, wrong: Collection[int]) -> None:
        """Outline the fields of a layout, if it has a size; pictures of another size go, since they would not fit."""
        if self._layout is None or (self._layout.width, self._layout.height) != (layout.width, layout.height):
            self._images = ()
        self._layout = layout if min(layout.width, layout.height) > 0 else None
        self._hand, self._wrong = hand, frozenset(wrong)
        size = f"{layout.width:g} × {layout.height:g} mm with {len(layout.fields)} fields"
        self.setAccessibleDescription(f"{size}, {len(self._wrong)} of them wrong" if wrong else size)
        self.update()

    def show_images(self, images: Sequence[QImage]) -> None:
        """Show the labels as they are printed, or nothing but the outlines."""
        self._images = images
        self.update()

    @property
    def scale(self) -> float:
        """Pixels for a millimetre, so that both labels are seen whole."""
        return max(self._scale(COPIES, 1), self._scale(1, COPIES))

    def _scale(self, across: int, down: int) -> float:
        if self._layout is None:
            return 1.0
        width = (self.width() - GAP * (across + 1)) / (self._layout.width * across)
        height = (self.height() - GAP * (down + 1)) / (self._layout.height * down)
        return max(0.01, min(width, height, NEAREST))

    def _corners(self) -> list[QPointF]:
        """Return where the labels stand: side by side, or one below the other where they come out larger so."""
        assert self._layout is not None
        scale = self.scale
        width, height = self._layout.width * scale, self._layout.height * scale
        side = self._scale(COPIES, 1) >= self._scale(1, COPIES)
        wide, high = (width * 2 + GAP, height) if side else (width, height * 2 + GAP)
        first = QPointF((self.width() - wide) / 2, (self.height() - high) / 2)
        return [first, first + (QPointF(width + GAP, 0) if side else QPointF(0, height + GAP))]

    def _placed(self, rect: Rect, corner: QPointF) -> QRectF:
        scale = self.scale
        return QRectF(
            corner.x() + rect.left * scale, corner.y() + rect.top * scale, rect.width * scale, rect.height * scale
        )

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the field under the mouse."""
        if self._layout is None:
            return
        for corner in self._corners():
            for place, one in enumerate(self._layout.fields):
                if self._placed(one.rect, corner).contains(event.position()):
                    self.chosen.emit(place)
                    return

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Ask for pictures in the room there is."""
        super().resizeEvent(event)
        self.resized.emit()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw paper, print and outlines."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), tokens().colour("line"))
        if self._layout is not None:
            for number, corner in enumerate(self._corners()):
                self._draw(painter, self._layout, corner, self._images[number : number + 1])
        painter.end()

    def _draw(self, painter: QPainter, layout: Layout, corner: QPointF, images: Sequence[QImage]) -> None:
        """Draw one label; paper is white, whatever the window wears."""
        colours, paper = palettes()["light"], self._placed(Rect(0, 0, layout.width, layout.height), corner)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colours.colour("sheet"))
        painter.drawEllipse(paper) if layout.round else painter.drawRect(paper)
        painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_Multiply)  # so that round paper stays round
        for image in images:
            painter.drawImage(paper, image)
        painter.setCompositionMode(QPainter.CompositionMode.CompositionMode_SourceOver)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if layout.stem:
            painter.fillRect(self._stem(layout, corner), colours.colour("ink", 0.08))
        for place, one in enumerate(layout.fields):
            token = "bad" if place in self._wrong else "accent" if place == self._hand else "edge"
            style = Qt.PenStyle.DotLine if token == "edge" else Qt.PenStyle.SolidLine
            painter.setPen(QPen(colours.colour(token), 2 if place == self._hand else 1, style))
            painter.drawRect(self._placed(one.rect, corner))

    def _stem(self, layout: Layout, corner: QPointF) -> QRectF:
        free = layout.printed
        if layout.height > layout.width:
            return self._placed(Rect(0, free.bottom, layout.width, layout.stem), corner)
        return self._placed(Rect(free.right, 0, layout.stem, layout.height), corner)
