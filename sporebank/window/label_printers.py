"""The printers of labels, and how each is brought to print true."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout

from sporebank.jobs import label_stock
from sporebank.jobs.label_stock import Printer
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.dialogs.printers import stretched
from sporebank.window.label_tab import LabelTab
from sporebank.window.models import RowsModel
from sporebank.window.table import LinesTable, row_chosen
from sporebank.window.widgets.said import Said
from sporebank.window.widgets.simple import Empty, label

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

ABOUT = (
    "Hardly any printer prints quite true. Print the test page of yours, measure it with a steel rule, and write down "
    "what you measured: labels for this printer are then moved and stretched so that each comes out in its place."
)
COLUMNS: tuple[Column[Printer], ...] = (
    Column("name", "Printer", lambda one: one.name, 200, order=lambda one: one.name.casefold()),
    Column("dpi", "Fineness", lambda one: f"{one.fit.dpi} dpi", 90, order=lambda one: one.fit.dpi),
    Column("moved", "Moved", lambda one: one.fit.moved, 230),
    Column("stretched", "Stretched", lambda one: stretched(one.fit), 180),
)


def read(bank: Bank) -> tuple[Printer, ...]:
    """Return the printers by name."""
    return label_stock.stock(bank).printers


class PrintersTab(LabelTab):
    """The printers as a table, and what may be done with the one chosen."""

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.model: RowsModel[Printer] = RowsModel(COLUMNS, self)
        self.table = LinesTable(self.model, context.state, "printers")
        self.table.setAccessibleName("Printers")
        self.table.setSelectionMode(LinesTable.SelectionMode.SingleSelection)
        self.table.enable_sorting("name")
        self.empty = Empty(
            "print", "No printer yet",
            "Labels can be printed as they are. Where they drift off their cells, add your printer and measure its "
            "test page.", "New printer", self.add,
        )  # fmt: skip
        self.said = Said(context, self)
        self.new, self.change_it, self.page, self.measure, self.remove_it = (
            QPushButton(text) for text in ("Ne&w printer…", "&Change…", "&Test page…", "&Measured…", "&Remove")
        )
        self._of_one = (self.change_it, self.page, self.measure, self.remove_it)
        self.views = QStackedWidget()
        self._build()
        for button, do in (
            (self.new, self.add),
            (self.change_it, lambda: self._open("printer")),
            (self.page, lambda: self._open("test_page")),
            (self.measure, lambda: self._open("measured")),
            (self.remove_it, self._remove),
        ):
            button.setAutoDefault(False)
            button.clicked.connect(do)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look_at_chosen())
        self.table.activated.connect(lambda _: self._open("printer"))
        self.table.doubleClicked.connect(lambda _: self._open("printer"))

    def _build(self) -> None:
        for view in (self.table, self.empty):
            self.views.addWidget(view)
        self.empty.button.setAutoDefault(False)
        foot = QHBoxLayout()
        foot.addWidget(self.new)
        foot.addWidget(self.said, 1)
        for button in self._of_one:
            foot.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 4)
        column.setSpacing(10)
        column.addWidget(label(ABOUT, "mute", wrap=True))
        column.addWidget(self.views, 1)
        column.addLayout(foot)

    def _read(self) -> None:
        self.context.read(read, self._show)

    def _show(self, found: tuple[Printer, ...]) -> None:
        """Show the printers; a new one is chosen at once."""
        before, chosen = {one.id for one in self.model.rows}, self._chosen()
        self.model.set_rows(found)
        self.views.setCurrentWidget(self.table if found else self.empty)
        for button in (self.new, *self._of_one):
            button.setVisible(bool(found))
        ids = [one.id for one in self.model.rows]
        new = [number for number, one in enumerate(ids) if before and one not in before]
        old = [ids.index(chosen.id)] if chosen is not None and chosen.id in ids else []
        if found:
            self.table.go_to((new or old or [0])[0])
        self._look_at_chosen()

    def _chosen(self) -> Printer | None:
        return row_chosen(self.table, self.model)

    def _look_at_chosen(self) -> None:
        for button in self._of_one:
            button.setEnabled(self._chosen() is not None)

    def add(self) -> None:
        """Write down a new printer."""
        self.said.clear()
        self.context.dialog("printer")

    def _open(self, key: str) -> None:
        chosen = self._chosen()
        if chosen is not None:
            self.said.clear()
            self.context.dialog(key, printer=chosen)

    def _remove(self) -> None:
        chosen = self._chosen()
        if chosen is not None:
            said = f"{chosen.name} is removed."
            self.table.setFocus()
            self.context.do(lambda bank: label_stock.remove_printer(bank, chosen), lambda _: self.said.done(said))
