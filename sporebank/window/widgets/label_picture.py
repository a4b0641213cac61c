"""Labels as they will be printed, with the fields of their layout outlined."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QImage, QMouseEvent, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget

from sporebank.core.layout import Layout
from sporebank.core.sheets import Rect
from sporebank.window.theme import palettes, tokens

GAP = 12
LEAST_HEIGHT = 76
LEAST, MOST = 4.0, 15.0
"""Pixels for a millimetre: never below the true size, or nothing could be read, and at most four times as large."""
LONGEST = 2000
"""Pixels of the longer side of a label; a huge one comes out below its true size."""


class LabelPicture(QScrollArea):
    """Two labels of one layout, as large as there is room for; where it is more, the field in hand is kept in sight.

    Signals: `chosen(place)` when a field was clicked; `resized` when the labels have to be drawn anew.
    """

    chosen = Signal(int)
    resized = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.paper = _Paper()
        self.paper.chosen.connect(self.chosen)
        self.setWidget(self.paper)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setMinimumHeight(LEAST_HEIGHT)
        self.setAccessibleName("The label as it will be printed")

    def sizeHint(self) -> QSize:
        """Return room for two small labels."""
        return QSize(480, 170)

    @property
    def scale(self) -> float:
        """Pixels for a millimetre."""
        return self.paper.scale

    def show_layout(self, layout: Layout, hand: int, wrong: Collection[int]) -> None:
        """Outline the fields of a layout, the one in hand and those that are wrong above all."""
        size = f"{layout.width:g} × {layout.height:g} mm with {len(layout.fields)} fields"
        self.setAccessibleDescription(f"{size}, {len(wrong)} of them wrong" if wrong else size)
        self.paper.show_layout(layout, hand, wrong, self.viewport().size())
        whole = self.paper.field(hand)
        rect = QRectF() if whole is None else whole.intersected(QRectF(self.paper.rect()))
        if not rect.isEmpty():
            centre = rect.center().toPoint()
            self.ensureVisible(centre.x(), centre.y(), round(rect.width() / 2) + GAP, round(rect.height() / 2) + GAP)

    def show_images(self, images: Sequence[QImage]) -> None:
        """Show the labels as they are printed, or nothing but the outlines."""
        self.paper.show_images(images)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take the room there is, and ask for labels as large."""
        super().resizeEvent(event)
        self.paper.take_room(self.viewport().size())
        self.resized.emit()


class _Paper(QWidget):
    """The labels themselves, side by side or one below the other, as they come out larger."""

    chosen = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self._layout: Layout | None = None
        self._images: Sequence[QImage] = ()
        self._hand, self._wrong = -1, frozenset[int]()
        self._side = True
        self.scale = 1.0

    def show_layout(self, layout: Layout, hand: int, wrong: Collection[int], room: QSize) -> None:
        """Outline the fields of a layout, if it has a size; pictures of another size go, since they would not fit."""
        if self._layout is None or (self._layout.width, self._layout.height) != (layout.width, layout.height):
            self._images = ()
        self._layout = layout if min(layout.width, layout.height) > 0 else None
        self._hand, self._wrong = hand, frozenset(wrong)
        self.take_room(room)

    def show_images(self, images: Sequence[QImage]) -> None:
        """Show pictures of the labels."""
        self._images = images
        self.update()

    def take_room(self, room: QSize) -> None:
        """Fit the labels into a room, or ask for as much as they need at their true size."""
        if self._layout is not None:
            width, height = self._layout.width, self._layout.height
            beside = min((room.width() - 3 * GAP) / (2 * width), (room.height() - 2 * GAP) / height)
            below = min((room.width() - 2 * GAP) / width, (room.height() - 3 * GAP) / (2 * height))
            self.scale = max(min(LEAST, LONGEST / max(width, height)), min(MOST, max(beside, below)))
            self._side = 2 * width * self.scale + 3 * GAP <= room.width()
            wide, high = self._needed()
            self.setMinimumSize(round(wide) + 2 * GAP, round(high) + 2 * GAP)
        self.update()

    def _needed(self) -> tuple[float, float]:
        """Return how many pixels both labels take, across and down."""
        assert self._layout is not None
        width, height = self._layout.width * self.scale, self._layout.height * self.scale
        return (2 * width + GAP, height) if self._side else (width, 2 * height + GAP)

    def _corners(self) -> tuple[QPointF, QPointF]:
        assert self._layout is not None
        wide, high = self._needed()
        first = QPointF((self.width() - wide) / 2, (self.height() - high) / 2)
        across, down = self._layout.width * self.scale + GAP, self._layout.height * self.scale + GAP
        return first, first + (QPointF(across, 0) if self._side else QPointF(0, down))

    def _placed(self, rect: Rect, corner: QPointF) -> QRectF:
        scale = self.scale
        return QRectF(
            corner.x() + rect.left * scale, corner.y() + rect.top * scale, rect.width * scale, rect.height * scale
        )

    def field(self, place: int, copy: int = 0) -> QRectF | None:
        """Return where a field of one of the two labels stands, or None where there is none."""
        if self._layout is None or not 0 <= place < len(self._layout.fields):
            return None
        return self._placed(self._layout.fields[place].rect, self._corners()[copy])

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the field under the mouse."""
        for place in range(len(self._layout.fields) if self._layout else 0):
            for copy in (0, 1):
                rect = self.field(place, copy)
                if rect is not None and rect.contains(event.position()):
                    self.chosen.emit(place)
                    return

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
            painter.fillRect(self._placed(_stem(layout), corner), colours.colour("ink", 0.08))
        for place, one in enumerate(layout.fields):
            token = "bad" if place in self._wrong else "accent" if place == self._hand else "edge"
            style = Qt.PenStyle.DotLine if token == "edge" else Qt.PenStyle.SolidLine
            painter.setPen(QPen(colours.colour(token), 2 if place == self._hand else 1, style))
            painter.drawRect(self._placed(one.rect, corner))


def _stem(layout: Layout) -> Rect:
    free = layout.printed
    if layout.height > layout.width:
        return Rect(0, free.bottom, layout.width, layout.stem)
    return Rect(free.right, 0, layout.stem, layout.height)
