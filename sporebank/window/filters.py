"""The row of filters above the vial table, kept as one frozen VialFilter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QPushButton, QWidget

from sporebank.core.counted import counted
from sporebank.core.records import Advice, Place, State, VialFilter
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.simple import Chips

_STATES = (("", "All"), ("alive", "Alive"), ("fading", "Fading"), ("spent", "Spent"))


class FilterBar(QWidget):
    """Narrows the table. Signals: `changed(VialFilter)` when the keeper narrowed or widened it."""

    changed = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.filter = VialFilter()
        self.states = Chips("How alive", _STATES)
        self.places = _combo("Place")
        self.years = _combo("Year collected")
        self.advice = _combo("Advice")
        self.surplus = QPushButton("Surplus")
        self.surplus.setCheckable(True)
        self.surplus.setProperty("chip", True)
        self.surplus.setAccessibleName("Only what may be given away")
        self.only = QPushButton()
        self.only.setProperty("quiet", True)
        layout = FlowLayout(self)
        for widget in (self.states, self.surplus, self.advice, self.places, self.years, self.only):
            layout.addWidget(widget)
        self.states.chosen.connect(lambda key: self._narrow(state=State(key) if key else None))
        self.surplus.clicked.connect(lambda on: self._narrow(surplus=on))
        self.places.activated.connect(lambda _: self._narrow(place_id=self.places.currentData()))
        self.advice.activated.connect(lambda _: self._narrow(advice=_advice(self.advice.currentData())))
        self.years.activated.connect(lambda _: self._narrow(year=self.years.currentData()))
        self.only.clicked.connect(lambda: self.show_filter(VialFilter(), tell=True))
        _offer(self.advice, [(each.value.capitalize(), each.value) for each in Advice])
        self._fill()

    def set_choices(self, places: Sequence[tuple[Place, str, int]], years: Sequence[int]) -> None:
        """Offer places as paths, and years; what is chosen stays chosen."""
        _offer(self.places, [(path, place.id) for place, path, _ in places])
        _offer(self.years, [(str(year), year) for year in years])
        self._fill()

    def show_filter(self, wanted: VialFilter, *, tell: bool = False) -> None:
        """Show another filter; with `tell`, as if the keeper had chosen it."""
        self.filter = wanted
        self._fill()
        if tell:
            self.changed.emit(wanted)

    def _narrow(self, **change: object) -> None:
        self.show_filter(replace(self.filter, **change), tell=True)  # type: ignore[arg-type]  # its own fields

    def _fill(self) -> None:
        wanted = self.filter
        self.states.set_chosen(wanted.state.value if wanted.state in (State.ALIVE, State.FADING, State.SPENT) else "")
        self.surplus.setChecked(wanted.surplus)
        self.places.setCurrentIndex(max(self.places.findData(wanted.place_id), 0))
        self.years.setCurrentIndex(max(self.years.findData(wanted.year), 0))
        self.advice.setCurrentIndex(max(self.advice.findData(wanted.advice and wanted.advice.value), 0))
        self.only.setVisible(wanted != VialFilter())
        self.only.setText(f"Show all (now: {_kin(wanted)} only)" if _kin(wanted) else "Show all")


def _kin(wanted: VialFilter) -> str:
    if wanted.batch_id is not None:
        return "one batch"
    if wanted.clone_id is not None:
        return "one clone"
    if wanted.vial_ids is not None:
        return counted(len(wanted.vial_ids), "vial")
    return "one taxon" if wanted.taxon_id is not None else ""


def _advice(word: str | None) -> Advice | None:
    return Advice(word) if word else None


def _combo(name: str) -> QComboBox:
    combo = QComboBox()
    combo.setAccessibleName(name)
    combo.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
    combo.setMaximumWidth(220)
    combo.setProperty("compact", True)
    combo.addItem(f"Any {name.split()[0].lower()}", None)
    return combo


def _offer(combo: QComboBox, choices: Sequence[tuple[str, object]]) -> None:
    """Offer choices after the first, which leaves everything in."""
    while combo.count() > 1:
        combo.removeItem(1)
    for text, data in choices:
        combo.addItem(text, data)
