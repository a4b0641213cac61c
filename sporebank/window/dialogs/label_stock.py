"""Labels and printers: what labels are printed on, what stands where on them, and what was printed."""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTabWidget, QVBoxLayout, QWidget

from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within

TABS: tuple[tuple[str, str], ...] = ()
"""The title of each tab, and its widget as `module:Class`; it is made with the context alone."""


class LabelStockDialog(QDialog):
    """The tabs side by side."""

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Labels and printers")
        resize_within(self, 1100, 680)
        self.tabs = QTabWidget()
        self.tabs.setDocumentMode(True)
        for title, where in TABS:
            self.tabs.addTab(_tab_class(where)(context), title)
        foot = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        foot.rejected.connect(self.reject)
        foot.setContentsMargins(20, 0, 20, 0)
        for button in foot.buttons():
            button.setAutoDefault(False)  # type: ignore[attr-defined]  # a button of a box is a push button
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 8, 0, 12)
        layout.addWidget(self.tabs, 1)
        layout.addWidget(foot)


def _tab_class(where: str) -> Callable[[Context], QWidget]:
    module, _, name = where.partition(":")
    found: Callable[[Context], QWidget] = getattr(import_module(module), name)
    return found
