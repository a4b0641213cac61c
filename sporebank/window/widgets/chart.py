"""The decline of a vial as a picture: band, middle, tests with their spread, today, and the line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from sporebank.window.theme import tokens


@dataclass(frozen=True)
class TestPoint:
    """A test: the share that germinated and the interval it leaves likely, 0 to 1."""

    __test__ = False  # pytest must not take it for a test of ours

    on: date
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Decline:
    """What the chart shows; `low`, `middle` and `high` are shares on `dates`."""

    dates: Sequence[date]
    low: Sequence[float]
    middle: Sequence[float]
    high: Sequence[float]
    tests: Sequence[TestPoint]
    today: date
    line: float


class DeclineChart(QWidget):
    """Draws a decline; what it says is also its accessible description."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._decline: Decline | None = None
        self.setAccessibleName("How the share alive declines")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """Return a height that leaves room for the words around it."""
        return QSize(280, 178)

    def show_decline(self, decline: Decline | None, description: str = "") -> None:
        """Show a decline, or nothing."""
        self._decline = decline if decline is not None and len(decline.dates) > 1 else None
        self.setAccessibleDescription(description)
        self.setVisible(self._decline is not None)
        self.update()

    def _ground(self) -> QRectF:
        left = self.fontMetrics().horizontalAdvance("100 %") + 8
        return QRectF(self.rect()).adjusted(left, 8, -6, -self.fontMetrics().height() - 6)

    def _point(self, day: date, share: float) -> QPointF:
        assert self._decline is not None
        ground, days = self._ground(), self._decline.dates
        span = max((days[-1] - days[0]).days, 1)
        x = ground.left() + (day - days[0]).days / span * ground.width()
        return QPointF(x, ground.bottom() - share * ground.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the chart."""
        if self._decline is None:
            return
        with QPainter(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            font = self.font()
            font.setPointSizeF(font.pointSizeF() * 0.88)
            painter.setFont(font)
            self._draw_grid(painter)
            self._draw_band(painter, self._decline)
            self._draw_marks(painter, self._decline)
            self._draw_tests(painter, self._decline)

    def _draw_grid(self, painter: QPainter) -> None:
        colours, ground = tokens(), self._ground()
        for share in (0.0, 0.5, 1.0):
            y = ground.bottom() - share * ground.height()
            painter.setPen(QPen(colours.colour("line"), 1))
            painter.drawLine(QPointF(ground.left(), y), QPointF(ground.right(), y))
            painter.setPen(colours.colour("mute"))
            text = QRectF(0, y - 9, ground.left() - 6, 18)
            painter.drawText(text, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, f"{share * 100:.0f} %")
        self._draw_years(painter)

    def _draw_years(self, painter: QPainter) -> None:
        assert self._decline is not None
        first, last = self._decline.dates[0].year + 1, self._decline.dates[-1].year
        room = painter.fontMetrics().horizontalAdvance("2026") * 1.9
        most = max(int(self._ground().width() / room), 1)
        step = next(step for step in (1, 2, 5, 10, 20, 50, 100, 1000) if (last - first) / step < most)
        bottom = self._ground().bottom()
        for year in range(first + -first % step, last + 1, step):
            x = self._point(date(year, 1, 1), 0).x()
            painter.drawLine(QPointF(x, bottom), QPointF(x, bottom + 3))
            painter.drawText(QRectF(x - 30, bottom + 4, 60, 18), Qt.AlignmentFlag.AlignHCenter, str(year))

    def _draw_band(self, painter: QPainter, decline: Decline) -> None:
        colours = tokens()
        upper = [self._point(day, share) for day, share in zip(decline.dates, decline.high, strict=True)]
        lower = [self._point(day, share) for day, share in zip(decline.dates, decline.low, strict=True)]
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colours.colour("alive", 0.20))
        painter.drawPolygon(QPolygonF([*upper, *reversed(lower)]))
        painter.setPen(QPen(colours.colour("alive"), 2))
        middle = [self._point(day, share) for day, share in zip(decline.dates, decline.middle, strict=True)]
        painter.drawPolyline(QPolygonF(middle))

    def _draw_marks(self, painter: QPainter, decline: Decline) -> None:
        colours, ground = tokens(), self._ground()
        line = self._point(decline.dates[0], decline.line)
        painter.setPen(QPen(colours.colour("bad"), 1, Qt.PenStyle.DashLine))
        painter.drawLine(line, QPointF(ground.right(), line.y()))
        painter.drawText(QPointF(ground.left() + 4, line.y() - 4), f"the line, {decline.line * 100:.0f} %")
        if not decline.dates[0] <= decline.today <= decline.dates[-1]:
            return
        x = self._point(decline.today, 0).x()
        painter.setPen(QPen(colours.colour("info"), 1, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(x, ground.top()), QPointF(x, ground.bottom()))
        width = painter.fontMetrics().horizontalAdvance("today")
        beside = x + 4 if x + 4 + width < ground.right() else x - 4 - width
        painter.drawText(QPointF(beside, ground.top() + painter.fontMetrics().ascent()), "today")

    def _draw_tests(self, painter: QPainter, decline: Decline) -> None:
        colours = tokens()
        for test in decline.tests:
            painter.setPen(QPen(colours.colour("ink"), 1.4))
            painter.drawLine(self._point(test.on, test.low), self._point(test.on, test.high))
            painter.setBrush(colours.colour("sheet"))
            painter.drawEllipse(self._point(test.on, test.middle), 3.6, 3.6)
