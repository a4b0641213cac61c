"""Choosing from a few, from words that complete themselves, and counting: without the wheel changing anything."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Generic, TypeVar

from PySide6.QtCore import QStringListModel, Qt, Signal
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QComboBox, QCompleter, QLineEdit, QSpinBox, QWidget

T = TypeVar("T")


class _Calm(QComboBox):
    """A box that the wheel turns only while the keyboard is in it, so that scrolling a form changes nothing."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(7)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()


class Choice(_Calm, Generic[T]):
    """One of a few values. Signals: `edited` when the keeper chose, never when the program did."""

    edited = Signal()

    def __init__(self, choices: Sequence[tuple[str, T]] = ()) -> None:
        super().__init__()
        self._values: list[T] = []
        self.offer(choices)
        self.activated.connect(lambda _: self.edited.emit())

    def offer(self, choices: Sequence[tuple[str, T]]) -> None:
        """Offer other choices; what was chosen stays chosen where it is still there."""
        before = self._values[self.currentIndex() : self.currentIndex() + 1]
        self.clear()
        self._values = [value for _, value in choices]
        self.addItems([text for text, _ in choices])
        for value in before:
            self.set_value(value)

    def value(self) -> T:
        """Return the value chosen."""
        return self._values[self.currentIndex()]

    def chosen(self) -> T | None:
        """Return the value chosen, or None where nothing is offered."""
        return self.value() if self._values else None

    def offers(self, value: T) -> bool:
        """Return whether a value may be chosen."""
        return value in self._values

    def set_value(self, value: T) -> None:
        """Choose a value; one that is not offered leaves everything as it is."""
        if value in self._values:
            self.setCurrentIndex(self._values.index(value))


class WordChoice(_Calm):
    """A few usual words to choose from, or any other that is typed. Signals: `edited` when the keeper changed it."""

    edited = Signal()

    def __init__(self, words: Sequence[str]) -> None:
        super().__init__()
        self.setEditable(True)
        self.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.offer(words)
        self.setCurrentText("")
        self.activated.connect(lambda _: self.edited.emit())
        line = self.lineEdit()
        assert line is not None  # an editable box has one
        line.textEdited.connect(lambda _: self.edited.emit())

    def setAccessibleName(self, name: str) -> None:
        """Name the editor itself, since that is where the keyboard is."""
        super().setAccessibleName(name)
        line = self.lineEdit()
        if line is not None:
            line.setAccessibleName(name)

    def offer(self, words: Sequence[str]) -> None:
        """Offer other words; what is written stays."""
        written = self.currentText()
        self.clear()
        self.addItems(list(words))
        self.setCurrentText(written)

    def text(self) -> str:
        """Return what is written."""
        return self.currentText().strip()


class WordEdit(QLineEdit):
    """A line that completes from words as one types. Signals: `edited` when the keeper typed or took a word."""

    edited = Signal()

    def __init__(self, example: str = "") -> None:
        super().__init__()
        self.setPlaceholderText(example)
        self.words = QStringListModel(self)
        finds = QCompleter(self.words, self)
        finds.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        finds.setFilterMode(Qt.MatchFlag.MatchContains)
        finds.setMaxVisibleItems(10)
        self.setCompleter(finds)
        self.textChanged.connect(lambda _: self.edited.emit())

    def offer(self, words: Sequence[str]) -> None:
        """Offer words, in this order."""
        self.words.setStringList(list(words))

    def show_text(self, text: str) -> None:
        """Show a text without `edited`."""
        self.blockSignals(True)
        self.setText(text)
        self.blockSignals(False)


class Count(QSpinBox):
    """A small whole number that the wheel turns only while the keyboard is in it."""

    def __init__(self, least: int, most: int, value: int) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setRange(least, most)
        self.setValue(value)
        self.lineEdit().setTextMargins(7, 0, 7, 0)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()
