"""The part of the Store page about vials: how many, how much in each, and where each goes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCheckBox, QGridLayout, QLineEdit, QWidget

from sporebank.core import amounts, slots
from sporebank.core.errors import Refusal
from sporebank.core.records import Place
from sporebank.jobs.store import Portion, propose_places
from sporebank.window.context import Context
from sporebank.window.gather import Gather
from sporebank.window.lane import Ticket
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import AmountEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.section import Section
from sporebank.window.widgets.simple import label

MOST_VIALS = 96
Listed = tuple[Place, str, int]
Spot = tuple[int, int]


class VialLine:
    """One vial of the batch: its number, its amount, its box or other place, its slot.

    `pinned` is set once the keeper chose where it goes; what is not pinned follows the next free slots.
    """

    def __init__(self, number: int) -> None:
        self.number = label(str(number), "mute")
        self.amount, self.slot = AmountEdit(), QLineEdit()
        self.amount.line.setPlaceholderText("mg")
        self.amount.said.hide()
        self.place: Choice[int | None] = Choice([("Not put away yet", None)])
        self.slot.setPlaceholderText("slot")
        self.slot.setFixedWidth(64)
        for editor, what in ((self.amount, "amount"), (self.place, "place"), (self.slot, "slot")):
            editor.setAccessibleName(f"Vial {number}, {what}")
        self.pinned = False

    @property
    def cells(self) -> tuple[QWidget, ...]:
        """The widgets of the line from the left."""
        return (self.number, self.amount, self.place, self.slot)

    def show_spot(self, place_id: int | None, slot: str) -> None:
        """Show where the vial goes."""
        self.place.set_value(place_id)
        self.slot.setText(slot)


class VialsPart(Section):
    """Into how many vials, and where they go. Signals: `edited` when the keeper changed how many."""

    edited = Signal()

    def __init__(self, context: Context) -> None:
        super().__init__("Into vials")
        self._context = context
        self._places: dict[int, Listed] = {}
        self._asked: Ticket | None = None
        self._total: int | None = None
        self.lines: list[VialLine] = []
        self.count = Count(1, MOST_VIALS, context.state.get("store/vials", 3))
        self.stored_on = DayEdit(context.today())
        self.uneven = QCheckBox("Uneven amounts, each written beside its vial")
        self.told = label(role="mute", wrap=True)
        self.no_box = label(
            "There is no box yet. Add one on the page Places, or put them away later.", "mute", wrap=True
        )
        form, whole = Form(columns=2), Form()
        form.add("vials", "Number of &vials", self.count)
        form.add("stored_on", "Stored on", self.stored_on)
        inside = QWidget()
        self._grid = QGridLayout(inside)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(1, 2)
        self._grid.setColumnStretch(2, 4)
        whole.add("places", "Where each goes", inside)
        self.add(form, self.uneven, whole, self.no_box, self.told, label("Ctrl+Enter stores it.", "small"))
        self.forms: tuple[Form, ...] = (form, whole)
        self.count.valueChanged.connect(self._recount)
        self.uneven.toggled.connect(lambda _: self._divide())
        self._recount()

    # -- how many, how much

    def _recount(self) -> None:
        while len(self.lines) > self.count.value():
            for cell in self.lines.pop().cells:
                self._grid.removeWidget(cell)
                cell.hide()
                cell.deleteLater()
        while len(self.lines) < self.count.value():
            self._add_line()
        self._divide()
        self.propose()
        self.edited.emit()

    def _add_line(self) -> None:
        line = VialLine(len(self.lines) + 1)
        for column, cell in enumerate(line.cells):
            self._grid.addWidget(cell, len(self.lines), column)
        line.place.offer(self._choices())
        line.place.edited.connect(lambda line=line: self._chosen(line))
        line.slot.textEdited.connect(lambda _, line=line: self._pin(line))
        line.amount.edited.connect(self._tell_sum)
        self.lines.append(line)

    def set_total(self, micrograms: int | None) -> None:
        """Divide this amount among the vials, unless their amounts are uneven."""
        self._total = micrograms
        self._divide()

    def _divide(self) -> None:
        uneven = self.uneven.isChecked()
        shares = None if self._total is None else amounts.split(self._total, len(self.lines))
        for number, line in enumerate(self.lines):
            line.amount.line.setReadOnly(not uneven)
            line.amount.line.setFocusPolicy(Qt.FocusPolicy.StrongFocus if uneven else Qt.FocusPolicy.NoFocus)
            if not uneven or not line.amount.line.text():
                line.amount.set_value(None if shares is None else shares[number])
        self._tell_sum()

    def _tell_sum(self) -> None:
        gather = Gather()
        given = sum(gather.of("places", line.amount.value, None) or 0 for line in self.lines)
        odd = "" if self._total in (None, given) else f"; above it says {amounts.show(self._total or 0)}"
        self.told.setText(f"Together {amounts.show(given)} in the vials{odd}." if self.uneven.isChecked() else "")
        self.told.setVisible(self.uneven.isChecked())

    # -- where

    def offer(self, places: Sequence[Listed]) -> None:
        """Offer the places of the bank."""
        self._places = {place.id: (place, path, inside) for place, path, inside in places}
        self.no_box.setVisible(not any(place.rows for place, _, _ in places))
        choices = self._choices()
        for line in self.lines:
            line.place.offer(choices)
        self.propose()

    def _choices(self) -> list[tuple[str, int | None]]:
        full = {key for key, (place, _, inside) in self._places.items() if place.rows and inside >= _size(place)}
        known: list[tuple[str, int | None]] = [
            (path + ("  (full)" if key in full else ""), key) for key, (_, path, _) in self._places.items()
        ]
        return [("Not put away yet", None), *known]

    def propose(self) -> None:
        """Ask for the next free slots for the vials that the keeper has not placed."""
        near, count = self._context.state.get("store/box", 0), len(self.lines)
        if self._asked is not None:
            self._asked.cancel()
        self._asked = self._context.read(lambda bank: propose_places(bank, 2 * count, near), self._show_proposed)

    def _show_proposed(self, free: list[Spot]) -> None:
        taken = {(line.place.value(), line.slot.text().strip().upper()) for line in self.lines if line.pinned}
        spots = iter([(box, name) for box, slot in free if (box, name := self._slot_name(box, slot)) not in taken])
        for line in self.lines:
            if not line.pinned:
                line.show_spot(*next(spots, (None, "")))
            self._show_slot(line)

    def _slot_name(self, box: int, slot: int) -> str:
        return slots.label(slot, self._places[box][0].columns) if box in self._places else ""

    def _chosen(self, line: VialLine) -> None:
        """Follow the box chosen: this vial and those after it go there, as far as it has free slots."""
        place_id = line.place.value()
        if place_id is None or not self._places[place_id][0].rows:
            line.slot.clear()
            self._pin(line)
        else:
            line.pinned = False
            self._context.state.put("store/box", place_id)
            self.propose()
        self._show_slot(line)

    def _pin(self, line: VialLine) -> None:
        line.pinned = True

    def _show_slot(self, line: VialLine) -> None:
        place_id = line.place.value()
        line.slot.setEnabled(place_id is not None and place_id in self._places and self._places[place_id][0].rows > 0)

    # -- the value

    def start_over(self) -> None:
        """Let every vial follow the next free slots again."""
        for line in self.lines:
            line.pinned = False
        self.uneven.setChecked(False)
        self.stored_on.set_value(self._context.today())
        self.set_total(None)
        self.propose()

    def portions(self, gather: Gather) -> tuple[Portion, ...]:
        """Return what goes into each vial and where."""
        return tuple(self._portion(line, gather) for line in self.lines)

    def _portion(self, line: VialLine, gather: Gather) -> Portion:
        micrograms = gather.of("places", line.amount.value, None) or 0
        place_id = line.place.value()
        if place_id is None or not self._places[place_id][0].rows:
            return Portion(micrograms, place_id)
        return Portion(micrograms, place_id, gather.of("places", lambda: self._slot(line, place_id), None))

    def _slot(self, line: VialLine, place_id: int) -> int:
        place = self._places[place_id][0]
        if not line.slot.text().strip():
            raise Refusal(f"Vial {line.number.text()} needs a slot there, such as A1.")
        return slots.parse(line.slot.text(), place.rows, place.columns)

    def day(self, gather: Gather, today: date) -> date:
        """Return the day of storing."""
        return gather.of("stored_on", lambda: self.stored_on.day("stored_on"), today)

    def remember(self) -> None:
        """Remember what is likely the same next time."""
        self._context.state.put("store/vials", self.count.value())


def _size(place: Place) -> int:
    return place.rows * place.columns
