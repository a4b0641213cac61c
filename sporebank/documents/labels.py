"""Labels printed on sheets and rolls.

`LabelPrint(labels, layout, sheet, printer, first_cell, copies)` says what is printed on what and refuses what cannot
be. `preflight(job)` names every label whose symbol would not read or whose text does not fit; show it before printing.
`render(job)` returns the PDF. Both take `report(done, total)` and `cancelled()`, and leave with `Stopped` when
cancelled: nothing has been written by then.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from sporebank.core.errors import Refusal, Stopped
from sporebank.core.layout import Layout, require_fit
from sporebank.core.papers import Label
from sporebank.core.sheets import PrinterFit, Sheet, cell, pages_needed
from sporebank.documents.drawing import Drawing, Mark
from sporebank.documents.setting import Trouble, set_label
from sporebank.documents.wording import called

MOST_COPIES = 100
_OFTEN = 50  # labels between two reports

Report = Callable[[int, int], object]
Cancelled = Callable[[], bool]


@dataclass(frozen=True)
class LabelPrint:
    """Labels in the order in which they are printed, the copies of one side by side.

    `first_cell` counts from 0: the first label on the sheet that is still there.

    Raises:
        Refusal: there are no labels, the layout does not fit the sheet, the sheet has no such cell, or the number of
            copies makes no sense.
    """

    labels: Sequence[Label]
    layout: Layout
    sheet: Sheet
    printer: PrinterFit = field(default_factory=PrinterFit)
    first_cell: int = 0
    copies: int = 1

    def __post_init__(self) -> None:
        """Refuse what cannot be printed."""
        if not self.labels:
            raise Refusal("There are no labels to print; choose some vials, pots or packets first.")
        if not 1 <= self.copies <= MOST_COPIES:
            raise Refusal(f"Choose from 1 to {MOST_COPIES} copies of each label.", field="copies")
        cell(self.sheet, self.first_cell)  # refuses a cell that is not there
        require_fit(self.layout, self.sheet)

    @property
    def count(self) -> int:
        """Labels printed, copies and all."""
        return len(self.labels) * self.copies

    @property
    def pages(self) -> int:
        """Pages that they take."""
        return pages_needed(self.sheet, self.count, self.first_cell)


@dataclass(frozen=True)
class Problem:
    """Something that will not be printed as asked: `label` counts the labels from 0, `called` names it."""

    label: int
    called: str
    sentence: str


def _unheard(done: int, total: int) -> None:
    """Tell nobody how far it is."""


def _never() -> bool:
    return False


def preflight(job: LabelPrint, report: Report = _unheard, cancelled: Cancelled = _never) -> tuple[Problem, ...]:
    """Return every label that will not be printed as asked, with the reason."""
    return tuple(
        Problem(number, called(label), one.sentence)
        for number, label in _watched(job, report, cancelled)
        for one in set_label(label, job.layout, job.printer)
        if isinstance(one, Trouble)
    )


def render(
    job: LabelPrint,
    title: str = "Labels",
    author: str = "",
    report: Report = _unheard,
    cancelled: Cancelled = _never,
) -> bytes:
    """Return the labels as PDF; what does not fit is left out whole."""
    drawing = Drawing(title, author)
    for number, label in _watched(job, report, cancelled):
        marks = [one for one in set_label(label, job.layout, job.printer) if not isinstance(one, Trouble)]
        for copy in range(job.copies):
            _put(drawing, job, job.first_cell + number * job.copies + copy, marks)
    return drawing.finish()


def _watched(job: LabelPrint, report: Report, cancelled: Cancelled) -> Iterator[tuple[int, Label]]:
    """Yield the labels, telling how far it is and leaving when nobody waits any more."""
    total = len(job.labels)
    for number, label in enumerate(job.labels):
        if number % _OFTEN == 0:
            if cancelled():
                raise Stopped
            report(number, total)
        yield number, label
    report(total, total)


def _put(drawing: Drawing, job: LabelPrint, position: int, marks: Sequence[Mark]) -> None:
    """Draw a label in the middle of its cell, beginning a page where one is due."""
    sheet, layout = job.sheet, job.layout
    index = position % sheet.cells
    if index == 0 or position == job.first_cell:
        drawing.page(sheet.paper_width, sheet.paper_height)
    rect = job.printer.placed(cell(sheet, index))
    left, top = rect.left + (rect.width - layout.width) / 2, rect.top + (rect.height - layout.height) / 2
    for mark in marks:
        drawing.put(mark, left, top)
