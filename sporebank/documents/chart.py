"""The decay chart on paper, drawn from the same record as in the window; readable in black and white."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from reportlab.lib.colors import Color, HexColor
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable

from sporebank.core import chart as charts
from sporebank.core.chart import Chart, Dot, Span
from sporebank.documents import fonts
from sporebank.documents.figures import INK, LINE
from sporebank.documents.style import ACCENT, MUTE

_BAND, _SHADES, _STRIPS = HexColor("#CFE0D7"), (HexColor("#F2F1EC"), HexColor("#F8F7F4")), HexColor("#E6E4DC")
_SIZE = 6.8
_LEFT, _FOOT, _STRIP, _RIGHT = 10 * mm, 6 * mm, 4.6 * mm, 2 * mm
_DOT = 1.0 * mm


class DeclineDrawing(Flowable):  # type: ignore[misc]  # ReportLab has no types
    """The chart of a vial, so many points wide and high."""

    def __init__(self, chart: Chart, width: float, height: float) -> None:
        super().__init__()
        self.width, self.height = width, height
        self.chart = charts.cut(chart, *chart.days)
        self._first, self._last = (day.toordinal() for day in chart.days)

    def x(self, day: date) -> float:
        """Return where a day lies, in points from the left."""
        across = self.width - _LEFT - _RIGHT
        return float(_LEFT + across * (day.toordinal() - self._first) / max(self._last - self._first, 1))

    def y(self, share: float) -> float:
        """Return where a share lies, in points from the foot."""
        return float(_FOOT + share * (self.height - _FOOT - _STRIP - 1.5 * mm))

    def draw(self) -> None:
        """Draw the chart from back to front."""
        self.canv.setLineJoin(1)
        self._draw_stays(self.chart.stays)
        self._draw_curve()
        self._draw_grid()
        self._draw_sisters()
        self._draw_lines()
        self._draw_tests(self.chart.tests)

    def _pen(self, colour: Color, width: float, dash: Sequence[float] = ()) -> None:
        self.canv.setStrokeColor(colour)
        self.canv.setLineWidth(width)
        self.canv.setDash(*([list(dash)] if dash else []))

    def _say(self, text: str, x: float, y: float, colour: Color = MUTE, *, anchor: float = 0.0) -> None:
        """Write words from a point, or with a part of their width to the left of it."""
        self.canv.setFont(fonts.REGULAR, _SIZE)
        self.canv.setFillColor(colour)
        self.canv.drawString(x - anchor * _wide(text), y, fonts.printable(text))

    def _draw_stays(self, stays: Sequence[Span]) -> None:
        top = self.height - _STRIP
        for number, stay in enumerate(stays):
            left, right = self.x(stay.since), self.x(stay.until)
            self._fill(_SHADES[number % 2], left, self.y(0), right - left, self.y(1) - self.y(0))
            self._fill(_STRIPS, left, top, right - left, _STRIP)
            self._pen(MUTE, 0.5)
            self.canv.line(left, top, left, self.height)
            if _wide(stay.word) + 3 * mm <= right - left:
                self._say(stay.word, left + 1.2 * mm, top + 1.5 * mm)

    def _fill(self, colour: Color, left: float, foot: float, width: float, height: float) -> None:
        self.canv.setFillColor(colour)
        self.canv.rect(left, foot, width, height, stroke=0, fill=1)

    def _draw_grid(self) -> None:
        for share in charts.SHARES:
            self._pen(LINE, 0.4)
            self.canv.line(_LEFT, self.y(share), self.width - _RIGHT, self.y(share))
            self._say(f"{share * 100:.0f} %", _LEFT - 1.5 * mm, self.y(share) - 0.35 * _SIZE, anchor=1.0)
        room = int((self.width - _LEFT) / _wide("20266"))
        first, last = self.chart.days
        for tick in charts.ticks(first, last, room):
            self._pen(LINE, 0.4)
            self.canv.line(self.x(tick.on), self.y(0), self.x(tick.on), self.y(0) - 1.2 * mm)
            self._say(tick.text, self.x(tick.on), self.y(0) - 1.2 * mm - _SIZE, anchor=0.5)

    def _draw_curve(self) -> None:
        curve = self.chart.curve
        if curve is None:
            self._say(charts.UNMODELLED, self.width / 2, self.y(0.4), INK, anchor=0.5)
            return
        band = self.canv.beginPath()
        around = [*zip(curve.dates, curve.high, strict=True)]
        around += reversed([*zip(curve.dates, curve.low, strict=True)])
        self._trace(band, around)
        band.close()
        self.canv.setFillColor(_BAND)
        self.canv.drawPath(band, stroke=0, fill=1)
        for way, width in ((curve.low, 0.4), (curve.high, 0.4), (curve.middle, 1.5)):
            self._pen(ACCENT, width)
            self._follow(curve.dates, way)

    def _follow(self, dates: Sequence[date], shares: Sequence[float]) -> None:
        path = self.canv.beginPath()
        self._trace(path, list(zip(dates, shares, strict=True)))
        self.canv.drawPath(path, stroke=1, fill=0)

    def _trace(self, path: object, points: Sequence[tuple[date, float]]) -> None:
        for number, (day, share) in enumerate(points):
            step = path.lineTo if number else path.moveTo  # type: ignore[attr-defined]  # ReportLab has no types
            step(self.x(day), self.y(share))

    def _draw_sisters(self) -> None:
        for number, sister in enumerate(self.chart.sisters, start=1):
            self._pen(MUTE, 0.7, (0.8, 1.6))
            self._follow(sister.dates, sister.middle)
            at = charts.sister_place(number, sister)
            self._say(str(number), self.x(sister.dates[at]) + 0.6 * mm, self.y(sister.middle[at]), INK)

    def _draw_lines(self) -> None:
        chart, line, today = self.chart, self.y(self.chart.line), self.x(self.chart.today)
        self._pen(INK, 0.7, (3, 2))
        self.canv.line(_LEFT, line, self.width - _RIGHT, line)
        self._say(charts.line_label(chart), _LEFT + 1.2 * mm, line + 0.8 * mm, INK)
        self._pen(INK, 0.6, (0.6, 1.4))
        self.canv.line(today, self.y(0), today, self.height)
        text = charts.today_label(chart)
        fits = today + _wide(text) + 2 * mm < self.width - _RIGHT
        beside = today + mm if fits else today - mm
        high = self.height - _STRIP + 1.5 * mm if fits else self.y(0.955)  # beside the stays, which end today
        self._say(text, beside, high, INK, anchor=0.0 if fits else 1.0)
        first, last = self.x(chart.collected.first()), self.x(chart.collected.last())
        if last > first:
            self._pen(INK, 1.6)
            self.canv.line(first, self.y(0), last, self.y(0))
        self._say(charts.collected_label(chart), first + 1.2 * mm, self.y(0) + 1.0 * mm)

    def _draw_tests(self, tests: Sequence[Dot]) -> None:
        for dot in tests:
            x, y = self.x(dot.on), self.y(dot.share)
            self._pen(INK, 0.8, (0.8, 1.4) if dot.left_out else ())
            self.canv.line(x, self.y(dot.low), x, self.y(dot.high))
            self._pen(INK, 0.9)
            if dot.left_out:
                self.canv.line(x - _DOT, y - _DOT, x + _DOT, y + _DOT)
                self.canv.line(x - _DOT, y + _DOT, x + _DOT, y - _DOT)
            else:
                self.canv.setFillColor(HexColor("#FFFFFF"))
                self.canv.circle(x, y, _DOT, stroke=1, fill=1)


def _wide(text: str) -> float:
    return float(stringWidth(text, fonts.REGULAR, _SIZE))
