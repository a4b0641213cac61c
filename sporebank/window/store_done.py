"""What the Store page shows once a batch is stored: its vials with their codes, and what comes next."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QPushButton, QWidget

from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.records import Batch, VialRow
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.names import NameLabel
from sporebank.window.widgets.section import Section
from sporebank.window.widgets.simple import label


class StoredPart(Section):
    """The batch just stored.

    Signals: `labels_wanted`, `bag_wanted`, `again_wanted` (same clone), `other_wanted`, `look_wanted`.
    """

    labels_wanted = Signal()
    bag_wanted = Signal()
    again_wanted = Signal()
    other_wanted = Signal()
    look_wanted = Signal()

    def __init__(self) -> None:
        super().__init__("Stored")
        self.name = NameLabel()
        self.about = label(role="mute", wrap=True)
        inside, deeds = QWidget(), QWidget()
        self._grid = QGridLayout(inside)
        self._grid.setContentsMargins(0, 4, 0, 4)
        self._grid.setHorizontalSpacing(24)
        self._grid.setColumnStretch(2, 1)
        self.labels = _button("&Print their labels", self.labels_wanted, primary=True)
        bag = _button("A label for the &bag", self.bag_wanted)
        again = _button("Store another of the &same clone", self.again_wanted)
        other = _button("Store a&nother batch", self.other_wanted)
        look = _button("&Look at them", self.look_wanted)
        row = FlowLayout(deeds)
        for button in (self.labels, again, other, look, bag):
            row.addWidget(button)
        self.add(self.name, self.about, inside, deeds)

    def show_stored(self, batch: Batch, vials: Sequence[VialRow]) -> None:
        """Show the vials of a batch."""
        self.name.set_name(batch.clone.taxon.name)
        vials_said = counted(len(vials), "vial")
        self.about.setText(
            f"Batch {codes.grouped(batch.code)} · clone {batch.clone.code} · collected {batch.collected.label()} · "
            f"{amounts.show(sum(vial.left for vial in vials))} in {vials_said}"
        )
        while (item := self._grid.takeAt(0)) is not None:
            cell = item.widget()
            if cell is not None:
                cell.hide()
                cell.deleteLater()
        for row, vial in enumerate(vials):
            texts = (codes.grouped(vial.code), amounts.show(vial.left), vial.place or "not put away yet")
            for column, text in enumerate(texts):
                self._grid.addWidget(label(text, "strong" if column == 0 else ""), row, column)
        self.setAccessibleDescription(self.about.text())


def _button(text: str, signal: object, *, primary: bool = False) -> QPushButton:
    button = QPushButton(text)
    button.setProperty("primary", primary)
    button.clicked.connect(signal)
    return button
