"""Print runs: the labels that wait, and those that were printed, to be printed again at one stroke."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QPushButton, QStackedWidget, QVBoxLayout

from sporebank.bank.queries.labels import PrintRun
from sporebank.core.dates import day_label
from sporebank.core.layout import Kind, Layout
from sporebank.core.sheets import Sheet
from sporebank.jobs import label_stock, labels
from sporebank.window import printing
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.label_tab import LabelTab
from sporebank.window.models import RowsModel
from sporebank.window.table import LinesTable, row_chosen
from sporebank.window.widgets.said import Said
from sporebank.window.widgets.simple import Empty, label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

GONE = "no longer kept"


@dataclass(frozen=True)
class Row:
    """A print run with its layout and its sheet, as far as they are still kept."""

    run: PrintRun
    layout: Layout | None
    sheet: Sheet | None


def _first(row: Row) -> str:
    return "" if row.sheet is not None and row.sheet.cells == 1 else str(row.run.first_cell + 1)


COLUMNS: tuple[Column[Row], ...] = (
    Column("on", "Printed", lambda row: day_label(row.run.on), 98, order=lambda row: row.run.id),
    Column("what", "What", lambda row: row.run.kind.capitalize(), 80),
    Column("count", "Labels", lambda row: f"{row.run.count:,}", 62, right=True, order=lambda row: row.run.count),
    Column("copies", "Copies", lambda row: f"{row.run.copies}", 62, right=True, order=lambda row: row.run.copies),
    Column("layout", "Layout", lambda row: row.layout.title if row.layout else GONE, 176),
    Column("first", "From label", _first, 84, right=True, order=lambda row: row.run.first_cell),
    Column("sheet", "Sheet or roll", lambda row: row.sheet.title if row.sheet else GONE, 200),
)


def read(bank: Bank) -> tuple[dict[Kind, tuple[int, ...]], list[Row]]:
    """Return what waits for labels, and the print runs, the latest first."""
    stock = label_stock.stock(bank)
    rows = [Row(run, stock.layout(run.layout), stock.sheet(run.sheet)) for run in labels.runs(bank)]
    return labels.waiting(bank), rows


@dataclass(frozen=True)
class Waits:
    """One kind of label that waits: what is said of it, and its two buttons."""

    said: QLabel
    print: QPushButton
    forget: QPushButton

    def show(self, kind: Kind, count: int) -> None:
        """Say how many wait, or nothing where none does."""
        words = labels.count_words(kind, count)
        self.said.setText(f"{words} {'waits' if count == 1 else 'wait'}")
        self.print.setAccessibleName(f"Print {words}")
        self.forget.setAccessibleName(f"Forget {words}")
        for part in (self.said, self.print, self.forget):
            part.setVisible(bool(count))


class RunsTab(LabelTab):
    """The labels that wait above, the print runs below."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._waiting: Mapping[Kind, tuple[int, ...]] = {}
        self.nothing = label("No label waits. What you store, sow and fill waits here for its labels.", "mute")
        self.waits = {kind: self._waits(kind) for kind in labels.usual_kinds()}
        self.model: RowsModel[Row] = RowsModel(COLUMNS, self)
        self.table = LinesTable(self.model, context.state, "print runs")
        self.table.setAccessibleName("Print runs")
        self.table.setSelectionMode(LinesTable.SelectionMode.SingleSelection)
        self.table.enable_sorting("on", descending=True)
        self.empty = Empty(
            "print", "Nothing printed yet",
            "Labels that you print or save are put on record here, and can be printed again with the same codes.",
        )  # fmt: skip
        self.runs = QStackedWidget()
        self.said = Said(context, self)
        self.again = QPushButton("Print &again…")
        self.again.setAutoDefault(False)
        self._build()
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look_at_chosen())
        self.table.activated.connect(lambda _: self.print_again())
        self.table.doubleClicked.connect(lambda _: self.print_again())
        self.again.clicked.connect(self.print_again)

    def _waits(self, kind: Kind) -> Waits:
        made = Waits(label(role="strong"), QPushButton("Print…"), QPushButton("Forget"))
        made.print.clicked.connect(lambda: self._print(kind))
        made.forget.clicked.connect(lambda: self._forget(kind))
        made.forget.setToolTip("They carry a label already: they wait no longer (Ctrl+Z takes it back)")
        for button in (made.print, made.forget):
            button.setAutoDefault(False)
        made.show(kind, 0)
        return made

    def _build(self) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(6)
        grid.setColumnStretch(3, 1)
        grid.addWidget(self.nothing, 0, 0, 1, 4)
        for number, waits in enumerate(self.waits.values(), start=1):
            for place, part in enumerate((waits.said, waits.print, waits.forget)):
                grid.addWidget(part, number, place)
        for view in (self.table, self.empty):
            self.runs.addWidget(view)
        head = QHBoxLayout()
        head.setSpacing(14)
        head.addWidget(label("Print runs", "section"))
        head.addWidget(self.said, 1)
        head.addWidget(self.again)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 4)
        column.setSpacing(8)
        column.addWidget(label("Waiting labels", "section"))
        column.addLayout(grid)
        column.addLayout(head)
        column.addWidget(self.runs, 1)

    def _read(self) -> None:
        self.context.read(read, lambda found: self._show(*found))

    def _show(self, waiting: Mapping[Kind, tuple[int, ...]], rows: Sequence[Row]) -> None:
        self._waiting = waiting
        self.nothing.setVisible(not waiting)
        for kind, shown in self.waits.items():
            shown.show(kind, len(waiting.get(kind, ())))
        chosen = self._chosen()
        self.model.set_rows(rows)
        self.runs.setCurrentWidget(self.table if rows else self.empty)
        if rows:
            ids = [row.run.id for row in self.model.rows]
            self.table.go_to(ids.index(chosen.run.id) if chosen is not None and chosen.run.id in ids else 0)
        self._look_at_chosen()

    def _chosen(self) -> Row | None:
        return row_chosen(self.table, self.model)

    def _look_at_chosen(self) -> None:
        self.again.setEnabled(self._chosen() is not None)

    # -- deeds

    def _print(self, kind: Kind) -> None:
        printing.labels_for(self.context, kind, self._waiting[kind])

    def _forget(self, kind: Kind) -> None:
        ids = self._waiting[kind]
        words = labels.count_words(kind, len(ids))
        said = f"{words} {'waits' if len(ids) == 1 else 'wait'} no longer."
        self.table.setFocus()  # the button goes away with what it was for
        self.context.do(lambda bank: labels.forget(bank, kind, ids), lambda _: self.said.done(said))

    def print_again(self) -> None:
        """Open the labels of the run chosen as they were printed, those left out that are gone."""
        chosen = self._chosen()
        if chosen is not None:
            run = chosen.run
            self.context.read(lambda bank: labels.of_run(bank, run), lambda ids: self._print_run(run, ids))

    def _print_run(self, run: PrintRun, ids: tuple[int, ...]) -> None:
        gone = run.count - len(ids)
        self.said.say("" if not gone else _gone(gone, run.count))
        if ids:
            printing.labels_for(self.context, Kind(run.kind), ids, again=run)


def _gone(gone: int, count: int) -> str:
    if gone == count:
        return "All that these labels were for was culled, sent or taken back since; there is nothing to print again."
    left_out = f"{gone:,} of these {count:,} labels {'is' if gone == 1 else 'are'} left out"
    return f"{left_out}: what they were for was culled, sent or taken back since."
