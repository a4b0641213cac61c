"""The orders of an exchange: who asked for how much, in the order of arrival; typed, or taken in from a file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from PySide6.QtWidgets import QFileDialog, QStackedWidget

from sporebank.bank import queries
from sporebank.bank.queries import orders
from sporebank.core.counted import counted, packets
from sporebank.core.dates import day_label
from sporebank.core.exchange import Exchange, Placed
from sporebank.jobs import asking
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.exchange_tab import ExchangeTab
from sporebank.window.models import RowsModel
from sporebank.window.table import LinesTable, go_on_with, row_chosen
from sporebank.window.widgets.simple import Empty

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

NEW, CHANGE, WITHDRAW, TAKE_IN, FORM = "New order", "Change…", "Withdraw", "Take in a file…", "Order form…"
_KINDS = "Tables and filled-in forms (*.csv *.txt *.xlsx)"
_FOLDER = "orders/folder"


@dataclass(frozen=True)
class OrderRow:
    """An order with the class it is served in and, once it was shared out, how many packets it gets."""

    placed: Placed
    served_with: str
    allotted: int | None
    late: bool

    @property
    def place(self) -> int:
        """Where it stands in the stored order."""
        return self.placed.order.place

    @property
    def who(self) -> str:
        """Who placed it."""
        return self.placed.contact.name

    @property
    def wished(self) -> int:
        """How many packets are first choices."""
        return sum(wish.packets for wish in self.placed.order.wishes)

    @property
    def alternatives(self) -> int:
        """How many alternatives there are, for the whole order or beside a line."""
        beside = sum(wish.alternate is not None for wish in self.placed.order.wishes)
        return len(self.placed.order.alternatives) + beside

    @property
    def received(self) -> str:
        """The day on which it came, and whether that was too late."""
        return day_label(self.placed.received_on) + (", late" if self.late else "")


def _given(row: OrderRow) -> str:
    return "" if row.allotted is None else f"{row.allotted:,}"


def _given_order(row: OrderRow) -> int:
    return -1 if row.allotted is None else row.allotted


COLUMNS: tuple[Column[OrderRow], ...] = (
    Column("place", "Place", lambda row: f"{row.place:,}", 52, True, order=lambda row: row.place),
    Column("who", "Person", lambda row: row.who, 180, order=lambda row: row.who.casefold()),
    Column("country", "Country", lambda row: row.placed.contact.country, 64),
    Column("class", "Served with", lambda row: row.served_with, 120),
    Column("wished", "First choices", lambda row: f"{row.wished:,}", 90, True, order=lambda row: row.wished),
    Column("others", "Alternatives", lambda row: f"{row.alternatives:,}", 86, True, order=lambda row: row.alternatives),
    Column("received", "Received", lambda row: row.received, 130, order=lambda row: row.placed.received_on),
    Column("allotted", "Packets allotted", _given, 108, True, order=_given_order),
    Column("note", "Note", lambda row: row.placed.note, 160),
)  # fmt: skip


class OrdersTab(ExchangeTab):
    """The table of orders, and what is done with them while the list is open."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"exchange", "offering", "request", "line", "contact", "donation", "setting"}
    )

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.model: RowsModel[OrderRow] = RowsModel(COLUMNS, self)
        self.table = LinesTable(self.model, context.state, "orders")
        self.table.setAccessibleName("Orders")
        self.table.setSelectionMode(LinesTable.SelectionMode.SingleSelection)
        self.table.setMinimumHeight(160)
        self.table.enable_sorting("place")
        self.empty = Empty("share", "No orders yet", "")
        self._body = QStackedWidget()
        for widget in (self.table, self.empty):
            self._body.addWidget(widget)
        self.column.addWidget(self.told)
        self.column.addWidget(self._body, 1)
        self.deeds = self.buttons(
            (
                (NEW, self.new_order), (CHANGE, self.change_order), (WITHDRAW, self.withdraw),
                (TAKE_IN, self.take_in), (FORM, self.order_form),
            ),
            NEW,
        )  # fmt: skip
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look())
        self.table.activated.connect(lambda _: self.change_order())
        self._look()

    def read(self, one: Exchange) -> None:
        """Read the orders."""
        exchange_id = one.id
        self.context.read(lambda bank: _read(bank, exchange_id), self._show)

    def _show(self, found: tuple[Exchange, list[OrderRow]]) -> None:
        before = self.chosen()
        self.exchange, rows = found
        self.model.set_rows(rows)
        if before is not None:
            go_on_with(self.table, self.model, lambda row: row.placed.request_id == before.placed.request_id)
        self.told.setText(_told(self.exchange, rows))
        self.empty.say("No orders yet", _first_step(self.exchange))
        self._body.setCurrentWidget(self.table if rows else self.empty)
        self._look()

    def chosen(self) -> OrderRow | None:
        """Return the order selected."""
        return row_chosen(self.table, self.model)

    def _look(self) -> None:
        """Enable what the stage of the exchange and the order selected allow."""
        chosen, one = self.chosen(), self.exchange
        going = one is not None and not asking.why_not(one)
        changes = going and chosen is not None and chosen.allotted is None
        for text, holds in (
            (NEW, going), (CHANGE, changes), (WITHDRAW, changes), (TAKE_IN, going), (FORM, going),
        ):  # fmt: skip
            self.deeds[text].setEnabled(holds)

    # -- deeds

    def new_order(self) -> None:
        """Type orders, one after the other."""
        if self.exchange is not None:
            self.context.dialog("order", exchange=self.exchange)

    def change_order(self) -> None:
        """Change the order selected."""
        chosen = self.chosen()
        if self.exchange is not None and chosen is not None and self.deeds[CHANGE].isEnabled():
            self.context.dialog("order", exchange=self.exchange, placed=chosen.placed)

    def withdraw(self) -> None:
        """Ask once, then let the order selected count no more."""
        chosen = self.chosen()
        if chosen is None:
            return
        request_id, who = chosen.placed.request_id, chosen.who
        if self.context.tell.ask(f"Withdraw the order of {who}?", ["Withdraw it"], details="They may place another."):
            self.context.do(
                lambda bank: asking.withdraw(bank, request_id),
                lambda _: self.context.done(f"The order of {who} is withdrawn."),
            )

    def take_in(self) -> None:
        """Ask for files, and show of one after the other what it would bring."""
        if self.exchange is None:
            return
        folder = self.context.state.get(_FOLDER, "") or str(Path.home())
        chosen, _ = QFileDialog.getOpenFileNames(self, "Take in orders", folder, _KINDS)
        for path in map(Path, chosen):
            self.context.state.put(_FOLDER, str(path.parent))
            self.context.dialog("take_in_orders", exchange=self.exchange, path=path)

    def order_form(self) -> None:
        """Show the empty order form, to be printed or sent as a sheet."""
        if self.exchange is not None:
            self.context.dialog("order_form", exchange=self.exchange)


def _read(bank: Bank, exchange_id: int) -> tuple[Exchange, list[OrderRow]]:
    one = queries.exchange(bank, exchange_id)
    allotted, rules = orders.allotted(bank, exchange_id), one.terms.rules
    rows = []
    for placed in queries.placed(bank, exchange_id):
        turn = rules.turn_of(placed.order)
        served = rules.classes[turn].value if turn < len(rules.classes) else ""
        late = asking.is_late(one, placed.received_on)
        rows.append(OrderRow(placed, served, allotted.get(placed.request_id), late))
    return one, rows


def _told(one: Exchange, rows: list[OrderRow]) -> str:
    """Return how many orders there are, and why no more come in where that is so."""
    why = asking.why_not(one)
    if not rows:
        return why
    count = counted(len(rows), "order asks", "orders ask")
    return " ".join(filter(None, (f"{count} for {packets(sum(row.wished for row in rows))}.", why)))


def _first_step(one: Exchange) -> str:
    return asking.why_not(one) or (
        "Type what came by letter, or take in a table of many people. The order form is for them to fill in."
    )
