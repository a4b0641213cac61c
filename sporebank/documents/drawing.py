"""Pages of drawing primitives in mm: a preview paints them, and PDF is written from exactly the same."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

from reportlab.pdfgen.canvas import Canvas

from sporebank.core.sheets import MM_PER_POINT, Rect
from sporebank.documents import fonts

LANGUAGE = "en-GB"


@dataclass(frozen=True)
class Text:
    """A run of text: `x` and `baseline` in mm from the paper's top left, `size` in points. No kerning."""

    x: float
    baseline: float
    size: float
    face: str
    text: str

    def moved(self, across: float, down: float) -> Text:
        """Return the run at another place."""
        return replace(self, x=self.x + across, baseline=self.baseline + down)


@dataclass(frozen=True)
class Fill:
    """Black rectangles that are filled as one shape, so that no seam shows between them."""

    rects: tuple[Rect, ...]

    def moved(self, across: float, down: float) -> Fill:
        """Return the shape at another place."""
        return Fill(tuple(replace(rect, left=rect.left + across, top=rect.top + down) for rect in self.rects))


Mark = Text | Fill


@dataclass(frozen=True)
class Page:
    """One page in mm. `outlines` are the labels' edges: a preview shows them, nothing prints them."""

    width: float
    height: float
    marks: tuple[Mark, ...]
    outlines: tuple[Rect, ...] = ()
    round: bool = False


def to_pdf(pages: Sequence[Page], title: str, author: str) -> bytes:
    """Return the pages as PDF that asks to be printed at its true size. The same pages give the same bytes."""
    fonts.register()
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, lang=LANGUAGE, initialFontName=fonts.REGULAR)
    canvas.setTitle(title)
    canvas.setAuthor(author)
    canvas.setViewerPreference("PrintScaling", "None")
    for page in pages:
        canvas.setPageSize((page.width / MM_PER_POINT, page.height / MM_PER_POINT))
        for mark in page.marks:
            _draw(canvas, page, mark)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw(canvas: Canvas, page: Page, mark: Mark) -> None:
    if isinstance(mark, Text):
        canvas.setFont(mark.face, mark.size)
        canvas.drawString(mark.x / MM_PER_POINT, (page.height - mark.baseline) / MM_PER_POINT, mark.text)
        return
    path = canvas.beginPath()
    for rect in mark.rects:
        path.rect(
            rect.left / MM_PER_POINT,
            (page.height - rect.bottom) / MM_PER_POINT,
            rect.width / MM_PER_POINT,
            rect.height / MM_PER_POINT,
        )
    canvas.drawPath(path, stroke=0, fill=1)
