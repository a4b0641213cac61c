"""A PDF drawn in mm from the paper's top left, in black, page after page.

`Drawing(title, author)`, then for each page `page(width, height)` and marks, and `finish()` for the bytes. A mark is
put down as it is or moved: labels are set once from their own top left and drawn wherever they go.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from sporebank.core.fit import MM_PER_POINT
from sporebank.documents import fonts
from sporebank.documents.qr import Symbol

LANGUAGE = "en-GB"
rl_config.useA85 = 0  # streams stay binary: a fifth smaller, and much faster to write


@dataclass(frozen=True)
class Text:
    """A run of text from (x, y) on its baseline in mm, `size` in points; `turn` 90 reads upwards. No kerning."""

    x: float
    y: float
    size: float
    face: str
    text: str
    turn: int = 0


@dataclass(frozen=True)
class Stamp:
    """A symbol, the corner of its quiet zone at (left, top) in mm."""

    left: float
    top: float
    symbol: Symbol


Mark = Text | Stamp


class Drawing:
    """Pages that ask to be printed at their true size. The same marks give the same bytes."""

    def __init__(self, title: str, author: str = "") -> None:
        fonts.register()
        self._out = io.BytesIO()
        self._canvas = Canvas(self._out, invariant=1, lang=LANGUAGE, initialFontName=fonts.REGULAR, pageCompression=1)
        self._canvas.setTitle(title)
        self._canvas.setAuthor(author)
        self._canvas.setViewerPreference("PrintScaling", "None")
        self._height = 0.0

    def page(self, width: float, height: float) -> None:
        """Begin a page of so many mm."""
        if self._height:
            self._canvas.showPage()
        self._height = height
        self._canvas.setPageSize((width / MM_PER_POINT, height / MM_PER_POINT))

    def put(self, mark: Mark, across: float = 0.0, down: float = 0.0) -> None:
        """Draw a mark, moved by so many mm."""
        if isinstance(mark, Text):
            self._text(mark, across, down)
        else:
            self._stamp(mark, across, down)

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float = 0.1) -> None:
        """Draw a line, `width` mm thick."""
        self._canvas.setLineWidth(width / MM_PER_POINT)
        self._canvas.line(*self._point(x1, y1), *self._point(x2, y2))

    def finish(self) -> bytes:
        """Return the PDF."""
        self._canvas.showPage()
        self._canvas.save()
        return self._out.getvalue()

    def _point(self, x: float, y: float) -> tuple[float, float]:
        return x / MM_PER_POINT, (self._height - y) / MM_PER_POINT

    def _text(self, mark: Text, across: float, down: float) -> None:
        x, y = self._point(mark.x + across, mark.y + down)
        self._canvas.setFont(mark.face, mark.size)
        if not mark.turn:
            self._canvas.drawString(x, y, mark.text)
            return
        self._canvas.saveState()
        self._canvas.translate(x, y)
        self._canvas.rotate(mark.turn)
        self._canvas.drawString(0, 0, mark.text)
        self._canvas.restoreState()

    def _stamp(self, mark: Stamp, across: float, down: float) -> None:
        """Fill all modules as one path, so that no seam shows; the unit of its numbers is one module, downwards."""
        x, y = self._point(mark.left + across, mark.top + down)
        unit = mark.symbol.module / MM_PER_POINT
        self._canvas.addLiteral(f"q {unit:.5f} 0 0 {-unit:.5f} {x:.4f} {y:.4f} cm {mark.symbol.path} f Q")
