"""The parcels of an exchange: how far each has come, and what is done with them until they arrive, or do not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from PySide6.QtWidgets import QStackedWidget

from sporebank.bank.queries import parcels as reading
from sporebank.core import codes
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.exchange import Exchange
from sporebank.core.money import Account
from sporebank.core.offer_list import money
from sporebank.core.packing import Parcel
from sporebank.core.records import Fate
from sporebank.jobs import money as accounts
from sporebank.jobs import packing
from sporebank.window import printing
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.exchange_tab import ExchangeTab
from sporebank.window.models import RowsModel
from sporebank.window.table import LinesTable, go_on_with, row_chosen
from sporebank.window.widgets.simple import Empty
from sporebank.window.words import opened_again

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

PICK, LABELS, BENCH, CLOSE = "Pick list…", "Packet labels…", "Pack at the bench…", "Close or open again…"
DISPATCH, FATE, PAYMENT = "Dispatch…", "Came back or lost…", "Payment…"


@dataclass(frozen=True)
class ParcelRow:
    """A parcel with what is owed for it, where money is asked for, and its place in the stored order."""

    place: int
    parcel: Parcel
    account: Account | None

    @property
    def owed(self) -> str:
        """What is owed, or the credit that is kept."""
        one = self.account
        if one is None:
            return ""
        return f"kept {money(one.kept, one.currency)}" if one.kept else money(one.owed, one.currency)


def _last_day(row: ParcelRow) -> str:
    day = row.parcel.fate_on or row.parcel.sent_on or row.parcel.packed_on
    return "" if day is None else day_label(day)


def _owed_order(row: ParcelRow) -> int:
    return 0 if row.account is None else row.account.owed - row.account.kept


COLUMNS: tuple[Column[ParcelRow], ...] = (
    Column("place", "Place", lambda row: f"{row.place:,}", 52, True, order=lambda row: row.place),
    Column("who", "Person", lambda row: row.parcel.who, 150, order=lambda row: row.parcel.who.casefold()),
    Column("country", "Country", lambda row: row.parcel.country, 64),
    Column("parcel", "Parcel", lambda row: codes.grouped(row.parcel.code), 118),
    Column("packets", "Packets", lambda row: f"{row.parcel.packets:,}", 64, True, order=lambda row: row.parcel.packets),
    Column("state", "State", lambda row: row.parcel.state, 106),
    Column("since", "Since", _last_day, 94),
    Column("owed", "Owed", lambda row: row.owed, 104, True, order=_owed_order),
    Column("gap", "Left out because", lambda row: row.parcel.gap, 180),
)  # fmt: skip


class ParcelsTab(ExchangeTab):
    """The table of parcels, from the first walk through the cold store to the last letter back."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"exchange", "request", "line", "parcel", "packet", "contact", "credit", "setting"}
    )

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self.model: RowsModel[ParcelRow] = RowsModel(COLUMNS, self)
        self.table = LinesTable(self.model, context.state, "parcels")
        self.table.setAccessibleName("Parcels")
        self.table.setSelectionMode(LinesTable.SelectionMode.SingleSelection)
        self.table.setMinimumHeight(160)
        self.table.enable_sorting("place")
        self.empty = Empty(
            "share", "No parcels yet", "Share out, then choose the vials of every packet; each order gets its parcel."
        )
        self._body = QStackedWidget()
        for widget in (self.table, self.empty):
            self._body.addWidget(widget)
        self.column.addWidget(self.told)
        self.column.addWidget(self._body, 1)
        self.deeds = self.buttons(
            (
                (PICK, self.pick), (LABELS, self.print_labels), (BENCH, self.pack), (CLOSE, self.close_parcel),
                (DISPATCH, self.dispatch), (FATE, self.record_fate), (PAYMENT, self.record_payment),
            ),
            BENCH,
        )  # fmt: skip
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._look())
        self.table.activated.connect(lambda _: self.open_on_share())
        self._look()

    def read(self, one: Exchange) -> None:
        """Read the parcels."""
        exchange_id = one.id
        self.context.read(lambda bank: _read(bank, exchange_id), self._show)

    def _show(self, rows: list[ParcelRow]) -> None:
        before = self.chosen()
        self.model.set_rows(rows)
        if before is not None:
            go_on_with(self.table, self.model, lambda row: row.parcel.request_id == before.parcel.request_id)
        self.told.setText(_told(rows))
        self.told.setVisible(bool(rows))
        self._body.setCurrentWidget(self.table if rows else self.empty)
        for button in self.deeds.values():
            button.setVisible(bool(rows))
        self.deeds[PAYMENT].setVisible(any(row.account is not None for row in rows))
        self._look()

    def chosen(self) -> ParcelRow | None:
        """Return the parcel selected."""
        return row_chosen(self.table, self.model)

    def _look(self) -> None:
        """Enable what the parcels, and the one selected, allow."""
        row = self.chosen()
        parcel = None if row is None else row.parcel
        waiting = any(one.parcel.to_pack for one in self.model.rows)
        unsent = parcel is not None and parcel.sent_on is None and parcel.packets > 0
        closable = unsent and parcel is not None and (parcel.packed > 0 or parcel.packed_on is not None)
        sent = parcel is not None and parcel.sent_on is not None and parcel.fate is Fate.NONE
        for text, holds in (
            (PICK, waiting), (LABELS, waiting), (BENCH, waiting), (CLOSE, closable), (DISPATCH, unsent), (FATE, sent),
            (PAYMENT, row is not None and row.account is not None),
        ):  # fmt: skip
            self.deeds[text].setEnabled(holds)

    # -- deeds

    def pick(self) -> None:
        """Show the pick list of all that is not packed yet."""
        if self.exchange is not None:
            printing.pick_list(self.context, self.exchange.id)

    def print_labels(self) -> None:
        """Show the labels of all packets that are not packed yet, in the order of the pick list."""
        if self.exchange is not None:
            printing.picked_labels(self.context, self.exchange.id)

    def pack(self) -> None:
        """Open the bench, with the parcel selected in hand where it is to be packed."""
        row = self.chosen()
        if self.exchange is not None:
            first = row.parcel.request_id if row is not None and row.parcel.to_pack else None
            self.context.dialog("bench", exchange_id=self.exchange.id, request_id=first)

    def close_parcel(self) -> None:
        """Close the parcel selected, or open it again."""
        row = self.chosen()
        if row is None:
            return
        request_id = row.parcel.request_id
        if row.parcel.packed_on is None:
            self.context.dialog("close_parcel", request_id=request_id)
            return
        self.context.do(
            lambda bank: packing.reopen(bank, request_id),
            lambda opened: self.context.done(opened_again(opened)),
        )

    def dispatch(self) -> None:
        """Ask for the day, then book the parcel out."""
        if (row := self.chosen()) is not None:
            self.context.dialog("dispatch", request_id=row.parcel.request_id)

    def record_fate(self) -> None:
        """Put on record that the parcel came back or was lost."""
        if (row := self.chosen()) is not None:
            self.context.dialog("fate", request_id=row.parcel.request_id)

    def record_payment(self) -> None:
        """Put on record what was paid for the parcel."""
        if (row := self.chosen()) is not None:
            self.context.dialog("payment", request_id=row.parcel.request_id)

    def open_on_share(self) -> None:
        """Turn to the request of the parcel, with all its papers."""
        if (row := self.chosen()) is not None:
            self.context.go("share", request_id=row.parcel.request_id)


def _read(bank: Bank, exchange_id: int) -> list[ParcelRow]:
    owed = accounts.accounts(bank, exchange_id)
    return [
        ParcelRow(place, one, owed.get(one.request_id) or _kept(bank, one))
        for place, one in enumerate(reading.parcels(bank, exchange_id), start=1)
    ]


def _kept(bank: Bank, parcel: Parcel) -> Account | None:
    """Return what is kept of what was paid for a parcel that was lost or came back, and costs nothing any more."""
    return accounts.account(bank, parcel.request_id) if parcel.fate is not Fate.NONE else None


def _told(rows: list[ParcelRow]) -> str:
    """Return how many parcels there are, and how many are where."""
    states = [row.parcel for row in rows]
    counts = (
        (sum(one.to_pack for one in states), "to pack"),
        (sum(one.state == "closed" for one in states), "closed"),
        (sum(one.state == "sent" for one in states), "sent"),
        (sum(one.fate is not Fate.NONE for one in states), "came back or lost"),
    )
    parcels = counted(len(rows), "parcel")
    return f"{parcels}: {', '.join(f'{count:,} {word}' for count, word in counts if count)}."
