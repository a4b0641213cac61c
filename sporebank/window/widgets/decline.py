"""The decay chart as a plot: band, middle, tests, the line, today, stays, and sister batches on demand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFontMetricsF

from sporebank.core import chart as charts
from sporebank.core.chart import Chart, Dot, Span
from sporebank.window.theme import Tokens
from sporebank.window.widgets.plot import Plot

Stretch = tuple[date, date]
"""The first and the last day in sight."""

_LOWEST, _HIGHEST = -0.02, 1.04
_STRIP = (1.05, 1.14)  # above all shares, where the stays are named
_TODAY, _TODAY_SMALL = 0.96, 0.86  # how high today is named: beside the stays, which end there, where those are named
_SHORTEST = 90.0  # days: any fewer could not be told by months
_GAP = 6.0  # pixels from a word to the end of its stay
_TINTS = (0.14, 0.08)


class DayAxis(pg.AxisItem):  # type: ignore[misc]  # pyqtgraph has no types
    """Days below the plot, as ordinals, ruled by years or months."""

    def __init__(self) -> None:
        super().__init__("bottom")
        self._texts: dict[int, str] = {}

    def tickValues(self, low: float, high: float, size: float) -> list[tuple[float, list[int]]]:
        """Return the days to rule and note what stands below them."""
        font = self.style["tickFont"]
        width = QFontMetricsF(font).horizontalAdvance("20266") if font else 40.0
        first, last = (date.fromordinal(max(round(day), 1)) for day in (low, high))
        found = charts.ticks(first, last, max(int(size / width), 1))
        self._texts = {tick.on.toordinal(): tick.text for tick in found}
        return [(1.0, list(self._texts))]

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        """Return what stands below the days ruled."""
        return [self._texts[round(value)] for value in values]


class DeclinePlot(Plot):
    """Draws a chart whole, or a stretch of it; where it is `terse`, stays and the day of collecting are not named."""

    def __init__(
        self,
        colours: Tokens,
        *,
        zooms: bool = False,
        terse: bool = False,
        size: float = 1.0,
        finer: float | None = None,
    ) -> None:
        super().__init__(colours, {"bottom": DayAxis()}, zooms=zooms, size=size, finer=finer)
        self._terse = terse
        self.chart: Chart | None = None
        self._named: list[tuple[Span, Any]] = []
        self.getAxis("left").setTicks([[(share, f"{share * 100:.0f} %") for share in charts.SHARES]])
        self.setYRange(_LOWEST, _HIGHEST if terse else _STRIP[1], padding=0)
        self.plotItem.getViewBox().sigRangeChanged.connect(lambda *_: self._fit_names())
        self.plotItem.getViewBox().sigResized.connect(lambda *_: self._fit_names())

    def show_chart(self, chart: Chart, stretch: Stretch | None = None) -> None:
        """Draw a chart, or only what lies in a stretch of it."""
        self.chart, self._named = chart, []
        self.plotItem.clear()
        shown = stretch or chart.days
        self._draw(charts.cut(chart, *shown), shown)
        first, last = (day.toordinal() for day in shown)
        margin = 0.0 if stretch else max((last - first) * 0.015, 1.0)
        self.set_home(first - margin, last + margin, min(_SHORTEST, float(last - first)))
        self._fit_names()

    def in_sight(self) -> Stretch | None:
        """Return the days in sight, or None where that is the whole."""
        low, high = self.stretch()
        if (low, high) == self.home:
            return None
        return date.fromordinal(max(round(low), 1)), date.fromordinal(round(high))

    def _draw(self, chart: Chart, shown: Stretch) -> None:
        for share in charts.SHARES:
            self.plotItem.addLine(y=share, pen=self.pen("line")).setZValue(-10)
        self._draw_stays(chart.stays)
        self._draw_sisters(chart)
        self._draw_curve(chart)
        self._draw_lines(chart, shown)
        self._draw_tests(chart.tests)

    def _draw_stays(self, stays: Sequence[Span]) -> None:
        for number, stay in enumerate(stays):
            left, right = stay.since.toordinal(), stay.until.toordinal()
            self.block(left, right, 0.0, 1.0, self.tint("spent", _TINTS[number % 2]))
            if self._terse:
                continue
            self.block(left, right, *_STRIP, self.tint("spent", 2 * _TINTS[number % 2]))
            self.curve([left, left], _STRIP, self.pen("edge"))
            self._named.append((stay, self.say(stay.word, "mute", (left, sum(_STRIP) / 2), (0, 0.5))))

    def _fit_names(self) -> None:
        """Name the stays that have room for it, at the left of what is in sight of them."""
        low, high = self.stretch()
        pixel = (high - low) / max(self.plotItem.getViewBox().width(), 1.0)
        metrics = QFontMetricsF(self.words)
        for stay, word in self._named:
            left, right = max(stay.since.toordinal(), low), min(stay.until.toordinal(), high)
            word.setVisible((right - left) / pixel >= metrics.horizontalAdvance(stay.word) + 2 * _GAP)
            word.setPos(left, sum(_STRIP) / 2)

    def _draw_sisters(self, chart: Chart) -> None:
        pen = self.pen("mute", 1.2, Qt.PenStyle.DotLine)
        for number, sister in enumerate(chart.sisters, start=1):
            days = _ordinals(sister.dates)
            self.curve(days, sister.middle, pen)
            at = charts.sister_place(number, sister)
            self.say(str(number), "ink", (days[at], sister.middle[at]), (0.5, 0.5), ground=0.85)

    def _draw_curve(self, chart: Chart) -> None:
        curve = chart.curve
        if curve is None:
            first, last = (day.toordinal() for day in chart.days)
            self.say(charts.UNMODELLED, "warn", ((first + last) / 2, 0.4), (0.5, 0.5))
            return
        days, edge = _ordinals(curve.dates), self.pen("alive", 1.0, alpha=0.55)
        low, high = self.curve(days, curve.low, edge), self.curve(days, curve.high, edge)
        self.addItem(pg.FillBetweenItem(low, high, brush=self.tint("alive", 0.20)))
        self.curve(days, curve.middle, self.pen("alive", 2.4), name="middle")

    def _draw_lines(self, chart: Chart, shown: Stretch) -> None:
        self.rule(chart.line, 0, self.pen("bad", 1.0, Qt.PenStyle.DashLine), "bad", charts.line_label(chart), 0.01)
        if shown[0] <= chart.today <= shown[1]:
            pen, high = self.pen("info", 1.0, Qt.PenStyle.DotLine), _TODAY_SMALL if self._terse else _TODAY
            self.rule(chart.today.toordinal(), 90, pen, "info", charts.today_label(chart), high)
        first, last = max(chart.collected.first(), shown[0]), min(chart.collected.last(), shown[1])
        if first < last:
            self.curve(_ordinals((first, last)), [0.0, 0.0], self.pen("ink", 4.0))
        if first <= last and not self._terse:
            self.say(charts.collected_label(chart), "mute", (first.toordinal(), 0.0), (0, 1))

    def _draw_tests(self, tests: Sequence[Dot]) -> None:
        for dot in tests:
            style = Qt.PenStyle.DotLine if dot.left_out else Qt.PenStyle.SolidLine
            day = dot.on.toordinal()
            self.curve([day, day], [dot.low, dot.high], self.pen("ink", 1.4, style))
        ring, ink = pg.mkPen(self.tint("ink"), width=1.6), self.tint("ink")
        self._draw_marks([dot for dot in tests if not dot.left_out], "o", 8, ring, self.tint("sheet"))
        self._draw_marks([dot for dot in tests if dot.left_out], "x", 11, pg.mkPen(None), ink)

    def _draw_marks(self, dots: Sequence[Dot], symbol: str, size: float, pen: Any, fill: QColor) -> None:  # noqa: ANN401 - pyqtgraph has no types
        days = [dot.on.toordinal() for dot in dots]
        marks = pg.ScatterPlotItem(
            days, [dot.share for dot in dots], symbol=symbol, size=size, pen=pen, brush=fill, antialias=True
        )
        marks.setZValue(5)
        self.addItem(marks)


def _ordinals(dates: Sequence[date]) -> list[int]:
    return [day.toordinal() for day in dates]
