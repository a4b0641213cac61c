"""What a stocktake found, group by group, and what shall be written about each vial that is not right."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QHeaderView, QPushButton, QVBoxLayout, QWidget

from sporebank.core import codes, names, slots
from sporebank.core.records import TaxonName
from sporebank.core.stocktake import Corrected, Correction, Group, Line, Plan, choices, counted, settled
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.models import RowsModel
from sporebank.window.state import WindowState
from sporebank.window.table import DataTable, rows_chosen
from sporebank.window.widgets.flow import FlowLayout
from sporebank.window.widgets.simple import label

_WORDS = {
    Correction.MOVE: "&Move to where found",
    Correction.MISSING: "Note as mi&ssing",
    Correction.LOST: "Write off as &lost",
    Correction.NONE: "L&eave as it is",
}


class Found:
    """A line of the result with what is chosen for it, and the spot to which it then moves."""

    def __init__(self, line: Line, plan: Plan) -> None:
        self.line, self.plan = line, plan
        self.correction = choices(line)[0]
        self.spot = line.found

    def code(self) -> str:
        """Return the code in groups, or the text as scanned."""
        return codes.grouped(self.line.text) if len(self.line.text) == codes.LENGTH else self.line.text

    @property
    def name(self) -> TaxonName | None:
        """The taxon, None where the label is of no vial here."""
        return self.line.vial.name if self.line.vial else None

    def taxon(self) -> str:
        """Return the taxon as text."""
        return names.text(self.name) if self.name else ""

    def clone(self) -> str:
        """Return the clone."""
        return self.line.vial.clone if self.line.vial else ""

    def expected(self) -> str:
        """Return where it should be, or what is known of it."""
        return self.line.why if self.line.group is Group.STRANGER else self.plan.where(self.line.expected)

    def does(self) -> str:
        """Return what is done about it, with the slot that a vial comes into."""
        if self.correction is not Correction.MOVE or self.spot is None:
            return self.correction.value.capitalize()
        part = self.plan.part(self.spot.place_id)
        if self.spot.slot is None:
            return "Move there" if not part.size else "Move there: no slot is free"
        slot = slots.label(self.spot.slot, part.columns)
        return f"Move to {slot}" if self.spot == self.line.found else f"Move to {slot}, first free"

    def corrected(self) -> Corrected | None:
        """Return what shall be written about it, None where there is nothing."""
        if self.line.vial is None or self.correction is Correction.NONE:
            return None
        return Corrected(self.line.vial.vial_id, self.correction, self.spot)

    def found(self) -> str:
        """Return where it was found."""
        return "" if self.line.found is None else self.plan.where(self.line.found)


COLUMNS: tuple[Column[Found], ...] = (
    Column("group", "Group", lambda row: row.line.group.value.capitalize(), 116),
    Column("code", "Label", lambda row: row.code(), 114),
    Column("do", "What to do", lambda row: row.does(), 144),
    Column(
        "expected", "Should be in", lambda row: row.expected(), 170, delegate="path", tip=lambda row: row.expected()
    ),
    Column("found", "Found in", lambda row: row.found(), 132, delegate="path", tip=lambda row: row.found()),
    Column("taxon", "Taxon", lambda row: row.taxon(), 156, delegate="name", tip=lambda row: row.taxon()),
    Column("clone", "Clone", lambda row: row.clone(), 60),
)


class _ResultTable(DataTable):
    """The table, never wider than its room; Space goes on to what else may be done about the lines selected."""

    turned = Signal()

    def __init__(self, model: RowsModel[Found], state: WindowState) -> None:
        super().__init__(model, state, "stocktake")
        self.horizontalHeader().setStretchLastSection(False)
        for number, column in enumerate(COLUMNS):
            if column.delegate:  # what can be shortened and is still told apart
                self.horizontalHeader().setSectionResizeMode(number, QHeaderView.ResizeMode.Stretch)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Turn with Space."""
        if event.key() == Qt.Key.Key_Space:
            self.turned.emit()
        else:
            super().keyPressEvent(event)


class ResultView(QWidget):
    """Everything that is not right, with what shall be done about it. Signals: `changed` when another is chosen."""

    changed = Signal()

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.head = label(role="heading", wrap=True)
        self.right = label(role="mute", wrap=True)
        self.model: RowsModel[Found] = RowsModel(COLUMNS, self)
        self.table = _ResultTable(self.model, context.state)
        self.table.setAccessibleName("What is not right")
        self.table.setMinimumHeight(120)
        self.table.turned.connect(self._turn)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._enable())
        self.lines: tuple[Line, ...] = ()
        self._plan = Plan("", "", (), ())
        self.buttons: dict[Correction, QPushButton] = {}
        row = QWidget()
        flow = FlowLayout(row)
        for correction, text in _WORDS.items():
            button = QPushButton(text)
            button.setAutoDefault(False)  # Return belongs to the scanner
            button.clicked.connect(partial(self._choose, correction))
            flow.addWidget(button)
            self.buttons[correction] = button
        hint = QHBoxLayout()
        hint.addWidget(label("For the lines selected:", "mute"), 0, Qt.AlignmentFlag.AlignTop)
        hint.addWidget(row, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (self.head, self.right):
            column.addWidget(widget)
        column.addWidget(self.table, 1)
        column.addLayout(hint)

    def show_lines(self, lines: tuple[Line, ...], plan: Plan) -> None:
        """Show the result, each line with what is proposed."""
        self.lines = lines
        wrong = [line for line in lines if line.group is not Group.RIGHT]
        counts = {group: sum(line.group is group for line in lines) for group in Group}
        self.head.setText(" · ".join(counted(count, group) for group, count in counts.items()))
        self.right.setText(
            f"Stocktake of {plan.title}. Missing vials are left as they are unless you choose otherwise."
            if wrong
            else f"Stocktake of {plan.title}. Everything was where it should be."
        )
        self._plan = plan
        self.model.set_rows([Found(line, plan) for line in wrong])
        self._settle()
        self._enable()

    def _settle(self) -> None:
        """Find a slot for all that moves into a box whose slots were not looked at."""
        for row in self.model.rows:
            row.spot = row.line.found
        moving = {one.vial_id: one.spot for one in settled(self._plan, self.corrected())}
        for row in self.model.rows:
            if row.line.vial is not None:
                row.spot = moving.get(row.line.vial.vial_id, row.spot)

    def corrected(self) -> list[Corrected]:
        """Return what shall be written."""
        return list(self.chosen().values())

    def chosen(self) -> dict[str, Corrected]:
        """Return what shall be written, by the text of the label."""
        found = {row.line.text: row.corrected() for row in self.model.rows}
        return {text: one for text, one in found.items() if one is not None}

    def names_slots(self) -> bool:
        """Return whether a vial goes into a slot that was not looked at."""
        return any(one.spot != row.line.found for row in self.model.rows if (one := row.corrected()) is not None)

    def _selected(self) -> list[Found]:
        return rows_chosen(self.table, self.model)

    def _choose(self, correction: Correction) -> None:
        for row in self._selected():
            if correction in choices(row.line):
                row.correction = correction
        self._redraw()

    def _turn(self) -> None:
        for row in self._selected():
            offered = choices(row.line)
            row.correction = offered[(offered.index(row.correction) + 1) % len(offered)]
        self._redraw()

    def _redraw(self) -> None:
        self._settle()
        last = self.model.index(self.model.rowCount() - 1, self.model.columnCount() - 1)
        self.model.dataChanged.emit(self.model.index(0, 0), last)
        self.changed.emit()

    def _enable(self) -> None:
        offered = {correction for row in self._selected() for correction in choices(row.line)}
        for correction, button in self.buttons.items():
            button.setEnabled(correction in offered)
