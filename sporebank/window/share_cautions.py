"""The cautions of a parcel as the Share page tells them: what may apply, and what each was answered with."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QPushButton, QVBoxLayout, QWidget

from sporebank.jobs.parcel_checks import Check
from sporebank.window.widgets.simple import label


class CautionCard(QFrame):
    """One caution with its answer. Signals: `wanted` when its button is pressed."""

    wanted = Signal()

    def __init__(self, check: Check, *, open_to: bool) -> None:
        super().__init__()
        self.setProperty("card", True)
        self.answer = label(f"Answered: {check.answer}" if check.answer else "Not answered yet.", wrap=True)
        self.answer.setProperty("role", "" if check.answer else "warn")
        self.button = QPushButton("Change…" if check.answer else "Acknowledge…")
        self.button.setAccessibleName(f"{self.button.text().rstrip('…')}: {check.caution.title}")
        self.button.setVisible(open_to)
        self.button.clicked.connect(lambda _: self.wanted.emit())
        grid = QGridLayout(self)
        grid.setContentsMargins(12, 9, 12, 10)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(0, 1)
        grid.addWidget(label(check.caution.title, "strong", wrap=True), 0, 0)
        grid.addWidget(self.button, 0, 1, Qt.AlignmentFlag.AlignTop)
        if not check.answer:
            grid.addWidget(label(check.caution.sentence, "small", wrap=True), 1, 0, 1, 2)
        grid.addWidget(self.answer, 2, 0, 1, 2)
        self.setAccessibleName(f"{check.caution.title}. {self.answer.text()}")


class CautionList(QWidget):
    """Every caution of a parcel; not to be seen where there is none. Signals: `answer(check)`."""

    answer = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.head = label("", "section")
        self.cards: list[CautionCard] = []
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(8)
        self._column.addWidget(self.head)
        self.hide()

    def show_checks(self, checks: Sequence[Check], *, open_to: bool) -> None:
        """Show the cautions; `open_to` says whether they may still be answered."""
        for card in self.cards:
            card.hide()
            card.deleteLater()
        self.cards = [CautionCard(check, open_to=open_to) for check in checks]
        for card, check in zip(self.cards, checks, strict=True):
            card.wanted.connect(partial(self.answer.emit, check))
            self._column.addWidget(card)
        waiting = sum(not check.answer for check in checks)
        self.head.setText(f"Cautions: {waiting} not answered yet" if waiting else "Cautions")
        self.setVisible(bool(checks))
