"""A button that opens a short menu, so that a page with many deeds stays calm."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QPushButton, QWidget


class MenuButton(QPushButton):
    """Opens a menu of deeds; `entries` holds them in their order."""

    def __init__(
        self, text: str, choices: Sequence[tuple[str, Callable[[], object]]], parent: QWidget | None = None
    ) -> None:
        super().__init__(text, parent)
        menu = QMenu(self)
        self.entries: list[QAction] = []
        for words, do in choices:
            entry = menu.addAction(words)
            entry.triggered.connect(lambda _=False, do=do: do())
            self.entries.append(entry)
        self.setMenu(menu)
