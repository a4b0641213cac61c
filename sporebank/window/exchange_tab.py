"""What the tabs of the Exchange page have in common: the exchange they show, and when they read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from sporebank.core.exchange import Exchange
from sporebank.core.records import Changed
from sporebank.window.context import Context
from sporebank.window.models import RowsModel
from sporebank.window.table import DataTable
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.simple import label


class ExchangeTab(QWidget):
    """A tab that reads when its exchange, or something of its `kinds`, changed; out of sight it waits until shown."""

    kinds: ClassVar[frozenset[str]] = frozenset()

    def __init__(self, context: Context) -> None:
        super().__init__()
        self.context = context
        self.exchange: Exchange | None = None
        self._stale = False
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 10, 0, 0)
        self.column.setSpacing(8)
        self.told = label(role="mute", wrap=True)
        context.changed.connect(self._hear)

    def show_exchange(self, exchange: Exchange) -> None:
        """Show another exchange, or the same one as it is now."""
        self.exchange = exchange
        self._stale = True
        if self.isVisible():
            self._read_again()

    def showEvent(self, event: QShowEvent) -> None:
        """Read what was missed out of sight."""
        super().showEvent(event)
        if self._stale:
            self._read_again()

    def _hear(self, changed: Changed) -> None:
        if self.kinds.isdisjoint(changed.ids):
            return
        self._stale = True
        if self.isVisible():
            self._read_again()

    def _read_again(self) -> None:
        if self.exchange is not None:
            self._stale = False
            self.read(self.exchange)

    def read(self, one: Exchange) -> None:
        """Read what the tab shows of an exchange."""
        raise NotImplementedError

    def table_of(self, model: RowsModel[Any], key: str, name: str, order: str) -> DataTable:
        """Return a table of many rows, sorted at first by a column; `looked_at` hears what is selected in it."""
        table = DataTable(model, self.context.state, key)
        table.setAccessibleName(name)
        table.setMinimumHeight(160)
        table.enable_sorting(order)
        table.selectionModel().selectionChanged.connect(lambda *_: self.looked_at())
        return table

    def looked_at(self) -> None:
        """Enable what can be done with what is selected, and say what is to be said of it."""

    def buttons(self, wanted: Sequence[tuple[str, Callable[[], object]]], primary: str = "") -> dict[str, QPushButton]:
        """Return a row of buttons by their texts, put into the column; one of them may be the primary."""
        made: dict[str, QPushButton] = {}
        row = FlowLayout()
        for text, do in wanted:
            button = made[text] = QPushButton(text)
            button.setAutoDefault(False)
            button.setProperty("primary", text == primary)
            button.clicked.connect(lambda _=False, do=do: do())
            row.addWidget(button)
        self.column.addLayout(row)
        return made
