"""The one door for messages to the keeper: a quiet notice, a refusal, a question, a bug report."""

from __future__ import annotations

import platform
import sys
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import TracebackType
from typing import Protocol

from PySide6.QtCore import QObject, Qt, Signal, qVersion
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import (
    QApplication,
    QDialog,
    QDialogButtonBox,
    QHBoxLayout,
    QLabel,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from sporebank import __version__
from sporebank.core.errors import Refusal


@dataclass(frozen=True)
class Offer:
    """A deed offered beside a notice, such as “Undo”."""

    text: str
    do: Callable[[], object]


class Tell(Protocol):
    """What pages may say to the keeper."""

    def info(self, text: str, offer: Offer | None = None) -> None:
        """Say that something is done; it goes away by itself."""

    def error(self, refusal: Refusal) -> None:
        """Say why something cannot be done; it stays until it is closed."""

    def bug(self, failure: BaseException) -> None:
        """Show a failure of the program with its details, to be copied."""

    def ask(
        self,
        question: str,
        choices: Sequence[str],
        *,
        details: str = "",
        careful: bool = False,
        turn_away: str = "Cancel",
    ) -> str:
        """Ask; return the chosen text, or "" when the keeper turned away.

        The first choice is the default; where it is to be chosen with care, `turn_away` is.
        """


def may_lose(tell: Tell, question: str, go_on: str, lost: str, turn_away: str = "Keep writing") -> bool:
    """Return whether the keeper means to go on although something is lost by it; to turn away is the default."""
    return bool(tell.ask(question, [go_on], details=lost, careful=True, turn_away=turn_away))


class WindowTell(QObject):
    """Tells through a window. Signals: `noticed(text, offer, bad)`, shown by the window as a strip."""

    noticed = Signal(str, object, bool)

    def __init__(self, window: QWidget | None = None) -> None:
        super().__init__(window)
        self._window = window

    def set_window(self, window: QWidget) -> None:
        """Tell through another window from now on."""
        self._window = window

    def info(self, text: str, offer: Offer | None = None) -> None:
        """Say that something is done."""
        self.noticed.emit(text, offer, False)

    def error(self, refusal: Refusal) -> None:
        """Say why something cannot be done, above the dialog where one hides the notice of the window."""
        front = QApplication.activeModalWidget()
        if front is None:
            self.noticed.emit(str(refusal), None, True)
            return
        dialog = Question(str(refusal), [], parent=front, careful=True, title="This cannot be done", turn_away="Close")
        dialog.exec()
        dialog.deleteLater()

    def bug(self, failure: BaseException) -> None:
        """Show a failure of the program."""
        dialog = BugReport(failure, self._window)
        dialog.exec()
        dialog.deleteLater()

    def ask(
        self,
        question: str,
        choices: Sequence[str],
        *,
        details: str = "",
        careful: bool = False,
        turn_away: str = "Cancel",
    ) -> str:
        """Ask and return the chosen text, or "" when the keeper turned away."""
        dialog = Question(question, choices, details, self._window, careful=careful, turn_away=turn_away)
        dialog.exec()
        dialog.deleteLater()
        return dialog.chosen


class Question(QDialog):
    """A question with its answers as buttons, and one more to turn away, as Escape does."""

    def __init__(
        self,
        question: str,
        choices: Sequence[str],
        details: str = "",
        parent: QWidget | None = None,
        *,
        careful: bool = False,
        turn_away: str = "Cancel",
        title: str = "A question",
    ) -> None:
        super().__init__(parent)
        self.chosen = ""
        self.setWindowTitle(title)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(22, 20, 22, 16)
        layout.setSpacing(12)
        layout.addWidget(_wrapped(question, "strong"))
        if details:
            layout.addWidget(_wrapped(details, "mute"))
        row = QHBoxLayout()
        row.addStretch(1)
        for number, choice in enumerate(choices):
            button = QPushButton(choice)
            button.setProperty("primary", number == 0 and not careful)
            button.setAutoDefault(not careful)
            button.setDefault(number == 0 and not careful)
            button.clicked.connect(lambda _=False, choice=choice: self._choose(choice))
            row.addWidget(button)
        cancel = QPushButton(turn_away)
        cancel.setAutoDefault(careful)
        cancel.setDefault(careful)
        cancel.clicked.connect(self.reject)
        row.addWidget(cancel)
        layout.addLayout(row)
        if careful:
            cancel.setFocus()

    def _choose(self, choice: str) -> None:
        self.chosen = choice
        self.accept()


class BugReport(QDialog):
    """A failure of the program: a sentence, the details, and *Copy*."""

    def __init__(self, failure: BaseException, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Something went wrong in the program")
        self.details = report(failure)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(22, 20, 22, 16)
        layout.setSpacing(12)
        layout.addWidget(
            _wrapped("This is a fault of the program, not of yours. What was saved before is safe.", "strong")
        )
        layout.addWidget(
            _wrapped("To have it mended, copy the details and send them to those who look after it.", "mute")
        )
        text = QPlainTextEdit(self.details, readOnly=True)
        text.setAccessibleName("Details of the fault")
        text.setMinimumSize(480, 160)
        layout.addWidget(text)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        copy = buttons.addButton("Copy", QDialogButtonBox.ButtonRole.ActionRole)
        copy.clicked.connect(lambda: QGuiApplication.clipboard().setText(self.details))
        buttons.rejected.connect(self.reject)
        layout.addWidget(buttons)


def report(failure: BaseException) -> str:
    """Return what a mender needs: versions, system and where it failed. No names, no data of the bank."""
    lines = traceback.format_exception(failure)
    versions = f"sporebank {__version__}, Python {platform.python_version()}, Qt {qVersion()}, {platform.system()}"
    return f"{versions}\n\n{''.join(lines)}"


def catch_everything(tell: Tell) -> None:
    """Send every exception that nobody caught through `tell`."""

    def hook(kind: type[BaseException], value: BaseException, trace: TracebackType | None) -> None:
        if isinstance(value, KeyboardInterrupt):
            sys.__excepthook__(kind, value, trace)
        else:
            tell_failure(tell, value)

    sys.excepthook = hook


def tell_failure(tell: Tell, failure: BaseException) -> None:
    """Tell a refusal as a sentence and anything else as a fault of the program."""
    if isinstance(failure, Refusal):
        tell.error(failure)
    else:
        tell.bug(failure)


def _wrapped(text: str, role: str) -> QLabel:
    label = QLabel(text, wordWrap=True)
    label.setProperty("role", role)
    label.setMinimumWidth(320)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return label
