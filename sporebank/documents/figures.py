"""Small drawings inside papers: tick boxes, code symbols and the band of how alive spore is."""

from __future__ import annotations

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from sporebank.core.records import Share, State
from sporebank.documents import qr

INK = HexColor("#1C2421")
LINE = HexColor("#CFCABB")
_COLOURS = {
    State.ALIVE: HexColor("#1E6B4A"),
    State.FADING: HexColor("#B98A1E"),
    State.SPENT: HexColor("#8C8F8B"),
    State.UNKNOWN: HexColor("#8C8F8B"),
}


class TickBox(Flowable):  # type: ignore[misc]  # ReportLab has no types
    """An empty square to tick."""

    def __init__(self, side: float = 3.6 * mm) -> None:
        super().__init__()
        self.width = self.height = side

    def draw(self) -> None:
        """Draw the square."""
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(0.8)
        self.canv.roundRect(0, -0.4 * mm, self.width, self.height, 0.5 * mm)


class CodeSymbol(Flowable):  # type: ignore[misc]  # ReportLab has no types
    """A code as a QR symbol with its quiet zone, at most `side` points wide."""

    def __init__(self, code: str, side: float) -> None:
        super().__init__()
        self.symbol = qr.plan(code, side / mm)
        self.width = self.height = self.symbol.side * mm if self.symbol else side

    def draw(self) -> None:
        """Draw the dark modules as one shape."""
        path = self.canv.beginPath()
        for bar in self.symbol.bars(0, 0) if self.symbol else ():
            path.rect(bar.left * mm, self.height - bar.bottom * mm, bar.width * mm, bar.height * mm)
        self.canv.setFillColor(INK)
        self.canv.drawPath(path, stroke=0, fill=1)


class Band(Flowable):  # type: ignore[misc]  # ReportLab has no types
    """A share of spore alive on a scale from 0 to 100 %: the band from low to high, a tick at the middle."""

    def __init__(self, share: Share, state: State, width: float = 40 * mm) -> None:
        super().__init__()
        self.share, self.state = share, state
        self.width, self.height = width, 3.4 * mm

    def draw(self) -> None:
        """Draw the scale, the band and the tick."""
        low, middle, high = (self.width * part for part in (self.share.low, self.share.middle, self.share.high))
        half = self.height / 2
        self.canv.setFillColor(LINE)
        self.canv.rect(0, half - 0.25 * mm, self.width, 0.5 * mm, stroke=0, fill=1)
        self.canv.setFillColor(_COLOURS[self.state])
        self.canv.rect(low, half - 1.1 * mm, max(high - low, 0.3 * mm), 2.2 * mm, stroke=0, fill=1)
        self.canv.setFillColor(INK)
        self.canv.rect(middle - 0.25 * mm, 0, 0.5 * mm, self.height, stroke=0, fill=1)
