"""What belongs to a person: the papers they hold, and what they gave and got over the years."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QModelIndex
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import names
from sporebank.core.dates import day_label
from sporebank.core.given import Passed
from sporebank.core.permits import Permit, PermitKind
from sporebank.jobs import people
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.lane import Ticket
from sporebank.window.models import RowsModel
from sporebank.window.table import DataTable, row_chosen
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.simple import label

PAPERS: tuple[Column[Permit], ...] = (
    Column("kind", "Kind", lambda one: one.kind.value, 96),
    Column("number", "Number", lambda one: one.number, 84),
    Column("expires", "Runs out", lambda one: day_label(one.expires) if one.expires else "never", 88),
    Column("labels", "Labels", lambda one: "" if one.labels_left is None else str(one.labels_left), 56, right=True),
)  # fmt: skip
TRAIL: tuple[Column[Passed], ...] = (
    Column("year", "Year", lambda one: str(one.year), 48, sortable=False),
    Column("way", "", lambda one: "gave" if one.gave else "got", 48, sortable=False),
    Column("packets", "Packets", lambda one: f"{one.packets:,}", 62, right=True, sortable=False),
    Column("taxon", "Taxon", lambda one: names.text(one.name), 170, sortable=False),
)


@dataclass(frozen=True)
class _Told:
    permits: list[Permit]
    passed: list[Passed]


class PersonPapers(QWidget):
    """Shows both for one person."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.context = context
        self._contact_id = 0
        self._asked: Ticket | None = None
        self.papers: RowsModel[Permit] = RowsModel(PAPERS, self)
        self.trail: RowsModel[Passed] = RowsModel(TRAIL, self)
        self.paper_table = DataTable(self.papers, context.state, "permits")
        self.paper_table.setSelectionMode(DataTable.SelectionMode.SingleSelection)
        self.paper_table.setAccessibleName("Permits and agreements")
        self.trail_table = DataTable(self.trail, context.state, "passed")
        self.trail_table.setAccessibleName("What they gave and got")
        self.none = label("No packet has passed between you yet.", "mute", wrap=True)
        self.add, self.change, self.drop = QPushButton("Add &a paper…"), QPushButton("C&hange…"), QPushButton("Re&move")
        self._build()

    def _build(self) -> None:
        buttons = QWidget()
        row = FlowLayout(buttons)
        for button, do in ((self.add, self._add), (self.change, self._change), (self.drop, self._drop)):
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, do=do: do())
            row.addWidget(button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 8, 6, 0)
        column.addWidget(label("Permits and agreements", "section"))
        column.addWidget(self.paper_table, 2)
        column.addWidget(buttons)
        column.addSpacing(8)
        column.addWidget(label("What they gave and got", "section"))
        column.addWidget(self.trail_table, 3)
        column.addWidget(self.none)
        column.addStretch(1)
        self.paper_table.selectionModel().selectionChanged.connect(lambda *_: self._look())
        self.paper_table.activated.connect(self._activated)

    def show_person(self, contact_id: int) -> None:
        """Show what belongs to a person; nothing for 0, somebody new."""
        self._contact_id = contact_id
        if self._asked is not None:
            self._asked.cancel()
        if contact_id:
            self._asked = self.context.read(lambda bank: _read(bank, contact_id), self._show)

    def _show(self, told: _Told) -> None:
        self.papers.set_rows(told.permits)
        self.trail.set_rows(told.passed)
        self.paper_table.setVisible(bool(told.permits))
        self.trail_table.setVisible(bool(told.passed))
        self.none.setVisible(not told.passed)
        self._look()

    def _again(self) -> None:
        self.show_person(self._contact_id)

    def _chosen(self) -> Permit | None:
        return row_chosen(self.paper_table, self.papers)

    def _look(self) -> None:
        for button in (self.change, self.drop):
            button.setEnabled(self._chosen() is not None)

    def _activated(self, _: QModelIndex) -> None:
        self._change()

    def _add(self) -> None:
        self._edit(Permit(0, self._contact_id, PermitKind.IMPORT, ""))

    def _change(self) -> None:
        chosen = self._chosen()
        if chosen is not None:
            self._edit(chosen)

    def _edit(self, permit: Permit) -> None:
        self.context.dialog("permit", permit=permit, then=self._again)

    def _drop(self) -> None:
        chosen = self._chosen()
        if chosen is not None:
            self.context.do(lambda bank: people.drop_permit(bank, chosen), lambda _: self._dropped(chosen))

    def _dropped(self, permit: Permit) -> None:
        self.context.done(f"{permit.kind.value.capitalize()} {permit.number} is off the record.")
        self._again()


def _read(bank: Bank, contact_id: int) -> _Told:
    return _Told(queries.permits_of(bank, contact_id), queries.passed(bank, contact_id))
