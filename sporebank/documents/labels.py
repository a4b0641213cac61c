"""Labels on sheets and rolls: planned first, with every problem told, then previewed and printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sporebank.core.errors import Refusal
from sporebank.core.papers import Label
from sporebank.core.sheets import Rect, Sheet, cell, pages_needed, usable
from sporebank.documents.drawing import Mark, Page, to_pdf
from sporebank.documents.qr import Symbol
from sporebank.documents.setting import Piece, set_label


@dataclass(frozen=True)
class Problem:
    """Something that will not be printed as asked: `label` counts the labels given, from 0."""

    label: int
    code: str
    sentence: str


@dataclass(frozen=True)
class Cell:
    """One label where it will be printed; marks and rectangle in mm on its page (from 0)."""

    page: int
    rect: Rect
    label: int
    code: str
    symbol: Symbol | None
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class Layout:
    """Labels placed on a sheet. Show `problems` before printing."""

    sheet: Sheet
    pages: int
    cells: tuple[Cell, ...]
    problems: tuple[Problem, ...]


def layout_labels(labels: Sequence[Label], sheet: Sheet, first_cell: int = 0, copies: int = 1) -> Layout:
    """Place labels on a sheet in the order given, the copies of one side by side.

    `first_cell` counts from 0: the first label on the sheet that is still there.

    Raises:
        Refusal: the sheet has no such cell, or the number of copies makes no sense.
    """
    if not 1 <= copies <= 100:
        raise Refusal("Choose from 1 to 100 copies of each label.", field="copies")
    cell(sheet, first_cell)  # refuses a cell that is not there
    pieces = [_set(label, sheet) for label in labels]
    cells = tuple(
        _cell(sheet, first_cell + number * copies + copy, number, label.code, pieces[number])
        for number, label in enumerate(labels)
        for copy in range(copies)
    )
    problems = tuple(
        Problem(number, label.code, sentence)
        for number, label in enumerate(labels)
        for sentence in pieces[number].problems
    )
    return Layout(sheet, pages_needed(sheet, len(cells), first_cell), cells, problems)


def preview(layout: Layout) -> tuple[Page, ...]:
    """Return the pages as drawing primitives in mm, with the outlines of all labels of the sheet."""
    sheet = layout.sheet
    outlines = tuple(cell(sheet, index) for index in range(sheet.cells))
    marks: list[list[Mark]] = [[] for _ in range(layout.pages)]
    for placed in layout.cells:
        marks[placed.page] += placed.marks
    return tuple(
        Page(sheet.paper_width, sheet.paper_height, tuple(on_page), outlines, sheet.round) for on_page in marks
    )


def render(layout: Layout, title: str = "Labels", author: str = "") -> bytes:
    """Return the labels as PDF, drawn from what `preview` returns.

    Raises:
        Refusal: there are no labels.
    """
    if not layout.cells:
        raise Refusal("There are no labels to print; choose some vials, pots or packets first.")
    return to_pdf(preview(layout), title, author)


def _set(label: Label, sheet: Sheet) -> Piece:
    area = usable(sheet, Rect(0.0, 0.0, sheet.label_width, sheet.label_height))
    return set_label(label, area)


def _cell(sheet: Sheet, position: int, number: int, code: str, piece: Piece) -> Cell:
    page, index = divmod(position, sheet.cells)
    rect = cell(sheet, index)
    marks = tuple(mark.moved(rect.left, rect.top) for mark in piece.marks)
    return Cell(page, rect, number, code, piece.symbol, marks)
