"""Fitting text into a box by fixed steps, so that a name is never cut.

`fit(wordings, box, measure)` tries, in this order: the largest size within the box's limits; the condensed face; the
shorter wordings, which for names are those of botanical writing (`core.names.abbreviations`); two lines, then more
where the box allows. A step is good enough once the text has a comfortable size; where none is, the one with the
largest type is taken, down to the smallest that the box allows. So a long name takes the room it has before it gets
tiny. What fits nowhere comes back as None, and is told to the keeper before anything is printed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise, product

from sporebank.core.records import Run

MM_PER_POINT = 25.4 / 72
LEADING = 1.08  # baseline to baseline at the tightest, in sizes of the type
STEP = 0.25  # points from one size to the next
COMFORT = 0.8  # of the largest size: with less the next step is tried (our own choice)
SEPARATOR = "·"  # parts two things on one line

Line = tuple[Run, ...]

Wording = tuple[Line, ...]
"""One way to say a text: mostly a single line that may be broken; several are kept as they are, as in an address."""

Measure = Callable[[Line, bool], float]
"""The width in mm of a line for each point of its size, in the normal or (True) the condensed face."""


@dataclass(frozen=True)
class Box:
    """Room for text: mm across and down, points from `largest` to `smallest`, and how many lines it may take.

    In a `whole` box nothing is shortened.
    """

    width: float
    height: float
    largest: float
    smallest: float
    lines: int = 1
    whole: bool = False


@dataclass(frozen=True)
class Fitted:
    """Text that fits: its lines, size in points, face, and which wording it is (0 is the full one)."""

    lines: tuple[Line, ...]
    size: float
    condensed: bool
    wording: int

    @property
    def height(self) -> float:
        """The height in mm that the lines take."""
        return block_height(len(self.lines), self.size)


def block_height(lines: int, size: float) -> float:
    """Return the height in mm of so many lines at a size in points."""
    return lines * size * LEADING * MM_PER_POINT


def fit(wordings: Sequence[Wording], box: Box, measure: Measure) -> Fitted | None:
    """Return the first of the steps at which the text fits into the box, or None.

    Args:
        wordings: from the full text to the shortest that is allowed.
        box: the room, and the limits of the size.
        measure: tells how wide a line is.
    """
    comfortable, best = max(box.smallest, COMFORT * box.largest), None
    for way in _ways(wordings[:1] if box.whole else wordings, box, measure):
        if way.size >= comfortable:
            return way
        if best is None or way.size > best.size:
            best = way
    return best


def _ways(wordings: Sequence[Wording], box: Box, measure: Measure) -> Iterator[Fitted]:
    """Yield the ways to set a text in the order of the steps, each as large as it will go."""
    for lines, (number, wording), condensed in product(range(1, box.lines + 1), enumerate(wordings), (False, True)):
        broken = evenly_broken(wording, lines, condensed, measure)
        size = 0.0 if broken is None else _size(box, lines, broken[1])
        if broken is not None and size >= box.smallest:
            yield Fitted(broken[0], size, condensed, number)


def _size(box: Box, lines: int, widest: float) -> float:
    """Return the largest step of the size at which so many lines fit, perhaps below the smallest."""
    most = min(box.largest, box.height / block_height(lines, 1), box.width / widest if widest else box.largest)
    steps = math.floor((most - box.smallest) / STEP + 1e-9)
    return box.largest if most == box.largest else box.smallest + steps * STEP


@lru_cache(maxsize=1024)
def evenly_broken(
    wording: Wording, count: int, condensed: bool, measure: Measure
) -> tuple[tuple[Line, ...], float] | None:
    """Return the most even break into so many lines with the greatest width per point of size, or None."""
    if len(wording) > 1:
        return (wording, max(measure(line, condensed) for line in wording)) if len(wording) == count else None
    words = _words(wording[0])
    if count > len(words):
        return None
    ways = ((lines, max(measure(line, condensed) for line in lines)) for lines in _breaks(words, count))
    return min(ways, key=lambda way: way[1])


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
