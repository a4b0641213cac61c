"""Donations to an exchange: who gave what, what became of it, and the thanks."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import ClassVar

from PySide6.QtWidgets import QApplication, QStackedWidget

from sporebank.bank import queries
from sporebank.core import codes, names
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.donations import Donation
from sporebank.core.exchange import Exchange, Stage
from sporebank.core.records import TaxonName
from sporebank.core.thanks import words
from sporebank.jobs import donations
from sporebank.window import printing
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.exchange_tab import ExchangeTab
from sporebank.window.models import RowsModel
from sporebank.window.table import DataTable, rows_chosen
from sporebank.window.widgets.simple import Empty


class DonationRow:
    """A donation with its name at hand for the delegate."""

    def __init__(self, given: Donation) -> None:
        self.given = given
        self.name: TaxonName | None = given.name


def _name(row: DonationRow) -> str:
    return row.given.received_as if row.name is None else names.text(row.name)


def _received_as(row: DonationRow) -> str:
    return "" if _name(row) == row.given.received_as else row.given.received_as


def _order(row: DonationRow) -> date:
    return row.given.received_on


def _donor(row: DonationRow) -> str:
    return row.given.contact.name


COLUMNS: tuple[Column[DonationRow], ...] = (
    Column("received", "Received", lambda row: day_label(row.given.received_on), 100, order=_order),
    Column("who", "Donor", _donor, 160, order=lambda row: _donor(row).casefold()),
    Column("taxon", "Taxon", _name, 220, delegate="name"),
    Column("as", "Received as", _received_as, 160),
    Column(
        "packets", "Packets", lambda row: f"{row.given.packets:,}", 70, right=True, order=lambda row: row.given.packets
    ),
    Column("batch", "Batch", lambda row: codes.grouped(row.given.batch) if row.given.batch else "", 124),
    Column("sealed", "Resealed", lambda row: "yes" if row.given.resealed else "", 76),
    Column("note", "Note", lambda row: row.given.note, 160),
)


class DonationsTab(ExchangeTab):
    """What was given, the latest first."""

    kinds: ClassVar[frozenset[str]] = frozenset({"donation", "contact", "batch", "clone", "taxon", "exchange"})

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.model: RowsModel[DonationRow] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, context.state, "donations")
        self.table.setAccessibleName("Donations")
        self.table.setMinimumHeight(160)
        self.table.enable_sorting("received", descending=True)
        self.empty = Empty(
            "store", "Nothing was given yet", "Write down what came from whom; each packet becomes a batch of its own.",
            "Take in a donation…", self.take_in,
        )  # fmt: skip
        self._body = QStackedWidget()
        self._body.addWidget(self.table)
        self._body.addWidget(self.empty)
        self.column.addWidget(self.told)
        self.column.addWidget(self._body, 1)
        self.deeds = self.buttons(
            (
                ("Take in a donation…", self.take_in),
                ("Letter of thanks…", self.print_thanks),
                ("Copy the thanks", self.copy_thanks),
            ),
            "Take in a donation…",
        )
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look())
        self._look()

    def read(self, one: Exchange) -> None:
        """Read the donations."""
        exchange_id = one.id
        self.context.read(lambda bank: queries.donations(bank, exchange_id), self._show)

    def _show(self, found: Sequence[Donation]) -> None:
        kept = {row.given.id for row in self._chosen()}
        self.model.set_rows([DonationRow(given) for given in found])
        self.table.choose_rows([place for place, row in enumerate(self.model.rows) if row.given.id in kept])
        donors = len({given.contact.id for given in found})
        packets = sum(given.packets for given in found)
        who = counted(donors, "donor")
        self.told.setText(f"{who}, {counted(len(found), 'name')}, {packets:,} packets’ worth.")
        self.told.setVisible(bool(found))
        self._body.setCurrentWidget(self.table if found else self.empty)
        for button in self.deeds.values():
            button.setVisible(bool(found))
        self._look()

    def _chosen(self) -> list[DonationRow]:
        return rows_chosen(self.table, self.model)

    def _look(self) -> None:
        closed = self.exchange is None or self.exchange.stage is Stage.CLOSED
        one = len({row.given.contact.id for row in self._chosen()}) == 1
        self.deeds["Take in a donation…"].setEnabled(not closed)
        self.empty.button.setEnabled(not closed)
        for text in ("Letter of thanks…", "Copy the thanks"):
            self.deeds[text].setEnabled(one)

    # -- deeds

    def take_in(self) -> None:
        """Write down what somebody gave."""
        if self.exchange is not None:
            self.context.dialog("donation", exchange_id=self.exchange.id)

    def print_thanks(self) -> None:
        """Show the letter to the donor of what is selected."""
        if self.exchange is not None:
            printing.thanks(self.context, self.exchange.id, self._chosen()[0].given.contact.id)

    def copy_thanks(self) -> None:
        """Put the letter on the clipboard, for an e-mail."""
        if self.exchange is None:
            return
        exchange_id, contact_id = self.exchange.id, self._chosen()[0].given.contact.id

        def copied(text: str) -> None:
            QApplication.clipboard().setText(text)
            self.context.tell.info("The letter is on the clipboard.")

        self.context.read(lambda bank: words(donations.thanks(bank, exchange_id, contact_id)), copied)
