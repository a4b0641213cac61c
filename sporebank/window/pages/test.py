"""The Test page: which batches want a test, and a germination test as it is counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, ClassVar

from PySide6.QtCore import QTimer
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QLineEdit, QSizePolicy, QWidget

from sporebank.bank import queries
from sporebank.core import codes
from sporebank.core.advice import span
from sporebank.core.dates import day_label
from sporebank.core.records import Batch, Share, TaxonName
from sporebank.core.worth import width_after
from sporebank.jobs import keeping
from sporebank.window.actions import Needs
from sporebank.window.columns import Column, taxon_column
from sporebank.window.context import Context
from sporebank.window.germination_form import TestPart
from sporebank.window.germination_plan import PlanPart
from sporebank.window.lane import Ticket
from sporebank.window.models import RowsModel
from sporebank.window.page import Page
from sporebank.window.table import DataTable
from sporebank.window.widgets.section import Columns
from sporebank.window.widgets.simple import Chips, Empty, label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

PAUSE_MS = 120
DUE, ALL = "due", "all"


@dataclass(frozen=True)
class TestRow:
    """A batch that may be tested; `due` is the day by which a test is due, where one is.

    `share` is how alive its most alive vial is, `after` how wide that band is expected to be after a test.
    """

    __test__ = False  # pytest must not take it for a test of ours

    batch_id: int
    batch: str
    name: TaxonName
    clone: str
    collected: str
    due: date | None
    share: Share | None = None
    after: float = 0.0

    @property
    def tells(self) -> float:
        """How much narrower the band would be, from 0 to 1; where nothing is modelled, only a test tells anything."""
        return 1.0 if self.share is None else self.share.high - self.share.low - self.after


COUNT = 100  # the spores of a usual test


def _told(row: TestRow) -> str:
    if row.share is None:
        return "all there is"
    return f"{span(row.share.low, row.share.high)}, then ± {row.after * 50:.0f}"


COLUMNS: tuple[Column[TestRow], ...] = (
    taxon_column(152, "name"),
    Column("clone", "Clone", lambda row: row.clone, 52),
    Column(
        "due", "Test due", lambda row: day_label(row.due) if row.due else "", 94, order=lambda row: row.due or date.max
    ),
    Column(
        "tells", "Would tell", _told, 150, order=lambda row: -row.tells,
        tip=lambda _: f"How alive it may be now, and how close a test of {COUNT} spores would come.",
    ),
    Column("collected", "Collected", lambda row: row.collected, 88, shown=False),
    Column("batch", "Batch", lambda row: codes.grouped(row.batch), 124, shown=False),
)  # fmt: skip


class TestPage(Page):
    """The batches due, or all of them, and the form for the one chosen."""

    __test__ = False  # pytest must not take it for a test of ours
    kinds: ClassVar[frozenset[str]] = frozenset(
        {"vial", "batch", "test", "stay", "movement", "setting", "keeping", "clone", "taxon"}
    )
    primary = "record_test"
    buttons = ("open_tested",)

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._which, self._wanted, self._to_form = DUE, 0, False
        self._reading: Ticket | None = None
        self.chips = Chips("Batches", ((DUE, "Due"), (ALL, "All batches")))
        self.chips.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        self.search = QLineEdit()
        self.search.setPlaceholderText("Taxon, clone or batch code")
        self.search.setAccessibleName("Find a batch")
        self.search.setClearButtonEnabled(True)
        self.model: RowsModel[TestRow] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, context.state, "test")
        self.table.setSelectionMode(DataTable.SelectionMode.SingleSelection)
        self.table.setAccessibleName("Batches to test")
        self.table.setMinimumHeight(180)
        self.table.enable_sorting("tells")
        self.counts = label(role="mute", wrap=True)
        self.plan = PlanPart(context)
        self.form = TestPart(context, self.plan)
        self.empty = Empty("test", "", "", "Store a batch", lambda: context.go("store"))
        self._columns = Columns((self.chips, self.search, self.counts, self.table), (self.form,), (5, 6), self)
        self._columns.add_last(0, self.plan)
        self.body.addWidget(self._columns, 1)
        self.body.addWidget(self.empty, 1)
        self.empty.hide()
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._connect()

    def _connect(self) -> None:
        self._pause.timeout.connect(self.refresh)
        self.chips.chosen.connect(self._choose)
        self.search.textEdited.connect(self._search)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_chosen())
        self.table.doubleClicked.connect(lambda _: self.form.first_focus().setFocus())
        self.form.ready_changed.connect(self.needs_changed)
        QShortcut(QKeySequence("Ctrl+Return"), self, self.record_test)

    def refresh(self) -> None:
        """Read the batches; what is written in the form stays."""
        which, text, today, wanted = self._which, self.search.text().strip(), self.context.today(), self._wanted

        def read(bank: Bank) -> tuple[list[TestRow], bool, float]:
            found = due_rows(bank, today) if which == DUE else all_rows(bank, text, today)
            if wanted and all(row.batch_id != wanted for row in found):
                found = [*_rows(bank, [queries.batch(bank, wanted)], {}), *found]
            return found, bool(found or queries.batches(bank, limit=1)), keeping.table(bank).correlation

        if self._reading is not None:
            self._reading.cancel()
        self._reading = self.context.read(read, lambda answer: self._show(*answer))

    def focus_on(self, **focus: object) -> None:
        """Turn to a batch (`batch_id`); a `code` is looked for among all batches."""
        batch_id = focus.get("batch_id")
        if isinstance(batch_id, int):
            self._wanted, self._to_form = batch_id, True
            self.refresh()
        elif "code" in focus:
            self.search.setText(str(focus["code"]))
            self._search()

    def has(self, needs: Needs) -> bool:
        """Return whether a batch is chosen."""
        return needs is Needs.NOTHING or (needs in (Needs.SELECTION, Needs.ONE) and self.form.ready)

    def half_written(self) -> str:
        """Return “A test” while something of one is written that is not recorded."""
        return "A test" if self.form.written else ""

    def first_focus(self) -> QWidget:
        """Return the table."""
        return self.table

    def record_test(self) -> None:
        """Record the test as it is written."""
        self.form.record()

    def open_tested(self) -> None:
        """Open the batch chosen, where its tests are listed."""
        self.context.dialog("batch", batch_id=self.form.batch_id)

    # -- which batches

    def _choose(self, which: str) -> None:
        self._which, self._wanted = which, 0
        self.refresh()

    def _search(self) -> None:
        self._which, self._wanted = ALL, 0
        self.chips.set_chosen(ALL)
        self._pause.start()

    def _show(self, rows: list[TestRow], any_batch: bool, correlation: float) -> None:
        self.plan.reckon(correlation)
        self._columns.setVisible(any_batch)
        self.empty.setVisible(not any_batch)
        if not any_batch:
            self.empty.say("Nothing to test yet", "Store a batch first; its first test is due a while after.")
        self.counts.setText(self._count_words(rows))
        kept = self._wanted or self.form.batch_id
        self.model.set_rows(rows)
        number = next((number for number, row in enumerate(self.model.rows) if row.batch_id == kept), None)
        if number is not None:
            self.table.selectRow(number)
            self.table.scrollTo(self.model.index(number, 0))
        elif kept:
            self.table.clearSelection()
        if self._to_form:
            self._to_form = False
            self.form.first_focus().setFocus()

    def _count_words(self, rows: list[TestRow]) -> str:
        count = len(rows)
        if self._which == DUE:
            count = sum(row.due is not None for row in rows)  # a batch asked for by name stands among them
            return "No test is due." if not count else f"{count:,} {'batch is' if count == 1 else 'batches are'} due."
        return "No batch fits." if not count else f"{count:,} {'batch' if count == 1 else 'batches'}."

    def _show_chosen(self) -> None:
        chosen = self.table.selectionModel().selectedRows()
        if chosen:
            self._wanted = 0
            self.form.show_batch(self.model.rows[chosen[0].row()].batch_id)


def due_rows(bank: Bank, today: date) -> list[TestRow]:
    """Return the batches whose test is due."""
    days = {due.batch_id: due.day for due in queries.tests_due(bank, today) if due.batch_id is not None}
    return _rows(bank, queries.batches_by_id(bank, list(days)), days)


def all_rows(bank: Bank, text: str, today: date) -> list[TestRow]:
    """Return the batches that a text finds, each with the day on which its test was due."""
    due = {one.batch_id: one.day for one in queries.tests_due(bank, today) if one.batch_id is not None}
    return _rows(bank, queries.batches(bank, text), due)


def _rows(bank: Bank, batches: Sequence[Batch], due: Mapping[int, date]) -> list[TestRow]:
    """Return batches as the table shows them, with what a test of each would tell."""
    bands, correlation = queries.bands(bank, [batch.id for batch in batches]), keeping.table(bank).correlation
    found = []
    for batch in batches:
        share = bands.get(batch.id)
        after = 0.0 if share is None else width_after(share, COUNT, correlation)
        name, clone = batch.clone.taxon.name, batch.clone.code
        day = due.get(batch.id)
        found.append(TestRow(batch.id, batch.code, name, clone, batch.collected.label(), day, share, after))
    return found
