"""Label sheets and rolls in millimetres, their cells, and how a printer departs from the true.

`Sheet(...)` and `roll(...)` refuse numbers that contradict each other; `cell(sheet, index)` is one label of a page,
`next_free(sheet, first, labels)` where the next print begins. `PrinterFit` moves and stretches cells so that they come
out in their place, and says which module a symbol may have: whole dots of the printer, never under `SMALLEST_MODULE`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sporebank.core.errors import Refusal

SMALLEST_MODULE = 0.25  # mm; two dots at 203 dpi, three at 300, six at 600 (our own choice)
DPIS = (203, 300, 600)
LARGEST = 2000.0  # mm, and labels across or down; no sheet has more (our own choice)
RULER = 100.0  # mm; the length of the rulers on the test page
CROSS = 15.0  # mm from the edges of the test page to the middle of each cross
_SLACK = 0.02  # mm; published grids are rounded to hundredths
_FARTHEST = 25.0  # mm a print may be moved
_STRETCH = 0.1  # by which share a length may be off
_FITTED, _ALIKE = 0.01, 0.003  # shares: no printer by itself is off by so much, and alike both ways (our own choice)
_MM_PER_INCH = 25.4
_WORDS = {
    "paper_width": "the paper's width",
    "paper_height": "the paper's height",
    "columns": "the number of columns",
    "rows": "the number of rows",
    "label_width": "the label's width",
    "label_height": "the label's height",
    "left": "the left margin",
    "top": "the upper margin",
    "pitch_x": "the pitch across",
    "pitch_y": "the pitch down",
}


@dataclass(frozen=True)
class _Line:
    """The fields that say how labels stand across, or down."""

    count: str
    pitch: str
    size: str
    margin: str


_ACROSS = _Line("columns", "pitch_x", "label_width", "left")
_DOWN = _Line("rows", "pitch_y", "label_height", "top")


@dataclass(frozen=True)
class Rect:
    """A rectangle in mm; `left` and `top` count from the top left corner of the paper."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.top + self.height


@dataclass(frozen=True)
class Sheet:
    """A sheet or roll of labels, in mm; `left`, `top` are the margins, `pitch_*` run from label to label.

    A roll, endless or cut, has one label a page.

    Raises:
        Refusal: the numbers contradict each other; the sentence names the one that is wrong, `field` is its field.
    """

    id: str
    title: str
    paper_width: float
    paper_height: float
    columns: int
    rows: int
    label_width: float
    label_height: float
    left: float = 0.0
    top: float = 0.0
    pitch_x: float = 0.0
    pitch_y: float = 0.0
    round: bool = False
    roll: bool = False

    def __post_init__(self) -> None:
        """Refuse a grid that cannot be printed."""
        for name in ("paper_width", "paper_height", "columns", "rows", "label_width", "label_height"):
            value = float(getattr(self, name))
            if not math.isfinite(value) or value <= 0:
                raise self._refusal(name, f"{_WORDS[name]} must be more than 0, not {value:g}.")
            if value > LARGEST:
                raise self._refusal(name, f"{_WORDS[name]} is at most {LARGEST:g}, not {value:g}.")
        for name, value in (("columns", self.columns), ("rows", self.rows)):
            if value != int(value):
                raise self._refusal(name, f"{_WORDS[name]} must be a whole number, not {value:g}.")
        for name, value in (("left", self.left), ("top", self.top)):
            if not value >= 0:
                raise self._refusal(name, f"{_WORDS[name]} cannot be less than 0 mm; it is {value:g} mm.")
        if self.round and self.label_width != self.label_height:
            size = f"{self.label_width:g} and {self.label_height:g} mm"
            raise self._refusal("label_height", f"a round label needs the same width and height, not {size}.")
        if self.roll and (self.columns, self.rows) != (1, 1):
            raise self._refusal("columns", "a roll has one label a page, so 1 column and 1 row.")
        self._check_line(_ACROSS, self.columns, self.pitch_x, self.label_width, self.left, self.paper_width)
        self._check_line(_DOWN, self.rows, self.pitch_y, self.label_height, self.top, self.paper_height)

    def _refusal(self, name: str, sentence: str) -> Refusal:
        named = f"Label sheet {self.id}: {sentence}" if self.id else f"{sentence[0].upper()}{sentence[1:]}"
        return Refusal(named, field=name)

    def _check_line(self, line: _Line, count: int, pitch: float, size: float, margin: float, paper: float) -> None:
        """Refuse labels that do not stand on the paper: one alone first, then what goes wrong with more of them."""
        most = paper + _SLACK
        past = f"past the paper's {paper:g} mm."
        if not size <= most:
            raise self._refusal(line.size, f"{_WORDS[line.size]} of {size:g} mm reaches {past}")
        if not margin + size <= most:
            both = f"{_WORDS[line.margin]} of {margin:g} mm and a label of {size:g} mm"
            raise self._refusal(line.margin, f"{both} reach to {margin + size:.2f} mm, {past}")
        if count == 1:
            return
        if not pitch >= size:
            wrong = f"{pitch:g} mm is less than the label's {size:g} mm, so labels would overlap."
            raise self._refusal(line.pitch, f"{_WORDS[line.pitch]} of {wrong}")
        if not margin + pitch + size <= most:
            wrong = f"{pitch:g} mm sets the second label to {margin + pitch + size:.2f} mm, {past}"
            raise self._refusal(line.pitch, f"{_WORDS[line.pitch]} of {wrong}")
        reach = margin + (count - 1) * pitch + size
        if not reach <= most:
            check = f"Check the margin, {_WORDS[line.pitch]} and the label's size."
            raise self._refusal(line.count, f"{count} {line.count} reach to {reach:.2f} mm, {past} {check}")

    @property
    def cells(self) -> int:
        """Labels on one page."""
        return self.columns * self.rows


def cell(sheet: Sheet, index: int) -> Rect:
    """Return the cell of a page, counted from 0 along the rows as one reads.

    Raises:
        Refusal: the page has no such cell.
    """
    if not 0 <= index < sheet.cells:
        raise Refusal(
            f"This sheet has {sheet.cells} labels; choose a first free label from 1 to {sheet.cells}.",
            field="first_cell",
        )
    row, column = divmod(index, sheet.columns)
    return Rect(
        sheet.left + column * sheet.pitch_x,
        sheet.top + row * sheet.pitch_y,
        sheet.label_width,
        sheet.label_height,
    )


def pages_needed(sheet: Sheet, labels: int, first: int = 0) -> int:
    """Return how many pages so many labels take when the first free cell is `first`."""
    return 0 if labels == 0 else math.ceil((first + labels) / sheet.cells)


def next_free(sheet: Sheet, first: int, labels: int) -> int:
    """Return the first free cell of the last page once so many labels were printed from the cell `first` on."""
    return (first + labels) % sheet.cells


def roll(sheet_id: str, title: str, width: float, height: float, round: bool = False) -> Sheet:  # noqa: A002 - as the field
    """Return a roll: every page is one label."""
    return Sheet(sheet_id, title, width, height, 1, 1, width, height, round=round, roll=True)


def fitted_to_page(ruler_x: float, ruler_y: float) -> float:
    """Return by which share a page came out smaller (less than 0) or larger both ways alike, as “fit to page” does it.

    0 when the rulers, in mm as measured, do not look like that.
    """
    across, down = ruler_x / RULER - 1, ruler_y / RULER - 1
    alike = abs(across - down) <= _ALIKE + 1e-9
    return (across + down) / 2 if alike and min(abs(across), abs(down)) > _FITTED + 1e-9 else 0.0


@dataclass(frozen=True)
class PrinterFit:
    """How one printer is brought to print true, and how fine it is.

    Every cell is stretched by `scale_x`, `scale_y` from the paper's top left and then moved `across` and `down` (mm, to
    the right and downwards). What stands on a label keeps its size, so that a symbol's modules stay whole dots. 300 dpi
    is the default, since whole dots of such a printer are whole dots at 600 and 1200 dpi as well.

    Raises:
        Refusal: a number is out of reason; the sentence names it.
    """

    across: float = 0.0
    down: float = 0.0
    scale_x: float = 1.0
    scale_y: float = 1.0
    dpi: int = 300

    def __post_init__(self) -> None:
        """Refuse what no printer needs."""
        for name, value in (("across", self.across), ("down", self.down)):
            if not abs(value) <= _FARTHEST:
                raise Refusal(f"A print can be moved by up to {_FARTHEST:g} mm, not by {value:g} mm.", field=name)
        for name, value in (("scale_x", self.scale_x), ("scale_y", self.scale_y)):
            if not 1 - _STRETCH <= value <= 1 + _STRETCH:
                raise Refusal(
                    f"A scale of {value:g} is out of reason: it lies between {1 - _STRETCH:g} and {1 + _STRETCH:g}. "
                    f"Print the test page again at 100 %, without “fit to page”.",
                    field=name,
                )
        if self.dpi not in DPIS:
            raise Refusal(f"{self.dpi} dpi is not known; choose 203, 300 or 600.", field="dpi")

    @property
    def moved(self) -> str:
        """How far a print is moved, in words: `1.2 mm to the left, 0.5 mm up`, or `not moved`."""
        ways = ((self.across, "to the right", "to the left"), (self.down, "down", "up"))
        far = [(round(mm, 2), plus, minus) for mm, plus, minus in ways]
        return ", ".join(f"{abs(mm):g} mm {plus if mm > 0 else minus}" for mm, plus, minus in far if mm) or "not moved"

    @property
    def said(self) -> str:
        """The numbers in words, as the test page has them."""
        moved = self.moved if self.moved == "not moved" else f"moved {self.moved}"
        return f"{moved}; scale {self.scale_x:.4f} across and {self.scale_y:.4f} down"

    def placed(self, rect: Rect) -> Rect:
        """Return where a rectangle must be drawn to come out in its place."""
        return Rect(
            rect.left * self.scale_x + self.across,
            rect.top * self.scale_y + self.down,
            rect.width * self.scale_x,
            rect.height * self.scale_y,
        )

    def measured(
        self, ruler_x: float, ruler_y: float, cross_x: float | None = None, cross_y: float | None = None
    ) -> PrinterFit:
        """Return the fit put right by what is measured, in mm, on a test page printed with this one.

        Args:
            ruler_x: the length of the ruler across.
            ruler_y: the length of the ruler down.
            cross_x: from the left edge of the paper to the middle of the upper left cross, where it was measured.
            cross_y: from the upper edge to the same.

        Raises:
            Refusal: a length is out of reason.
        """
        for name, value in (("scale_x", ruler_x), ("scale_y", ruler_y)):
            if not value > 0:
                raise Refusal(f"A ruler cannot measure {value:g} mm.", field=name)
        scale_x, scale_y = self.scale_x * RULER / ruler_x, self.scale_y * RULER / ruler_y
        across = self.across if cross_x is None else self.across + CROSS * self.scale_x - cross_x * scale_x
        down = self.down if cross_y is None else self.down + CROSS * self.scale_y - cross_y * scale_y
        return PrinterFit(across, down, scale_x, scale_y, self.dpi)

    def module(self, room: float) -> float | None:
        """Return the largest module in mm that is whole dots and within `room`; None under the smallest that reads."""
        dot = _MM_PER_INCH / self.dpi
        module = math.floor(room / dot + 1e-6) * dot
        return module if module >= SMALLEST_MODULE else None
