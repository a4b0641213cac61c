"""The Exchange page: a round or a standing list, from what may go to what everybody gets."""

from __future__ import annotations

from importlib import import_module
from typing import ClassVar

from PySide6.QtCore import Qt
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QTabWidget, QVBoxLayout, QWidget

from sporebank.bank import queries
from sporebank.core.dates import day_label
from sporebank.core.exchange import Exchange, Shape, Stage
from sporebank.jobs import exchange
from sporebank.window.actions import Needs
from sporebank.window.context import Context
from sporebank.window.exchange_tab import ExchangeTab
from sporebank.window.page import Page
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.simple import Empty, label

TABS: tuple[tuple[str, str], ...] = (
    ("&List", "sporebank.window.exchange_list:ListTab"),
    ("&Donations", "sporebank.window.exchange_donations:DonationsTab"),
    ("&Orders", "sporebank.window.exchange_orders:OrdersTab"),
    ("&Sharing out", "sporebank.window.exchange_sharing:SharingTab"),
    ("&Parcels", "sporebank.window.exchange_parcels:ParcelsTab"),
)
"""The title of each tab, and its widget as `module:Class`; it is made with the context alone."""


class ExchangePage(Page):
    """The exchanges, and the tabs of the one chosen."""

    kinds: ClassVar[frozenset[str]] = frozenset({"exchange"})
    buttons = ("begin_exchange", "change_exchange", "close_exchange")

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._all: list[Exchange] = []
        self._wanted = int(context.state.get("exchange/chosen", "0") or 0)
        self.choice: Choice[int] = Choice()
        self.choice.setAccessibleName("Exchange")
        self.choice.setMinimumWidth(260)
        self.stands = label(role="mute", wrap=True)
        self._places = [_Place(where, context) for _, where in TABS]
        self.tabs = QTabWidget()
        self.empty = Empty(
            "share", "No exchange yet", "A yearly round with a last day, or a list that is open all year.",
            "Begin an exchange", self.begin_exchange,
        )  # fmt: skip
        self._whole = QStackedWidget()
        self._build()
        for (title, _), place in zip(TABS, self._places, strict=True):
            self.tabs.addTab(place, title)
        self.choice.edited.connect(self._choose)

    def _build(self) -> None:
        self.body.addWidget(self._whole, 1)
        inside = QWidget()
        self._whole.addWidget(inside)
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 0, 0)
        top = QHBoxLayout()
        top.addWidget(self.choice)
        top.addWidget(self.stands, 1)
        top.setAlignment(Qt.AlignmentFlag.AlignVCenter)
        column.addLayout(top)
        column.addWidget(self.tabs, 1)
        self._whole.addWidget(self.empty)

    def tab(self) -> ExchangeTab | None:
        """Return the tab in front, if it has been in sight."""
        return self._places[self.tabs.currentIndex()].tab

    def refresh(self) -> None:
        """Read the exchanges."""
        self.context.read(queries.exchanges, self._show)

    def focus_on(self, **focus: object) -> None:
        """Turn to `exchange_id`, and to the `tab` of that title."""
        titles = [title.replace("&", "") for title, _ in TABS]
        if focus.get("tab") in titles:
            self.tabs.setCurrentIndex(titles.index(str(focus["tab"])))
        if "exchange_id" in focus:
            self._wanted = int(str(focus["exchange_id"]))
            self.refresh()

    def has(self, needs: Needs) -> bool:
        """Return whether there is an exchange."""
        return needs is Needs.NOTHING or (needs is Needs.ONE and self.chosen() is not None)

    def first_focus(self) -> QWidget:
        """Return the choice of exchanges, or what begins the first."""
        return self.choice if self._all else self.empty.button

    def chosen(self) -> Exchange | None:
        """Return the exchange in sight."""
        number = self.choice.chosen()
        return next((one for one in self._all if one.id == number), None)

    def _show(self, found: list[Exchange]) -> None:
        self._all = found
        self._whole.setCurrentIndex(0 if found else 1)
        self.choice.offer([(one.name, one.id) for one in found])
        self.choice.set_value(self._wanted)
        self._choose()

    def _choose(self) -> None:
        one = self.chosen()
        self.needs_changed.emit()
        if one is None:
            return
        self._wanted = one.id
        self.context.state.put("exchange/chosen", str(one.id))
        self.stands.setText(stands(one))
        for place in self._places:
            place.show_exchange(one)

    # -- actions

    def begin_exchange(self) -> None:
        """Begin a round or a standing list."""
        self.context.dialog("exchange", then=lambda number: self.focus_on(exchange_id=number))

    def change_exchange(self) -> None:
        """Change the dates and the rules."""
        self.context.dialog("exchange", one=self.chosen())

    def close_exchange(self) -> None:
        """Close the exchange, or open it again."""
        one = self.chosen()
        if one is None:
            return
        stage = Stage.OPEN if one.stage is Stage.CLOSED else Stage.CLOSED
        said = "is closed" if stage is Stage.CLOSED else "is open again"
        self.context.do(
            lambda bank: exchange.move_to(bank, one.id, stage), lambda _: self.context.done(f"{one.name} {said}.")
        )


def stands(one: Exchange) -> str:
    """Return what an exchange is and how far it has come."""
    closes = "" if one.closes is None else f", wishes until {day_label(one.closes)}"
    goes = "" if one.shape is Shape.STANDING else f", parcels go about {day_label(one.ships)}"
    return f"{one.shape.value.capitalize()}, {one.stage.value}: opens {day_label(one.opens)}{closes}{goes}."


class _Place(QWidget):
    """Where a tab goes, `module:Class`: it is made when it first comes into sight."""

    def __init__(self, where: str, context: Context) -> None:
        super().__init__()
        self._where, self._context = where, context
        self._exchange: Exchange | None = None
        self.tab: ExchangeTab | None = None
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)

    def show_exchange(self, exchange: Exchange) -> None:
        """Show another exchange, or the same one as it is now."""
        self._exchange = exchange
        if self.tab is not None:
            self.tab.show_exchange(exchange)

    def showEvent(self, event: QShowEvent) -> None:
        """Make the tab."""
        super().showEvent(event)
        if self.tab is None:
            self.tab = self._make()
            self._column.addWidget(self.tab)
            if self._exchange is not None:
                self.tab.show_exchange(self._exchange)

    def _make(self) -> ExchangeTab:
        module, _, name = self._where.partition(":")
        made = getattr(import_module(module), name)(self._context)
        assert isinstance(made, ExchangeTab)  # so are all of TABS
        return made
