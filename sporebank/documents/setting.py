"""Setting one label: the symbol, and its text as large as it will go beside it or under it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from sporebank.core.papers import Label
from sporebank.core.records import Run
from sporebank.core.sheets import MM_PER_POINT, Fitted, Line, Rect, block_height, fit
from sporebank.documents import fonts, qr
from sporebank.documents.drawing import Fill, Mark, Text
from sporebank.documents.wording import NO_BREAK, Row, rows_of

FLOOR = 4.5  # points; below this nobody reads a vial in a fridge (our own choice)
PREFERRED = 5.5  # points; condensed type comes before anything smaller than this
_LARGEST = 9.0  # points, of all but the name
_STEP = 0.25
_MIDDLE = 0.3  # from the middle of a line down to its baseline, in sizes
_HEAD = 2.0  # mm from the top at most, so that the names of tall labels stand in one line over the sheet
_NAME_GAP = 0.6  # mm under the name where there is room
_AIR = 1.18  # how far lines may open over the tightest
_SYMBOL_SHARE = 0.42  # of a wide label's width
_STACK_UNTIL = 1.3  # width over height up to which the text goes under the symbol


@dataclass(frozen=True)
class Piece:
    """A label as set, in mm from its own top left, with what could not be printed in sentences."""

    symbol: qr.Symbol | None
    marks: tuple[Mark, ...]
    problems: tuple[str, ...]


@dataclass(frozen=True)
class _Level:
    """How much is allowed so that the text fits; a pinch lets whole rows break."""

    floor: float
    condensed: bool = True
    pinch: bool = False
    shortened: bool = False

    def wordings(self, row: Row) -> tuple[Line, ...]:
        return row.wordings if self.shortened else row.wordings[:1]

    def lines(self, row: Row) -> int:
        return row.lines if self.pinch or not row.whole else 1

    @property
    def faces(self) -> tuple[bool, ...]:
        return (False, True) if self.condensed else (False,)


_LEVELS = (
    _Level(PREFERRED, condensed=False),
    _Level(PREFERRED),
    _Level(PREFERRED, pinch=True),
    _Level(FLOOR),
    _Level(FLOOR, pinch=True),
)
_SHORTENED = (_Level(FLOOR, pinch=True, shortened=True), _Level(FLOOR, shortened=True))


def set_label(label: Label, area: Rect) -> Piece:
    """Set a label into an area; what does not fit is left out and said, never cut."""
    symbol = qr.plan(label.code, _symbol_room(area))
    stacked = _stacked(area)
    box = _text_box(area, symbol.side if symbol else 0.0, stacked)
    kept, problems = _keep(rows_of(label, box.width, box.height), box)
    marks: list[Mark] = list(_place(kept, _block(kept, box), box, stacked)) if kept else []
    if symbol is None:
        return Piece(None, tuple(marks), (_too_small(area), *problems))
    left = area.left + (area.width - symbol.side) / 2 if stacked else area.left
    top = area.top + (0.0 if stacked else min(_HEAD, (area.height - symbol.side) / 2))
    return Piece(symbol, (Fill(symbol.bars(left, top)), *marks), problems)


def _stacked(area: Rect) -> bool:
    return area.width <= _STACK_UNTIL * area.height


def _symbol_room(area: Rect) -> float:
    if _stacked(area):
        return min(area.width, area.height / 2)
    return min(area.height, area.width * _SYMBOL_SHARE)


def _too_small(area: Rect) -> str:
    return (
        f"A label of {area.width:.1f} × {area.height:.1f} mm is too small for a symbol that prints and reads "
        f"well. Choose a larger label sheet."
    )


def _text_box(area: Rect, symbol: float, stacked: bool) -> Rect:
    """Return where text goes; the symbol's quiet zone is the gap beside it."""
    margin = max(0.5, min(1.5, 0.05 * area.height))
    if stacked:
        return Rect(area.left, area.top + symbol, area.width, area.height - symbol)
    left = symbol or margin
    return Rect(area.left + left, area.top + margin, area.width - left - margin, area.height - 2 * margin)


def _keep(rows: Sequence[Row], box: Rect) -> tuple[tuple[Row, ...], tuple[str, ...]]:
    """Return the rows that fit together and a sentence for each that does not.

    The code counts most, then the name, then the rest from the top.
    """
    kept: list[Row] = []
    problems: list[str] = []
    for row in sorted(rows, key=lambda row: {"code": 0, "name": 1}.get(row.what, 2)):
        together = [other for other in rows if other in kept or other is row]
        sentence = _unprintable(row) or ("" if _block(together, box) else _too_long(row, box))
        if not sentence:
            kept = together
        elif not row.optional:
            problems.append(sentence)
    return tuple(kept), tuple(problems)


def _unprintable(row: Row) -> str:
    return fonts.missing_sentence(_full(row))


def _full(row: Row) -> str:
    return "".join(run.text for run in row.wordings[0]).replace(NO_BREAK, " ")


def _too_long(row: Row, box: Rect) -> str:
    return (
        f"“{_full(row)}” does not fit, not even at {FLOOR:g} points in condensed type: the text has "
        f"{box.width:.1f} × {box.height:.1f} mm. It is left out; choose a larger label sheet."
    )


def _block(rows: Sequence[Row], box: Rect) -> tuple[Fitted, ...] | None:
    """Fit all rows at one size, the name at that size or larger; the gentlest level that works wins."""
    largest = min(_LARGEST, 4 + box.height / 7 + max(0.0, box.width - 40) / 12)
    for level in _LEVELS:
        for size in _sizes(largest, level.floor):
            if block := _try(rows, box, size, level):
                return block
    return next(filter(None, (_try(rows, box, FLOOR, level) for level in _SHORTENED)), None)


def _sizes(largest: float, floor: float) -> tuple[float, ...]:
    steps = int(max(0.0, largest - floor) / _STEP)
    return tuple(floor + _STEP * step for step in range(steps, -1, -1))


def _try(rows: Sequence[Row], box: Rect, size: float, level: _Level) -> tuple[Fitted, ...] | None:
    room = box.height
    fitted: dict[Row, Fitted] = {}
    for row in sorted(rows, key=lambda row: row.what == "name"):  # the name takes what the others leave
        sizes = _sizes(1.4 * size, size) if row.what == "name" else (size,)
        measure = fonts.measure_strong if row.strong else fonts.measure
        found = fit(level.wordings(row), box.width, room, sizes, measure, level.lines(row), level.faces)
        if found is None:
            return None
        fitted[row] = found
        room -= found.height
    return tuple(fitted[row] for row in rows)


def _place(rows: Sequence[Row], block: Iterable[Fitted] | None, box: Rect, centred: bool) -> Iterator[Text]:
    """Yield the text of a block in its box; spare height opens the lines a little, the rest stays under it."""
    fitted = tuple(block or ())
    natural = sum(one.height for one in fitted)
    opened = min(_AIR, box.height / natural)
    spare = box.height - natural * opened
    gap = min(_NAME_GAP, spare) if rows[0].what == "name" else 0.0
    top = box.top + min(_HEAD, (spare - gap) / 2)
    for row, one in zip(rows, fitted, strict=True):
        step = block_height(1, one.size) * opened
        for line in one.lines:
            baseline = top + step / 2 + _MIDDLE * one.size * MM_PER_POINT
            yield from _runs(line, row, one, box, baseline, centred)
            top += step
        top += gap if row.what == "name" else 0.0


def _runs(line: Line, row: Row, one: Fitted, box: Rect, baseline: float, centred: bool) -> Iterator[Text]:
    width = sum(fonts.text_width(run.text, _face(run, row, one), one.size) for run in line)
    text = Text(box.left + ((box.width - width) / 2 if centred else 0.0), baseline, one.size, "", "")
    for run in line:
        face = _face(run, row, one)
        yield replace(text, face=face, text=run.text.replace(NO_BREAK, " "))
        text = replace(text, x=text.x + fonts.text_width(run.text, face, one.size))


def _face(run: Run, row: Row, one: Fitted) -> str:
    return fonts.face(italic=run.italic, condensed=one.condensed, strong=row.strong)
