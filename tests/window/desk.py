"""A bank, the window on it, and short ways to work both, as the tests of pages and dialogs use them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDialog, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank.bank import Bank
from sporebank.window.context import Context
from sporebank.window.dialogs import dialog_class
from tests.window.conftest import Told
from tests.window.keys import at, bring_to_front

Make = Callable[..., Context]
Show = Callable[[QWidget], QWidget]
Settle = Callable[[Context], None]


class Desk:
    """A bank that is read and worked through its context."""

    def __init__(self, qtbot: QtBot, context: Context, settle: Settle, told: Told | None = None) -> None:
        self.qtbot, self.context, self._settle, self.told = qtbot, context, settle, told

    def settle(self) -> None:
        """Wait until everything asked for so far has been answered and shown."""
        self._settle(self.context)
        QApplication.processEvents()

    def read(self, query: Callable[[Bank], Any]) -> Any:
        """Return what a query finds, or what a deed gives back."""
        answers: list[Any] = []
        self.context.read(query, answers.append)
        self.settle()
        return answers[0]


class DialogDesk(Desk):
    """Dialogs, one in sight at a time."""

    def __init__(self, qtbot: QtBot, context: Context, settle: Settle, told: Told) -> None:
        super().__init__(qtbot, context, settle, told)
        self._opened: list[QDialog] = []  # what Python lets go of in another thread takes the widget along

    def open(self, key: str, **arguments: object) -> Any:
        """Open a dialog and bring it to the front."""
        dialog = dialog_class(key)(self.context, None, **arguments)
        self._opened.append(dialog)
        self.qtbot.addWidget(dialog)
        with self.qtbot.waitExposed(dialog):
            dialog.show()
        self.settle()
        bring_to_front(self.qtbot, dialog)
        return dialog

    def enter(self, dialog: QDialog) -> None:
        """Press Return where the keyboard is."""
        self.qtbot.keyClick(at(dialog), Qt.Key.Key_Return)
        self.settle()
