"""The replicates of a germination test: so many germinated of so many, one line a count."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from sporebank.core import germination
from sporebank.core.errors import Refusal
from sporebank.core.records import Replicate
from sporebank.window.gather import whole
from sporebank.window.widgets.editors import NumberEdit
from sporebank.window.widgets.simple import label

MOST = 12


class ReplicateLine:
    """One count: germinated of sown."""

    def __init__(self, number: int) -> None:
        self.number = label(f"Count {number}", "mute")
        self.germinated, self.of, self.sown = NumberEdit(), label("of", "mute"), NumberEdit()
        for editor, what in ((self.germinated, "germinated"), (self.sown, "looked at")):
            editor.said.hide()
            editor.setAccessibleName(f"Count {number}, {what}")

    @property
    def cells(self) -> tuple[QWidget, ...]:
        """The widgets of the line from the left."""
        return (self.number, self.germinated, self.of, self.sown)

    def empty(self, size: int) -> None:
        """Show an empty count of so many spores."""
        self.germinated.set_value(None)
        self.sown.set_value(float(size))

    def value(self) -> Replicate | None:
        """Return the count, or None where how many germinated is not written.

        Raises:
            Refusal: it is no whole number, or of how many is not written.
        """
        germinated = whole(self.germinated)
        if germinated is None:
            return None
        sown = whole(self.sown)
        if sown is None:
            raise Refusal(f"{self.number.text()}: of how many spores looked at?", field="replicates")
        return Replicate(sown, germinated)


class ReplicateGrid(QWidget):
    """A small grid of counts; Enter moves on. Signals: `edited` by the keeper's hand; `finished` after the last."""

    edited = Signal()
    finished = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._all = [ReplicateLine(number) for number in range(1, MOST + 1)]
        self._shown = 0
        self.more, self.fewer = QPushButton("&Add a count"), QPushButton("Re&move the last")
        for button in (self.more, self.fewer):
            button.setProperty("quiet", True)
        deeds = QHBoxLayout()
        deeds.addWidget(self.more)
        deeds.addWidget(self.fewer)
        deeds.addStretch(1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addLayout(self._table())
        layout.addLayout(deeds)
        self.more.clicked.connect(self._add_by_hand)
        self.fewer.clicked.connect(self._remove_by_hand)
        self.setFocusProxy(self._all[0].germinated)

    def _table(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(1, 1)
        grid.setColumnStretch(3, 1)
        for row, line in enumerate(self._all):
            for column, cell in enumerate(line.cells):
                grid.addWidget(cell, row, column)
            for editor in (line.germinated, line.sown):
                editor.edited.connect(self.edited)
                editor.line.returnPressed.connect(lambda line=line: self._move_on(line))
        return grid

    @property
    def lines(self) -> list[ReplicateLine]:
        """The counts in sight."""
        return self._all[: self._shown]

    def start_over(self, sizes: Sequence[int]) -> None:
        """Show empty counts of so many spores each."""
        for line, size in zip(self._all, sizes, strict=False):
            line.empty(size)
        self._show(min(len(sizes), MOST))

    def _show(self, count: int) -> None:
        self._shown = count
        for number, line in enumerate(self._all):
            for cell in line.cells:
                cell.setVisible(number < count)
        self.more.setEnabled(count < MOST)
        self.fewer.setEnabled(count > 1)

    def texts(self) -> tuple[tuple[str, str], ...]:
        """Return what is written of each count in sight: how many germinated, of how many looked at."""
        return tuple((line.germinated.line.text(), line.sown.line.text()) for line in self.lines)

    def show_texts(self, texts: Sequence[tuple[str, str]]) -> None:
        """Show counts as `texts` returned them."""
        for line, (germinated, sown) in zip(self._all, texts, strict=False):
            line.germinated.line.setText(germinated)
            line.sown.line.setText(sown)
        self._show(len(texts))

    @property
    def written(self) -> bool:
        """Whether it is written of any count how many germinated."""
        return any(line.germinated.line.text().strip() for line in self.lines)

    def sizes(self) -> list[int]:
        """Return of how many spores each count is, as far as that can be read."""
        found = []
        for line in self.lines:
            try:
                found.append(whole(line.sown) or 100)
            except Refusal:
                found.append(100)
        return found

    def value(self) -> tuple[Replicate, ...]:
        """Return the counts written; empty lines are left out.

        Raises:
            Refusal: one of them cannot be read.
        """
        return tuple(count for line in self.lines if (count := line.value()) is not None)

    def sound(self) -> tuple[Replicate, ...]:
        """Return the counts so far, or none while one of them cannot be or be read."""
        try:
            counts = self.value()
        except Refusal:
            return ()
        return counts if all(0 <= count.germinated <= count.sown and count.sown for count in counts) else ()

    def words(self) -> str:
        """Return the result so far in words, or nothing while there is none to tell."""
        counts = self.sound()
        return germination.result(counts) if counts else ""

    def _add_by_hand(self) -> None:
        self._all[self._shown].empty(self.sizes()[-1])
        self._show(self._shown + 1)
        self.lines[-1].germinated.line.setFocus(Qt.FocusReason.TabFocusReason)
        self.edited.emit()

    def _remove_by_hand(self) -> None:
        self._show(self._shown - 1)
        self.edited.emit()

    def _move_on(self, line: ReplicateLine) -> None:
        number = self.lines.index(line) + 1
        if number < len(self.lines):
            self.lines[number].germinated.line.setFocus(Qt.FocusReason.TabFocusReason)
        else:
            self.finished.emit()
