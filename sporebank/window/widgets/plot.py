"""A plot in our own look over pyqtgraph, which is loaded with this module: import it only when one is first shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QKeyEvent, QPainter
from PySide6.QtWidgets import QGraphicsRectItem

from sporebank.window.theme import Tokens

_CLOSER, _STEP = 0.8, 0.15


class Plot(pg.PlotWidget):  # type: ignore[misc]  # pyqtgraph has no types
    """One plot without menus or buttons. Where it can be zoomed, wheel, drag and keys zoom and move along.

    Keys: + and - zoom, the arrows move, 0 shows the whole.

    Args:
        colours: the palette to draw in.
        axes: axes of another kind than usual, by their side.
        zooms: whether it can be zoomed.
        size: that of words, as a part of the window's.
        finer: dots to each pixel where it is drawn for a picture; else as the screen has them.
    """

    def __init__(
        self,
        colours: Tokens,
        axes: dict[str, pg.AxisItem] | None = None,
        *,
        zooms: bool = False,
        size: float = 0.9,
        finer: float | None = None,
    ) -> None:
        super().__init__(background=None, axisItems=axes or {}, enableMenu=False)
        self._dots = finer or self.devicePixelRatioF()
        self.colours, self.zooms, self.home = colours, zooms, (0.0, 1.0)
        self.words = QFont(self.font())
        self.words.setPointSizeF(self.font().pointSizeF() * size)
        self.setFrameShape(self.Shape.NoFrame)
        self.setStyleSheet("background: transparent")
        self.plotItem.hideButtons()
        self.plotItem.layout.setContentsMargins(1, 1, 16, 1)  # room for half a word below the last tick
        self.plotItem.getViewBox().setMouseEnabled(x=zooms, y=False)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus if zooms else Qt.FocusPolicy.NoFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents, not zooms)
        for side in ("left", "bottom"):
            self._dress(self.getAxis(side))
        self.getAxis("left").setWidth(QFontMetricsF(self.words).horizontalAdvance("100 %") + 12)

    def _dress(self, axis: pg.AxisItem) -> None:
        axis.setPen(self.pen("line"))
        axis.setTextPen(self.pen("mute"))
        axis.setStyle(tickFont=self.words, tickLength=-4, tickTextOffset=6, hideOverlappingLabels=False)

    def pen(
        self, token: str, width: float = 1.0, style: Qt.PenStyle = Qt.PenStyle.SolidLine, alpha: float = 1.0
    ) -> Any:  # noqa: ANN401 - pyqtgraph has no types
        """Return a pen in a colour of the palette."""
        return pg.mkPen(self.colours.colour(token, alpha), width=width * self._dots, style=style)

    def tint(self, token: str, alpha: float = 1.0) -> QColor:
        """Return a colour of the palette to fill with."""
        return self.colours.colour(token, alpha)

    def curve(self, x: Sequence[float], y: Sequence[float], pen: Any, **more: Any) -> Any:  # noqa: ANN401 - as above
        """Draw a line through points."""
        item = pg.PlotCurveItem(list(x), list(y), pen=pen, antialias=True, **more)
        self.addItem(item)
        return item

    def block(self, left: float, right: float, low: float, high: float, colour: QColor) -> None:
        """Fill a rectangle, behind everything else."""
        item = QGraphicsRectItem(QRectF(left, low, right - left, high - low))
        item.setPen(pg.mkPen(None))
        item.setBrush(colour)
        item.setZValue(-20)
        self.addItem(item)

    def say(
        self, text: str, token: str, at: tuple[float, float], anchor: tuple[float, float], *, ground: float = 0.0
    ) -> Any:  # noqa: ANN401 - as above
        """Write words at a point; `anchor` says which corner of them lies there, `ground` how much they cover."""
        item = pg.TextItem(text, color=self.tint(token), anchor=anchor, fill=self.tint("sheet", ground))
        item.setFont(self.words)
        item.setPos(*at)
        item.setZValue(10)
        self.addItem(item, ignoreBounds=True)
        return item

    def rule(self, at: float, angle: int, pen: Any, token: str, text: str, where: float) -> None:  # noqa: ANN401
        """Draw a line across the whole plot, with words on it at a part of its length."""
        anchors = [(0, 1), (0, 1)] if angle == 0 else [(0, 0.5), (1, 0.5)]
        line = pg.InfiniteLine(
            at,
            angle=angle,
            pen=pen,
            label=text or None,
            labelOpts={"position": where, "color": self.tint(token), "anchors": anchors, "movable": False},
        )
        if text:
            line.label.setFont(self.words)
        self.addItem(line, ignoreBounds=True)

    def draw(self, painter: QPainter, room: QRectF) -> None:
        """Draw the plot into a file, its marks as outlines."""
        self.grab()  # lays everything out, as if it were in sight
        for item in self.plotItem.items:
            if isinstance(item, pg.ScatterPlotItem):
                item.setExportMode(True, {})
        self.render(painter, room, self.rect())

    def set_home(self, first: float, last: float, shortest: float) -> None:
        """Say what the whole is, and what the shortest stretch is that can be zoomed to."""
        self.home = (first, last)
        self.plotItem.getViewBox().setLimits(xMin=first, xMax=last, minXRange=shortest, maxXRange=last - first)
        self.go_home()

    def go_home(self) -> None:
        """Show the whole."""
        self.setXRange(*self.home, padding=0)

    def stretch(self) -> tuple[float, float]:
        """Return the first and the last value in sight."""
        low, high = self.plotItem.getViewBox().viewRange()[0]
        return float(low), float(high)

    def zoom(self, factor: float) -> None:
        """Show so many times as long a stretch around the middle."""
        low, high = self.stretch()
        middle, half = (low + high) / 2, (high - low) / 2 * factor
        self.setXRange(max(middle - half, self.home[0]), min(middle + half, self.home[1]), padding=0)

    def shift(self, part: float) -> None:
        """Move along by a part of the stretch in sight, no further than the end."""
        low, high = self.stretch()
        by = part * (high - low)
        by = min(max(by, self.home[0] - low), self.home[1] - high)
        self.setXRange(low + by, high + by, padding=0)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Zoom and move by keys; all others go on to the window."""
        deeds: dict[Qt.Key, Callable[[], object]] = {
            Qt.Key.Key_Plus: lambda: self.zoom(_CLOSER), Qt.Key.Key_Equal: lambda: self.zoom(_CLOSER),
            Qt.Key.Key_Minus: lambda: self.zoom(1 / _CLOSER), Qt.Key.Key_0: self.go_home,
            Qt.Key.Key_Left: lambda: self.shift(-_STEP), Qt.Key.Key_Right: lambda: self.shift(_STEP),
        }  # fmt: skip
        deed = deeds.get(Qt.Key(event.key())) if self.zooms else None
        if deed is None:
            event.ignore()
        else:
            deed()
