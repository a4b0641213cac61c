"""Labels and printers: what labels are printed on, what stands where on them, and what was printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from importlib import import_module
from typing import Any

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPushButton, QTabWidget, QVBoxLayout, QWidget

from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.label_stock_tab import StockTab

TABS: tuple[tuple[str, str], ...] = (
    ("Layouts", "sporebank.window.label_layouts:LayoutsTab"),
    ("Sheets and rolls", "sporebank.window.label_sheets:SheetsTab"),
    ("Printers", "sporebank.window.label_printers:PrintersTab"),
    ("Print runs", "sporebank.window.label_runs:RunsTab"),
)
"""The title of each tab, and its widget as `module:Class`; it is made with the context alone."""


class LabelStockDialog(QDialog):
    """The tabs side by side."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Labels and printers")
        resize_within(self, 1100, 680)
        self.tabs = QTabWidget(self)
        for title, where in TABS:
            self.tabs.addTab(_tab_class(where)(context), title)
        foot = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        foot.rejected.connect(self.reject)
        foot.setContentsMargins(20, 0, 20, 0)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 8, 0, 12)
        layout.addWidget(self.tabs, 1)
        layout.addWidget(foot)
        for button in self.findChildren(QPushButton):
            button.setAutoDefault(False)  # Return belongs to the fields

    def reject(self) -> None:
        """Close, once the keeper has said of every tab what becomes of changes that are not kept."""
        self._leave([tab for tab in map(self.tabs.widget, range(self.tabs.count())) if isinstance(tab, StockTab)])

    def _leave(self, tabs: Sequence[StockTab[Any]]) -> None:
        if not tabs:
            super().reject()
            return
        first, *others = tabs
        if first.changed():
            self.tabs.setCurrentWidget(first)
        first.leave(lambda: self._leave(others))


def _tab_class(where: str) -> Callable[[Context], QWidget]:
    module, _, name = where.partition(":")
    found: Callable[[Context], QWidget] = getattr(import_module(module), name)
    return found
