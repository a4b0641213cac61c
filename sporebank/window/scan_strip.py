"""What a scan does, chosen beside the find field and shown above the page, with what the last scans did."""

from __future__ import annotations

from collections.abc import Callable, Container
from dataclasses import dataclass

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from sporebank.core import amounts
from sporebank.core.errors import Refusal
from sporebank.core.looks import LookKind
from sporebank.core.records import TAKEN_FOR, Reason
from sporebank.core.scanning import Mode
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.editors import AmountEdit
from sporebank.window.widgets.simple import label

MOST_SHOWN = 3
LOOKS = [(kind.value.capitalize(), kind) for kind in LookKind]
SEEN_LAST = "looks/seen"
"""What was seen last, which is most often what is seen next."""


@dataclass(frozen=True)
class Shown:
    """What one scan did; `undo` takes it back, None where nothing was changed; `event` is the deed, 0 for none.

    `refused` is true of a scan that did nothing.
    """

    text: str
    undo: Callable[[], object] | None = None
    event: int = 0
    refused: bool = False


class ScanChoice(Choice[Mode]):
    """The small box beside the find field: *Scan: find*, and what else a scan may do on the page in hand."""

    def __init__(self) -> None:
        super().__init__()
        self.setProperty("compact", True)
        self.setSizeAdjustPolicy(ScanChoice.SizeAdjustPolicy.AdjustToContents)
        self.setAccessibleName("What a scan does")
        self.setToolTip("What the next scan of a label does")
        self.offer_modes((Mode.FIND,))

    def minimumSizeHint(self) -> QSize:
        """Return the room for the longest mode: what a scan does is never cut short."""
        return self.sizeHint()

    def offer_modes(self, modes: tuple[Mode, ...]) -> None:
        """Offer what a scan may do, finding first."""
        self.offer([(f"Scan: {mode.value}", mode) for mode in modes])
        self.set_value(Mode.FIND)
        self.setEnabled(len(modes) > 1)


class ScanStrip(QFrame):
    """Above the page while a scan does more than find. Signals: `stopped` when the keeper goes back to finding."""

    stopped = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("card", True)
        self.setAccessibleName("What a scan does here")
        self.what = label(role="strong", wrap=True)
        self.what.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.amount = AmountEdit()
        self.amount.setAccessibleName("Milligrams each scan takes out")
        self.amount.said.hide()  # the sentence of the strip says it
        self.reason: Choice[Reason] = Choice([(f"for {reason.value}", reason) for reason in TAKEN_FOR])
        self.reason.setAccessibleName("What it is taken out for")
        self.amount.edited.connect(self.show_take)
        self.reason.edited.connect(self.show_take)
        self.seen: Choice[LookKind] = Choice(LOOKS)
        self.seen.setAccessibleName("What is seen in the pots scanned")
        self._stop = QPushButton("Back to finding")
        self._stop.setProperty("quiet", True)
        self._stop.clicked.connect(self.stopped)
        top = QHBoxLayout()
        for widget in (self.what, self.amount, self.reason, self.seen, self._stop):
            top.addWidget(widget)
        self._lines = QVBoxLayout()
        self._lines.setSpacing(2)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 6, 6, 6)
        column.addLayout(top)
        column.addLayout(self._lines)
        self._rows: list[tuple[QWidget, QLabel, QPushButton]] = []
        self._shown: list[Shown] = []
        self.hide()

    def show_mode(self, mode: Mode, sentence: str) -> None:
        """Say what the next scan does; the strip goes where it only finds."""
        taking = mode is Mode.TAKE
        self.amount.setVisible(taking)
        self.reason.setVisible(taking)
        self.seen.setVisible(mode is Mode.LOOK)
        self.setVisible(mode is not Mode.FIND)
        self.what.setText(sentence)
        if taking:
            self.show_take()

    def show_take(self) -> None:
        """Say how much the next scan takes out, and for what."""
        try:
            taken = self.taken()
        except Refusal as refusal:
            self.what.setText(f"Scan: {refusal}")
            return
        self.what.setText(f"Scan: take {amounts.show(taken)} for {self.reason.value().value}")

    def taken(self) -> int:
        """Return the micrograms that each scan takes out.

        Raises:
            Refusal: none are given.
        """
        micrograms = self.amount.value()
        if not micrograms:
            raise Refusal("Say first how much each scan takes out, such as 2 mg.", field="amount")
        return micrograms

    def add(self, shown: Shown) -> None:
        """Show what a scan did above what those before it did."""
        self._shown = [shown, *self._shown][:MOST_SHOWN]
        self._fill()
        QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(self, shown.text))  # a screen reader says it

    def refuse(self, refusal: Refusal) -> None:
        """Show why a scan did nothing."""
        self.add(Shown(f"Not done: {refusal}", refused=True))

    def drop_last(self) -> None:
        """Leave out the last scan that did anything, which has been taken back."""
        last = self._last_done()
        self._shown = [one for one in self._shown if one is not last]
        self._fill()

    def keep_standing(self, events: Container[int]) -> None:
        """Leave out what has been taken back elsewhere: all deeds but these."""
        self._shown = [one for one in self._shown if not one.event or one.event in events]
        self._fill()

    def _last_done(self) -> Shown | None:
        return next((one for one in self._shown if one.undo is not None), None)

    def clear(self) -> None:
        """Forget what was done."""
        self._shown = []
        self._fill()

    def last(self) -> Shown | None:
        """Return what the last scan did."""
        return self._shown[0] if self._shown else None

    def take_back(self) -> None:
        """Take back what the last scan did."""
        last = self._last_done()
        if last is not None and last.undo is not None:
            last.undo()

    def _fill(self) -> None:
        while len(self._rows) < len(self._shown):
            self._rows.append(self._row())
        for row, _, _ in self._rows[len(self._shown) :]:
            row.hide()
        for shown, (row, text, undo) in zip(self._shown, self._rows, strict=False):
            text.setText(shown.text)
            text.setProperty("role", "error" if shown.refused else "mute")
            text.style().polish(text)
            undo.setVisible(shown is self._last_done())
            row.show()
        if self._shown:
            self.setAccessibleDescription(self._shown[0].text)

    def _row(self) -> tuple[QWidget, QLabel, QPushButton]:
        row, text, undo = QWidget(), label(role="mute", wrap=True), QPushButton("Undo this scan")
        text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        undo.setProperty("quiet", True)
        undo.clicked.connect(self.take_back)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        line.addWidget(text)
        line.addWidget(undo)
        self._lines.addWidget(row)
        return row, text, undo
