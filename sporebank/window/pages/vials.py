"""The Vials page: every vial in the bank, found, filtered, sorted, chosen, and told about."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QStackedWidget, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.counted import counted
from sporebank.core.layout import Kind
from sporebank.core.records import Place, VialCounts, VialFilter, VialRow
from sporebank.window import printing
from sporebank.window.actions import Needs
from sporebank.window.columns import VIAL_COLUMNS
from sporebank.window.context import Context
from sporebank.window.filters import FilterBar
from sporebank.window.lane import Ticket
from sporebank.window.models import PagedModel
from sporebank.window.page import Page
from sporebank.window.table import DataTable
from sporebank.window.vial_panel import VialPanel
from sporebank.window.widgets.simple import Empty, label

if TYPE_CHECKING:
    from sporebank.jobs.cards import VialCard

PAUSE_MS = 60


@dataclass(frozen=True)
class VialSource:
    """The vials of a filter in an order."""

    wanted: VialFilter
    sort: str
    descending: bool

    def count(self, bank: Bank) -> int:
        """Return how many vials there are."""
        return len(queries.vial_ids(bank, self.wanted, self.sort, self.descending))

    def rows(self, bank: Bank, offset: int, limit: int) -> Sequence[VialRow]:
        """Return a stretch of them."""
        return queries.vials(bank, self.wanted, self.sort, self.descending, offset, limit)

    def ids(self, bank: Bank) -> list[int]:
        """Return the ids of all of them, in order."""
        return queries.vial_ids(bank, self.wanted, self.sort, self.descending)


class VialsPage(Page):
    """The table of vials and the panel beside it."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"vial", "batch", "clone", "taxon", "place", "test", "movement", "stay", "setting", "packet"}
    )
    primary = "store_batch"
    buttons = ("print_labels", "take_spore")

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._source = VialSource(VialFilter(), "taxon", descending=False)
        self._kept_id: int | None = None
        self._reading: Ticket | None = None
        self.filters = FilterBar()
        self.counts = label()
        self.counts.setTextFormat(Qt.TextFormat.RichText)
        self.model: PagedModel[VialRow] = PagedModel(context, VIAL_COLUMNS, self)
        self.table = DataTable(self.model, context.state, "vials")
        self.table.setAccessibleName("Vials")
        self.empty = Empty("frond", "", "", "Store a batch", lambda: context.go("store"))
        self._body = QStackedWidget()
        self._body.addWidget(self.table)
        self._body.addWidget(self.empty)
        self.panel = VialPanel()
        self.panel.chart_wanted.connect(self.open_chart)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        for widget, stretch in ((self.filters, 0), (self.counts, 0), (self._body, 1)):
            self.body.addWidget(widget, stretch)
        self.table.setMinimumHeight(180)
        self._connect()

    def _connect(self) -> None:
        self.filters.changed.connect(self._narrow)
        self.table.enable_sorting("taxon")
        self.model.sort_wanted.connect(self._sort)
        self.model.loaded.connect(self._loaded)
        self.model.page_loaded.connect(self._look_at_chosen)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look_at_chosen())
        self.table.doubleClicked.connect(lambda _: self.open_batch())
        self._pause.timeout.connect(self._read_panel)

    def refresh(self) -> None:
        """Read the rows in sight, the counts, and the choices of the filters again."""
        if self.model.source is None:
            self.model.show_source(self._source)
        else:
            self.model.reload()
        self._read_counts()
        self.context.read(_choices, lambda found: self.filters.set_choices(*found), background=True)

    def focus_on(self, **focus: object) -> None:
        """Narrow to `text`, `taxon_id`, `clone_id`, `batch_id`, `vial_ids`, `place_id`, `state`, or go to `code`."""
        if "code" in focus:
            self._go_to_code(str(focus["code"]))
            return
        fresh = self.filters.filter if set(focus) == {"text"} else VialFilter()
        wanted = replace(fresh, **focus)  # type: ignore[arg-type]  # the fields of the filter
        if wanted != self._source.wanted:
            self.filters.show_filter(wanted, tell=True)

    def has(self, needs: Needs) -> bool:
        """Return whether what an action needs is selected."""
        chosen = self.table.chosen_count()
        return needs is Needs.NOTHING or chosen == 1 or (needs is Needs.SELECTION and chosen > 0)

    def side(self) -> QWidget:
        """Return the panel of the vial chosen."""
        return self.panel

    def first_focus(self) -> QWidget:
        """Return the table."""
        return self.table

    # -- finding, filtering, sorting

    def _narrow(self, wanted: VialFilter) -> None:
        self._show(replace(self._source, wanted=wanted))

    def _sort(self, key: str, descending: bool) -> None:
        self._show(replace(self._source, sort=key, descending=descending))

    def _show(self, source: VialSource) -> None:
        if source == self.model.source:
            return
        self._source = source
        self.model.show_source(source)
        self._read_counts()

    def _go_to_code(self, code: str) -> None:
        if code.startswith("B"):
            self.filters.show_filter(VialFilter(text=code), tell=True)
            return
        self.filters.show_filter(VialFilter())
        source = replace(self._source, wanted=VialFilter())

        def find(bank: Bank) -> tuple[int | None, list[int]]:
            return queries.vial_id_of_code(bank, code), source.ids(bank)

        self._show(source)
        self.context.read(find, lambda found: self._select_id(code, *found))

    def _select_id(self, code: str, vial_id: int | None, order: list[int]) -> None:
        if vial_id is None or vial_id not in order:
            self.context.tell.info(f"No vial with the code {codes.grouped(code)} is in the bank now.")
            return
        self._select_row(order.index(vial_id))

    def _select_row(self, number: int) -> None:
        self.table.go_to(number)
        self.table.scrollTo(self.model.index(number, 0))

    # -- what is shown

    def _read_counts(self) -> None:
        wanted = self._source.wanted
        self.context.read(lambda bank: queries.vial_counts(bank, wanted), self._show_counts, background=True)

    def _show_counts(self, counts: VialCounts) -> None:
        vials = counted(counts.vials, "vial")
        clones = counted(counts.clones, "clone")
        taxa = counted(counts.taxa, "taxon", "taxa")
        self.counts.setText(
            f"<span style='font-weight:600'>{vials}</span> of {clones} in {taxa}"
            f" · {counts.fading:,} fading · {counts.spent:,} spent"
        )

    def _loaded(self) -> None:
        nothing = self.model.rowCount() == 0
        self._body.setCurrentWidget(self.empty if nothing else self.table)
        self.filters.setVisible(not nothing or self._source.wanted != VialFilter())
        self.counts.setVisible(not nothing)
        if nothing:
            self._say_empty()
        elif not self.table.selectionModel().hasSelection() and self._kept_id is not None:
            number = self.model.row_number(lambda row: row.id == self._kept_id)
            if number is not None:
                self._select_row(number)
        self._look_at_chosen()

    def _say_empty(self) -> None:
        if self._source.wanted == VialFilter():
            self.empty.say(
                "No vials yet",
                "Store a batch first: the spore of one plant, collected on one day and cleaned together.",
            )
        else:
            self.empty.say("Nothing fits", "No vial fits what you look for. Widen the filters or show all.")
        self.empty.button.setVisible(self._source.wanted == VialFilter())

    # -- what is chosen

    def select_all(self) -> None:
        """Choose every vial the table shows."""
        self.table.selectAll()

    def choose_columns(self) -> None:
        """Offer the columns to tick."""
        self.table.choose_columns()

    def _chosen(self) -> VialRow | None:
        return self.model.row_at(self.table.chosen_rows()[0]) if self.table.chosen_count() == 1 else None

    def _look_at_chosen(self) -> None:
        self.needs_changed.emit()
        row = self._chosen()
        if row is None:
            self._pause.stop()
            self.panel.show_none(self.table.chosen_count(), self.model.rowCount())
            return
        self._kept_id = row.id
        self._pause.start()

    def _read_panel(self) -> None:
        vial_id = self._kept_id
        if self._reading is not None:
            self._reading.cancel()
        if vial_id is not None:
            self._reading = self.context.read(lambda bank: _card(bank, vial_id), self._show_panel)

    def _show_panel(self, answer: tuple[VialCard, float]) -> None:
        card, line = answer
        self.panel.show_card(card, self.context.today(), line)

    def with_chosen(self, then: Callable[[list[int]], object]) -> None:
        """Call `then` with the ids of the vials chosen, in the order of the table, however many they are."""
        numbers, source = self.table.chosen_rows(), self._source
        at_hand = [self.model.at_hand(number) for number in numbers[:1000]]
        if len(numbers) == len(at_hand) and all(row is not None for row in at_hand):
            then([row.id for row in at_hand if row is not None])
            return
        self.context.read(lambda bank: _pick(source.ids(bank), numbers), then)

    # -- actions

    def take_spore(self) -> None:
        """Take spore out of the vials chosen."""
        self.with_chosen(lambda ids: self.context.dialog("take_spore", vial_ids=tuple(ids)))

    def sow_vial(self) -> None:
        """Sow from the vial chosen."""
        self.with_chosen(lambda ids: self.context.go("sow", vial_id=ids[0]))

    def test_batch(self) -> None:
        """Write down a test of the batch of the vial chosen."""
        row = self._chosen()
        if row is not None:
            self.context.go("test", batch_id=row.batch_id)

    def store_same(self) -> None:
        """Store another batch of the clone of the vial chosen."""
        row = self._chosen()
        if row is not None:
            self.context.go("store", clone_id=row.clone_id)

    def move_vials(self) -> None:
        """Put the vials chosen somewhere else."""
        self.with_chosen(lambda ids: self.context.dialog("move_vials", vial_ids=tuple(ids)))

    def print_labels(self) -> None:
        """Print labels for the vials chosen."""
        self.with_chosen(lambda ids: printing.vial_labels(self.context, tuple(ids)))

    def bag_labels(self) -> None:
        """Show labels for the bags of the batches that the vials chosen are of."""

        def found(rows: list[VialRow]) -> None:
            printing.labels_for(self.context, Kind.BAG, list(dict.fromkeys(row.batch_id for row in rows)))

        self.with_chosen(lambda ids: self.context.read(lambda bank: queries.vials_by_id(bank, ids), found))

    def record_mishap(self) -> None:
        """Put on record what befell the vials chosen."""
        self.with_chosen(lambda ids: self.context.dialog("mishap", vial_ids=ids))

    def note_vial(self) -> None:
        """Write a note on the vial chosen."""
        self.with_chosen(lambda ids: self.context.dialog("note_vial", vial_id=ids[0]))

    def open_clone(self) -> None:
        """Open the clone of the vial chosen."""
        row = self._chosen()
        if row is not None:
            self.context.dialog("clone", clone_id=row.clone_id)

    def open_batch(self) -> None:
        """Open the batch of the vial chosen."""
        row = self._chosen()
        if row is not None:
            self.context.dialog("batch", batch_id=row.batch_id)

    def open_chart(self) -> None:
        """Show the decline of the vial chosen."""
        row = self._chosen()
        if row is not None:
            self.context.dialog("chart", vial_id=row.id)

    def print_report(self) -> None:
        """Report on the batch of the vial chosen, with the decline of that vial."""
        row = self._chosen()
        if row is not None:
            printing.batch_report(self.context, row.batch_id, row.id)


def _card(bank: Bank, vial_id: int) -> tuple[VialCard, float]:
    from sporebank.jobs.cards import vial_card  # brings numpy, which the first paint need not wait for

    return vial_card(bank, vial_id), bank.settings.cull_line


def _choices(bank: Bank) -> tuple[list[tuple[Place, str, int]], list[int]]:
    return queries.places(bank), queries.vial_years(bank)


def _pick(order: list[int], numbers: list[int]) -> list[int]:
    return [order[number] for number in numbers if number < len(order)]
