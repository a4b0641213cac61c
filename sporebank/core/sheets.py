"""Label sheets in millimetres, their cells, and fitting text into them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import combinations, pairwise, product

from sporebank.core.errors import Refusal
from sporebank.core.records import Run

MM_PER_POINT = 25.4 / 72
LEADING = 1.08  # baseline to baseline at the tightest, in sizes of the type
SEPARATOR = "·"  # parts two things on one line
_SLACK = 0.02  # mm; published grids are rounded to hundredths

Line = tuple[Run, ...]


Measure = Callable[[Line, bool], float]
"""The width in mm of a line for each point of its size, in the normal or (True) the condensed face."""


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

    def inset(self, across: float, down: float) -> Rect:
        """Return the rectangle with a margin taken off on each side."""
        return Rect(self.left + across, self.top + down, self.width - 2 * across, self.height - 2 * down)


@dataclass(frozen=True)
class Sheet:
    """A sheet or roll of labels, in mm; `left`, `top` are the margins, `pitch_*` run from label to label.

    A roll has one label a page. `stem` is the part at the right end of a tag that goes into the
    growing mix and stays blank.

    Raises:
        Refusal: the numbers contradict each other; the sentence names the one that is wrong.
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
    stem: float = 0.0
    uses: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        """Refuse a grid that cannot be printed."""
        for name, value in self._lengths():
            if not math.isfinite(value) or value <= 0:
                raise Refusal(f"{self._called()}: {name} must be more than 0, not {value:g}.")
        if min(self.left, self.top, self.stem) < 0:
            raise Refusal(f"{self._called()}: a margin cannot be less than 0.")
        if self.stem >= self.label_width:
            raise Refusal(f"{self._called()}: stem {self.stem:g} mm leaves nothing of the label.")
        if self.round and self.label_width != self.label_height:
            raise Refusal(f"{self._called()}: a round label needs the same width and height.")
        if self.roll and (self.columns, self.rows) != (1, 1):
            raise Refusal(f"{self._called()}: a roll has one label a page, so 1 column and 1 row.")
        self._check_line("columns", self.columns, self.pitch_x, self.label_width, self.left, self.paper_width)
        self._check_line("rows", self.rows, self.pitch_y, self.label_height, self.top, self.paper_height)

    def _called(self) -> str:
        return f"Label sheet {self.id}"

    def _lengths(self) -> Iterator[tuple[str, float]]:
        names = ("paper_width", "paper_height", "columns", "rows", "label_width", "label_height")
        return ((name, float(getattr(self, name))) for name in names)

    def _check_line(self, name: str, count: int, pitch: float, size: float, margin: float, paper: float) -> None:
        axis = "pitch_x" if name == "columns" else "pitch_y"
        if count > 1 and pitch < size:
            raise Refusal(
                f"{self._called()}: {axis} {pitch:g} mm is less than the label's {size:g} mm, so labels would overlap."
            )
        reach = margin + (count - 1) * pitch + size
        if reach > paper + _SLACK:
            raise Refusal(
                f"{self._called()}: {count} {name} reach to {reach:.2f} mm, past the paper's {paper:g} mm. "
                f"Check the margin, {axis} and the label's size."
            )

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


def usable(sheet: Sheet, rect: Rect) -> Rect:
    """Return the part of a cell that may carry print: in a round label the square within it."""
    if sheet.round:
        margin = sheet.label_width * (1 - math.sqrt(0.5)) / 2
        return rect.inset(margin, margin)
    return Rect(rect.left, rect.top, rect.width - sheet.stem, rect.height)


@dataclass(frozen=True)
class Fitted:
    """Text that fits: its lines, size in points, face, and which candidate it is (0 is the full one)."""

    lines: tuple[Line, ...]
    size: float
    condensed: bool
    candidate: int

    @property
    def height(self) -> float:
        """The height in mm that the lines take."""
        return block_height(len(self.lines), self.size)


def block_height(lines: int, size: float) -> float:
    """Return the height in mm of so many lines at a size in points."""
    return lines * size * LEADING * MM_PER_POINT


def fit(
    candidates: Sequence[Line],
    width: float,
    height: float,
    sizes: Sequence[float],
    measure: Measure,
    lines: int = 1,
    faces: Sequence[bool] = (False, True),
) -> Fitted | None:
    """Return the best way to set text in a box of `width` by `height` mm, or None when none fits.

    Candidates run from the full text to the shortest. A text is first shrunk through `sizes` (largest
    first), then set condensed through the same sizes (where `faces` has True); only then comes the next
    candidate. Lines are as few as fit and as even as can be.
    """
    for (number, candidate), condensed in product(enumerate(candidates), faces):
        broken = evenly_broken(candidate, lines, condensed, measure)
        for size in sizes:
            room = math.floor(height / block_height(1, size) + 1e-9)
            for set_lines, widest in broken[:room]:
                if widest * size <= width:
                    return Fitted(set_lines, size, condensed, number)
    return None


@lru_cache(maxsize=4096)
def evenly_broken(
    text: Line, most: int, condensed: bool, measure: Measure
) -> tuple[tuple[tuple[Line, ...], float], ...]:
    """Return the most even break into 1, 2 ... lines, each with its greatest width per point of size."""
    words = _words(text)
    found = []
    for count in range(1, min(most, len(words)) + 1):
        ways = ((lines, max(measure(line, condensed) for line in lines)) for lines in _breaks(words, count))
        found.append(min(ways, key=lambda way: way[1]))
    return tuple(found)


def _breaks(words: Sequence[Line], count: int) -> Iterator[tuple[Line, ...]]:
    """Yield every way to set the words in `count` lines."""
    for cuts in combinations(range(1, len(words)), count - 1):
        edges = (0, *cuts, len(words))
        yield tuple(_join(_unhung(words[start:end])) for start, end in pairwise(edges))


def _unhung(words: Sequence[Line]) -> Sequence[Line]:
    """Drop a dot that parts two things when the line breaks beside it."""
    inner = words[1:] if len(words) > 1 and words[0][0].text == SEPARATOR else words
    return inner[:-1] if len(inner) > 1 and inner[-1][0].text == SEPARATOR else inner


def _words(text: Line) -> list[Line]:
    """Split runs at the spaces where a line may break.

    A word may hold runs of both kinds, such as ×*intermedia*; `subsp.`, `A.` or `ex` stays with what follows.
    """
    words: list[list[Run]] = [[]]
    for run in text:
        for number, piece in enumerate(run.text.split(" ")):
            if number and words[-1] and _binds(words[-1][-1].text):
                words[-1].append(Run(" ", words[-1][-1].italic))
            elif number:
                words.append([])
            if piece:
                words[-1].append(Run(piece, run.italic))
    return [tuple(word) for word in words if word]


def _binds(word: str) -> bool:
    return word.endswith(".") or word in {"ex", "×"}


def _join(words: Sequence[Line]) -> Line:
    runs: list[Run] = []
    for number, word in enumerate(words):
        for position, run in enumerate(word):
            gap = " " if number and not position else ""
            if runs and runs[-1].italic == run.italic:
                runs[-1] = Run(runs[-1].text + gap + run.text, run.italic)
            else:
                if gap:  # the space belongs to the word before it, so that an upright word starts flush
                    runs[-1] = Run(runs[-1].text + gap, runs[-1].italic)
                runs.append(run)
    return tuple(runs)
