"""Small parts that many pages use: roles of labels, a rule, chips, an empty page, what happened."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from sporebank.window.icons import icon


def label(text: str = "", role: str = "", *, wrap: bool = False) -> QLabel:
    """Return a plain-text label in a role of the style sheet (mute, small, title, figure, section, warn ...)."""
    made = QLabel(text, wordWrap=wrap, textFormat=Qt.TextFormat.PlainText)
    made.setProperty("role", role)
    return made


def rule() -> QFrame:
    """Return a hairline."""
    line = QFrame()
    line.setObjectName("rule")
    return line


class Chips(QWidget):
    """A row of filters of which one holds. Signals: `chosen(key)` when the keeper chose another."""

    chosen = Signal(str)

    def __init__(self, name: str, choices: Sequence[tuple[str, str]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        self._group = QButtonGroup(self)
        self.buttons: dict[str, QPushButton] = {}
        for key, text in choices:
            button = QPushButton(text, checkable=True)  # type: ignore[call-overload]  # absent from the stubs
            button.setProperty("chip", True)
            button.setAutoDefault(False)  # in a dialog Return would press it
            button.setAccessibleName(f"{name}: {text}")
            button.clicked.connect(lambda _=False, key=key: self.chosen.emit(key))
            self._group.addButton(button)
            row.addWidget(button)
            self.buttons[key] = button
        self.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
        self.set_chosen(choices[0][0])

    def set_chosen(self, key: str) -> None:
        """Show which filter holds, without a signal."""
        self.buttons[key].setChecked(True)


class Empty(QWidget):
    """An empty page: what it is for, and what to do first."""

    def __init__(
        self,
        drawing: str,
        title: str,
        text: str,
        action: str = "",
        do: Callable[[], object] | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        picture = QLabel(pixmap=icon(drawing, "mute").pixmap(56, 56))
        self.title = label(title, "title", wrap=True)
        self.text = label(text, "mute", wrap=True)
        layout = QVBoxLayout(self)
        layout.setSpacing(10)
        layout.addStretch(2)
        for widget in (picture, self.title, self.text):
            if isinstance(widget, QLabel):
                widget.setAlignment(Qt.AlignmentFlag.AlignHCenter)
            layout.addWidget(widget)
        self.button = QPushButton(action, self)  # at home before it is shown, or it is a window of its own
        self.button.setProperty("primary", True)
        self.button.setVisible(bool(action))
        if do is not None:
            self.button.clicked.connect(lambda: do())
        layout.addWidget(self.button, 0, Qt.AlignmentFlag.AlignHCenter)
        layout.addStretch(3)

    def say(self, title: str, text: str) -> None:
        """Say something else."""
        self.title.setText(title)
        self.text.setText(text)


@dataclass(frozen=True)
class Happening:
    """One line of what happened: the day for people, and a sentence."""

    when: str
    what: str


class HistoryList(QWidget):
    """What happened, the latest first, as lines of text that a screen reader can read."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(1, 1)

    def show_lines(self, lines: Sequence[Happening]) -> None:
        """Show other lines."""
        while (item := self._grid.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        for row, line in enumerate(lines):
            self._grid.addWidget(label(line.when, "small"), row, 0, Qt.AlignmentFlag.AlignTop)
            self._grid.addWidget(label(line.what, wrap=True), row, 1)
