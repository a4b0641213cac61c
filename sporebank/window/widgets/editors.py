"""Line edits that read what growers write: partly known dates, amounts, numbers, codes."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Generic, TypeVar

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QWidget

from sporebank.core import amounts, codes
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.window.widgets.field import beside

T = TypeVar("T")
_NUMBER = re.compile(r"[-+]?(\d{1,15}([.,]\d{0,15})?|[.,]\d{1,15})")
_THOUSANDS = re.compile(r"[-+]?[1-9]\d{0,2},\d{3}")


class ReadEdit(QWidget, Generic[T]):
    """A line edit with what was understood beside it.

    Signals: `edited` when the keeper typed, never when the program set a value.
    """

    edited = Signal()

    def __init__(
        self, read: Callable[[str], T], write: Callable[[T], str], said: Callable[[T], str], example: str
    ) -> None:
        super().__init__()
        self._read, self._write, self._said = read, write, said
        self.line = _Line()
        self.line.setPlaceholderText(example)
        self.said = QLabel()
        self.said.setProperty("role", "mute")
        self.said.setMinimumWidth(self.fontMetrics().horizontalAdvance("14 Aug 2019") + 4)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(self.line, 1)
        row.addWidget(self.said)
        self.setFocusProxy(self.line)
        self.line.textChanged.connect(self._show_said)
        self.line.textEdited.connect(lambda _: self.edited.emit())

    def value(self, field: str | None = None) -> T | None:
        """Return what is written, or None when nothing is.

        Raises:
            Refusal: it cannot be read; `field` is the form's name for this editor.
        """
        text = self.line.text().strip()
        with beside(field):
            return self._read(text) if text else None

    def set_value(self, value: T | None) -> None:
        """Show a value, or nothing."""
        self.line.setText("" if value is None else self._write(value))

    def setAccessibleName(self, name: str) -> None:
        """Name the editor itself, since that is where the keyboard is."""
        super().setAccessibleName(name)
        self.line.setAccessibleName(name)

    def setAccessibleDescription(self, description: str) -> None:
        """Describe the editor itself, since that is where the keyboard is."""
        super().setAccessibleDescription(description)
        self.line.setAccessibleDescription(description)

    def _show_said(self) -> None:
        try:
            value = self.value()
        except Refusal:
            value = None
        self.said.setText("" if value is None else self._said(value))


class _Line(QLineEdit):
    """A line edit that selects everything when the keyboard comes to it."""

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Select all when tabbed into, so that typing replaces."""
        super().focusInEvent(event)
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self.selectAll()


class PartDateEdit(ReadEdit[PartDate]):
    """A partly known date, read back with the month in letters."""

    def __init__(self) -> None:
        super().__init__(PartDate.parse, PartDate.iso, PartDate.label, "2019, 2019-08 or 14 Aug 2019")


class AmountEdit(ReadEdit[int]):
    """Milligrams as typed, whole micrograms as value; decimal comma and point both count."""

    def __init__(self) -> None:
        super().__init__(amounts.parse_milligrams, _milligrams, amounts.show, "milligrams, such as 14.2")


class NumberEdit(ReadEdit[float]):
    """A plain number with decimal comma or point."""

    def __init__(self, unit: str = "", example: str = "") -> None:
        super().__init__(parse_number, lambda value: f"{value:g}", lambda value: f"{value:g} {unit}".strip(), example)


class StepEdit(ReadEdit[float]):
    """A length or size to a thousandth, its unit in the title; the up and down arrows move it by a step."""

    def __init__(self, step: float) -> None:
        super().__init__(_read_thousandths, _thousandths, _thousandths, "")
        self.step = step
        self.said.hide()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move by a step where a number is written."""
        up = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1}.get(Qt.Key(event.key()))
        if up is None or (moved := self._moved(up * self.step)) is None:
            super().keyPressEvent(event)
            return
        self.set_value(moved)
        self.edited.emit()

    def _moved(self, way: float) -> float | None:
        try:
            value = self.value()
        except Refusal:
            return None
        return None if value is None else value + way


class CodeEdit(ReadEdit[codes.Code]):
    """A code of this bank, typed or scanned, shown in groups."""

    def __init__(self, tag: str) -> None:
        super().__init__(
            lambda text: codes.parse(text, tag),
            lambda code: codes.grouped(code.text),
            lambda code: codes.grouped(code.text),
            "scan, or type the code",
        )


def parse_number(text: str) -> float:
    """Read a number with a decimal comma or point, the same on every system, as amounts are read.

    Raises:
        Refusal: it is no number, or its comma could be read in two ways.
    """
    plain = "".join(text.split()).replace("−", "-")
    if not _NUMBER.fullmatch(plain):
        raise Refusal(f"“{text.strip()}” is not a number. Write it as 14.2 or 14,2.")
    if _THOUSANDS.fullmatch(plain):
        raise Refusal(f"“{plain}” can be read in two ways. Write {plain.replace(',', '')}, or use a point.")
    return float(plain.replace(",", "."))


def _milligrams(micrograms: int) -> str:
    return _thousandths(micrograms / 1000)


def _read_thousandths(text: str) -> float:
    return round(parse_number(text), 3)


def _thousandths(value: float) -> str:
    return f"{round(value, 3) + 0.0:.3f}".rstrip("0").rstrip(".")
