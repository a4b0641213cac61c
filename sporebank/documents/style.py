"""The look of all papers that are no labels: page, type, tables and the small drawings in them."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, A5
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)
from reportlab.platypus.doctemplate import LayoutError

from sporebank.core import codes, names
from sporebank.core.errors import Refusal
from sporebank.core.records import TaxonName
from sporebank.documents import fonts
from sporebank.documents.drawing import LANGUAGE
from sporebank.documents.figures import INK, LINE, CodeSymbol

MUTE = HexColor("#5A6660")
ACCENT = HexColor("#1E6B4A")
WARN = HexColor("#8A5A00")


@dataclass(frozen=True)
class Page:
    """Paper to set on, upright, in points."""

    size: tuple[float, float]
    margin: float

    @property
    def width(self) -> float:
        """What lies between the margins."""
        return self.size[0] - 2 * self.margin


ON_A4, ON_A5 = Page(A4, 18 * mm), Page(A5, 12 * mm)

BODY = ParagraphStyle("body", fontName=fonts.REGULAR, fontSize=9, leading=12.2, textColor=INK)
SMALL = ParagraphStyle("small", BODY, fontSize=7.6, leading=10.2, textColor=MUTE)
NOTE = ParagraphStyle("note", SMALL, textColor=INK)
NUMBER = ParagraphStyle("number", BODY, alignment=TA_RIGHT)
HEAD = ParagraphStyle("head", SMALL, fontName=fonts.STRONG, leading=9.6)
HEAD_RIGHT = ParagraphStyle("head right", HEAD, alignment=TA_RIGHT)
TITLE = ParagraphStyle("title", BODY, fontName=fonts.STRONG, fontSize=20, leading=25)
SECTION = ParagraphStyle(
    "section", BODY, fontName=fonts.STRONG, fontSize=11, leading=14, spaceBefore=14, spaceAfter=4, keepWithNext=1
)
CAUTION = ParagraphStyle("caution", SMALL, fontName=fonts.STRONG, textColor=WARN)

LISTED = ParagraphStyle("listed", BODY, leftIndent=9, spaceAfter=2, bulletFontName=fonts.REGULAR, bulletFontSize=9)

Content = list[Flowable]
_BINDS = re.compile(r"(?<=\bex) |(?<=\.) ")  # ranks and `ex` stay with what follows


_UNIT = re.compile(r"(\d) (?=%|mg\b|mm\b|°C)")


def plain(text: str) -> str:
    """Return a text safe for a paragraph: every character has a glyph, `&` and `<` mean themselves.

    A number stays on one line with its unit.

    Raises:
        Refusal: a character would come out as an empty box.
    """
    return _UNIT.sub("\\1\u00a0", escape(fonts.printable(text)))


def taxon(name: TaxonName) -> str:
    """Return a name as paragraph markup, italic where italics belong."""
    fonts.printable(names.text(name))
    bound = ((_BINDS.sub("\N{NO-BREAK SPACE}", fonts.composed(run.text)), run.italic) for run in names.runs(name))
    runs = ((escape(text), italic) for text, italic in bound)
    return "".join(f"<i>{text}</i>" if italic else text for text, italic in runs)


def lines(text: str) -> str:
    """Return a text of several lines, such as an address, as paragraph markup."""
    return "<br/>".join(plain(line) for line in text.splitlines() if line.strip())


class _NumberedCanvas(Canvas):  # type: ignore[misc]  # ReportLab has no types
    """A canvas that knows, when it writes the foot of a page, how many pages there are."""

    foot = ""
    page = ON_A4

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self._kept: list[dict[str, object]] = []

    def showPage(self) -> None:
        self._kept.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        kept = self._kept
        for number, state in enumerate(kept, start=1):
            self.__dict__.update(state)
            self._foot(f"Page {number} of {len(kept)}")
            super().showPage()
        super().save()

    def _foot(self, page: str) -> None:
        self.setStrokeColor(LINE)
        self.setLineWidth(0.5)
        left, right = self.page.margin, self.page.margin + self.page.width
        self.line(left, 14 * mm, right, 14 * mm)
        self.setFont(fonts.REGULAR, 7.6)
        self.setFillColor(MUTE)
        self.drawString(left, 10 * mm, self.foot)
        self.drawRightString(right, 10 * mm, page)


def build(title: str, author: str, foot: str, content: Content, page: Page = ON_A4) -> bytes:
    """Return a paper as PDF; the same content gives the same bytes.

    Raises:
        Refusal: one entry is longer than a page.
    """
    fonts.register()
    out = io.BytesIO()
    frame = Frame(page.margin, 18 * mm, page.width, page.size[1] - 18 * mm - min(page.margin, 15 * mm), 0, 0, 0, 0)
    paper = BaseDocTemplate(
        out, pagesize=page.size, title=title, author=author, lang=LANGUAGE, invariant=1, initialFontName=fonts.REGULAR,
        pageTemplates=[PageTemplate(frames=[frame])],
    )  # fmt: skip
    numbered = type("_Paper", (_NumberedCanvas,), {"foot": fonts.printable(foot), "page": page})
    try:
        paper.build(content, canvasmaker=numbered)
    except LayoutError as error:
        raise Refusal("One entry is longer than a page can hold. Shorten its note or its origin.") from error
    return out.getvalue()


def heading(bank: str, title: str, facts: Sequence[tuple[str, str]], code: str = "", page: Page = ON_A4) -> Content:
    """Return the top of a paper: the bank, the title, facts as pairs of word and markup, and a code."""
    left: Content = [
        Paragraph(plain(bank), ParagraphStyle("bank", SMALL, fontName=fonts.STRONG, textColor=ACCENT)),
        Paragraph(plain(title), TITLE),
        Spacer(0, 2 * mm),
        known(facts, page.width - 32 * mm),
    ]
    right: Content = []
    if code:
        under = ParagraphStyle("under", SMALL, fontName=fonts.STRONG, textColor=INK, alignment=1)
        right = [CodeSymbol(code, 24 * mm), Paragraph(codes.grouped(code), under)]
    top = Table([[left, right]], colWidths=[page.width - 22 * mm, 22 * mm])
    top.setStyle(
        TableStyle(
            [
                *_FLUSH,
                ("ALIGN", (1, 0), (1, 0), "CENTER"),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 3 * mm),
                ("LINEBELOW", (0, 0), (-1, -1), 1.4, ACCENT),
            ]
        )
    )
    return [top, Spacer(0, 5 * mm)]


FACE = ("FONTNAME", (0, 0), (-1, -1), fonts.REGULAR)  # or ReportLab names a face it does not embed
_FLUSH: list[tuple[Any, ...]] = [
    FACE,
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 0),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
]


def known(facts: Sequence[tuple[str, str]], width: float) -> Table:
    """Return facts as a table so many points wide, each a word and markup."""
    rows = [[Paragraph(plain(word), SMALL), Paragraph(markup, BODY)] for word, markup in facts]
    table = Table(rows, colWidths=[22 * mm, width - 22 * mm], hAlign="LEFT")
    table.setStyle(TableStyle([*_FLUSH, ("TOPPADDING", (0, 0), (0, -1), 1.4)]))
    return table


def grid(head: Sequence[Paragraph | str], rows: Sequence[Sequence[Any]], widths: Sequence[float]) -> Table:
    """Return a table whose head repeats on every page and whose rows never break; widths in mm."""
    table = Table([list(head), *map(list, rows)], colWidths=[width * mm for width in widths], repeatRows=1)
    table.setStyle(
        TableStyle(
            [
                FACE,
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("RIGHTPADDING", (0, 0), (-1, -1), 3 * mm),
                ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 3),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
                ("LINEBELOW", (0, 1), (-1, -1), 0.4, LINE),
                ("LINEBELOW", (0, 0), (-1, 0), 0.9, INK),
            ]
        )
    )
    return table


def signature(ask: str, who: str) -> KeepTogether:
    """Return the foot of a paper that is signed: what is asked, the name if it is known, and two lines to write on."""
    row = [Paragraph(plain(who), BODY), "", ""]
    table = Table([row, [Paragraph(word, SMALL) for word in ("Name", "", "Date and signature")]],
                  colWidths=[70 * mm, 8 * mm, 80 * mm], hAlign="LEFT")  # fmt: skip
    table.setStyle(
        TableStyle(
            [
                FACE,
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, 0), 9 * mm),
                ("LINEBELOW", (0, 0), (0, 0), 0.6, INK),
                ("LINEBELOW", (2, 0), (2, 0), 0.6, INK),
            ]
        )
    )
    return KeepTogether([Spacer(0, 9 * mm), Paragraph(plain(ask), BODY), table])


def named(name: TaxonName, below: str, *more: Paragraph) -> Content:
    """Return a cell with a name and a smaller line below it, such as the clone."""
    return [Paragraph(taxon(name), BODY), Paragraph(plain(below), SMALL), *more]
