"""The pots of a sowing, and what was last seen in each."""

from __future__ import annotations

from collections.abc import Collection
from html import escape

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QHeaderView, QPushButton

from sporebank.core import codes, names
from sporebank.core.dates import day_label
from sporebank.core.looks import Pot
from sporebank.core.records import Sowing
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.models import RowsModel
from sporebank.window.table import LinesTable, rows_chosen
from sporebank.window.widgets.section import Section, bring_into_sight
from sporebank.window.widgets.simple import label

LEAST_HEIGHT = 120

POTS: tuple[Column[Pot], ...] = (
    Column("number", "No.", lambda row: str(row.number), 44, right=True, order=lambda row: row.number),
    Column("code", "Pot", lambda row: codes.grouped(row.code), 118),
    Column("last", "Last look", lambda row: row.last.said().capitalize() if row.last else "not looked at yet", 118,
           tip=Pot.story),
    Column("on", "On", lambda row: day_label(row.last.on) if row.last else "", 96, tip=Pot.story,
           order=lambda row: row.last.on.isoformat() if row.last else ""),
)  # fmt: skip


class PotsPart(Section):
    """The pots of the sowing chosen. Signals: `opened(Pot)` when the keeper opens one."""

    opened = Signal(object)

    def __init__(self, context: Context) -> None:
        super().__init__("Pots of the sowing selected")
        self._wanted = ""
        self.about = label("Select a sowing to see its pots.", "mute", wrap=True)
        self.about.setTextFormat(Qt.TextFormat.RichText)
        self.model: RowsModel[Pot] = RowsModel(POTS, self)
        self.table = LinesTable(self.model, context.state, "pots")
        self.table.setAccessibleName("The pots of the sowing")
        self.table.setMinimumHeight(LEAST_HEIGHT)
        self.table.horizontalHeader().setStretchLastSection(False)
        self.table.horizontalHeader().setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        self.table.horizontalHeader().setSortIndicator(-1, self.table.horizontalHeader().sortIndicatorOrder())
        self.table.setSortingEnabled(True)
        self.table.activated.connect(lambda at: self.opened.emit(self.model.rows[at.row()]))
        self.hint = label("A look is recorded for the pots selected, or for all where none is.", "small", wrap=True)
        self.earlier = QPushButton("&Earlier looks…")
        self.earlier.setProperty("quiet", True)
        self.earlier.setToolTip("Every look at the pots selected, to take back what was a mistake (Ctrl+J)")
        self.add(self.about, self.table, self.hint)
        self.inside.addWidget(self.earlier, 0, Qt.AlignmentFlag.AlignLeft)
        self.show_pots(None, [])

    def show_pots(self, sowing: Sowing | None, pots: list[Pot]) -> None:
        """Show the pots of a sowing: the one wanted in sight, else those selected again that were."""
        wanted, self._wanted = self._wanted, ""
        kept = {wanted} if wanted else {pot.code for pot in self.selected()}
        for widget in (self.table, self.hint, self.earlier):
            widget.setVisible(sowing is not None)
        if sowing is not None:
            self.about.setText(f"{names.html(sowing.name)}, sown {day_label(sowing.sown_on)}, {escape(sowing.room)}")
        self.model.set_rows(pots)
        self.earlier.setEnabled(any(pot.looks for pot in pots))
        self._select(kept)
        if wanted:
            QTimer.singleShot(0, self, lambda: bring_into_sight(self.table))  # once it has its place

    def want(self, code: str) -> None:
        """Select the pot with this code, once it is shown."""
        self._wanted = code

    def _select(self, wanted: Collection[str]) -> None:
        numbers = [number for number, pot in enumerate(self.model.rows) if pot.code in wanted]
        self.table.choose_rows(numbers)
        if numbers:
            self.table.scrollTo(self.model.index(numbers[0], 0))

    def selected(self) -> list[Pot]:
        """Return the pots selected."""
        return rows_chosen(self.table, self.model)

    def meant(self) -> list[Pot]:
        """Return the pots that a look is for: those selected, or all."""
        return self.selected() or list(self.model.rows)
