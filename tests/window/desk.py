"""A bank, the window on it, and short ways to work both, as the tests of pages and dialogs use them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import count
from typing import Any, ClassVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QDialog, QWidget
from pytestqt.qtbot import QtBot

from sporebank.bank.bank import Bank
from sporebank.window.context import Context
from sporebank.window.dialogs import dialog_class
from sporebank.window.main import MainWindow
from sporebank.window.page import Page
from sporebank.window.pages import PAGES
from sporebank.window.widgets.field import Form
from tests.window.conftest import Told
from tests.window.keys import at, bring_to_front, choose, keep, press, write

Make = Callable[..., Context]
Show = Callable[[QWidget], QWidget]
Settle = Callable[[Context], None]
HAND = 0.15
"""Seconds from key to key where a hand types (common practice, no source)."""


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


class TabDesk(Desk):
    """A tab of labels and printers, and the dialogs that it opens."""

    def __init__(self, qtbot: QtBot, context: Context, settle: Settle, told: Told) -> None:
        super().__init__(qtbot, context, settle, told)
        self.dialogs: list[Any] = []
        context.dialog_wanted.connect(self._open)

    def show(self, widget: Any) -> None:
        self.qtbot.addWidget(widget)
        with self.qtbot.waitExposed(widget):
            widget.show()
        self.settle()
        bring_to_front(self.qtbot, widget)

    def _open(self, key: str, arguments: dict[str, object]) -> None:
        dialog = dialog_class(key)(self.context, None, **arguments)
        self.dialogs.append(dialog)
        self.show(dialog)


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


class WindowDesk(Desk):
    """The window on the page `key`, with Vials beside it, worked from the keyboard."""

    key: ClassVar[str]

    def __init__(self, qtbot: QtBot, context: Context, settle: Settle, show: Show) -> None:
        super().__init__(qtbot, context, settle)
        self.window = MainWindow(context, tuple(spec for spec in PAGES if spec.key in ("vials", self.key)))
        self.window.wedge._clock = count(1, HAND).__next__
        show(self.window)
        self.window.activateWindow()
        self.window.show_page(self.key)
        self.page: Any = self.window.page()
        self.settle()

    def write(self, name: str, text: str) -> None:
        """Tab to a field and write a text in place of what it holds."""
        write(self.qtbot, self.window, name, text)
        self.settle()

    def choose(self, name: str, text: str) -> None:
        """Tab to a box and choose what begins with a text."""
        choose(self.qtbot, self.window, name, text)
        self.settle()

    def press(self, name: str) -> None:
        """Tab to a button and press it."""
        press(self.qtbot, self.window, name)
        self.settle()

    def keep(self) -> None:
        """Press Ctrl and Return."""
        keep(self.qtbot, self.window)
        self.settle()

    def forms(self) -> Iterable[Form]:
        """Return the forms of the page."""
        raise NotImplementedError

    def errors(self) -> dict[str, str]:
        """Return what is refused, by field."""
        fields = (pair for form in self.forms() for pair in form.fields.items())
        return {name: field.error for name, field in fields if field.error}


class PageDesk(Desk):
    """One page alone, made by `kind`, and what it asked the window for: dialogs and other pages."""

    kind: ClassVar[type[Page]]
    size: ClassVar[tuple[int, int]]

    def __init__(self, context: Context, show: Show, settle: Settle, qtbot: QtBot, told: Told) -> None:
        super().__init__(qtbot, context, settle, told)
        self.show = show
        self.dialogs: list[tuple[str, dict[str, Any]]] = []
        self.went: list[tuple[str, dict[str, Any]]] = []
        context.dialog_wanted.connect(lambda key, arguments: self.dialogs.append((key, arguments)))
        context.gone.connect(lambda key, focus: self.went.append((key, focus)))

    def open(self) -> Any:
        """Show the page."""
        self.page = self.kind(self.context)
        self.show(self.page)
        self.page.resize(*self.size)
        self.settle()
        return self.page

    def key(self, widget: QWidget, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        """Press a key in a widget."""
        self.qtbot.keyClick(widget, key, modifier)
        self.settle()

    def click(self, button: QWidget) -> None:
        """Click a button."""
        self.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        self.settle()
