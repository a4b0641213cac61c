"""Putting on record what is seen in pots, and taking back what was a mistake."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes, names
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.looks import Look, LookKind, Pot
from sporebank.jobs.looks import MOST_SPORELINGS, LookForm, record, take_back
from sporebank.window.columns import Column
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.models import RowsModel
from sporebank.window.scan_strip import LOOKS, SEEN_LAST
from sporebank.window.table import DataTable, rows_chosen
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.simple import label

BEGINNERS = "Prothalli are easily taken for moss or liverwort. Do not throw them away."
"""Common practice, no source."""
NO_LOOK = "No look at these pots is on record."
TAKE_BACK = "What is taken back no longer says how a pot stands. The history keeps it, and Undo brings it back."


class LookDialog(FormDialog):
    """What is seen, on which day, how many sporelings in a pot, and a word on it."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, pot_ids: Sequence[int]) -> None:
        super().__init__(context, parent, "Record a look", "Put on record")
        self._ids = tuple(pot_ids)
        self.what: Choice[LookKind] = Choice(LOOKS)
        self.what.set_value(context.state.get(SEEN_LAST, LookKind.FILM))
        self.on, self.note = DayEdit(context.today()), QLineEdit()
        self.count = Count(0, MOST_SPORELINGS, 0)
        self.count.setSpecialValueText("not counted")
        self.form.add("what", "&What is seen", self.what, BEGINNERS)
        self.form.add("on", "&Day", self.on)
        self.form.add("count", "How &many sporelings", self.count)
        self.form.add("note", "&Note", self.note)
        self.what.currentIndexChanged.connect(lambda _: self._show_count())
        self._show_count()
        self.go.setEnabled(False)
        context.read(lambda bank: _about(bank, self._ids), self._show)

    def _show(self, about: str) -> None:
        self.say_about(about)
        self.go.setEnabled(bool(about))

    def _counts(self) -> bool:
        return self.what.value() is LookKind.SPORELINGS and len(self._ids) == 1

    def _show_count(self) -> None:
        self.form.fields["count"].setVisible(self._counts())

    def submit(self) -> None:
        """Put it on record for every pot, or for none."""
        what = self.what.value()
        count = self.count.value() if self._counts() else 0
        form = LookForm(self._ids, self.on.day(), what, count or None, self.note.text())
        self.context.state.put(SEEN_LAST, what.value)
        pots = counted(len(self._ids), "pot")
        self.do(lambda bank: record(bank, form), f"On record: {what.value} in {pots}.")


@dataclass(frozen=True)
class LookRow:
    """A look with the pot that it was at."""

    look: Look
    pot: Pot


LOOKS_COLUMNS: tuple[Column[LookRow], ...] = (
    Column("on", "On", lambda row: day_label(row.look.on), 96, order=lambda row: row.look.on),
    Column("number", "No.", lambda row: str(row.pot.number), 44, right=True, order=lambda row: row.pot.number),
    Column("code", "Pot", lambda row: codes.grouped(row.pot.code), 118),
    Column("seen", "Seen", lambda row: row.look.said().capitalize(), 110),
    Column("note", "Note", lambda row: row.look.note, 80),
)


class LooksDialog(FormDialog):
    """Every look at some pots, the latest first, and the way to take back those that were a mistake."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, pot_ids: Sequence[int]) -> None:
        super().__init__(context, parent, "Looks on record", "Take back", width=640)
        self.model: RowsModel[LookRow] = RowsModel(LOOKS_COLUMNS, self)
        self.table = DataTable(self.model, context.state, "looks")
        self.table.setAccessibleName("Looks at these pots")
        self.table.setMinimumHeight(240)
        self.table.enable_sorting("on", descending=True)
        self.form.hide()
        self.column.insertWidget(1, self.table, 1)
        self.said = label(TAKE_BACK, "small", wrap=True)
        self.column.insertWidget(2, self.said)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_ready())
        QShortcut(QKeySequence(Qt.Key.Key_Delete), self, self.go.click)
        self.table.setFocus()
        self._show_ready()
        context.read(lambda bank: _looked_at(bank, pot_ids), lambda found: self._show(*found))

    def _show(self, about: str, rows: list[LookRow]) -> None:
        self.say_about(about)
        self.model.set_rows(rows)
        self.said.setText(TAKE_BACK if rows else NO_LOOK)

    def _show_ready(self) -> None:
        self.go.setEnabled(bool(self.table.chosen_rows()))

    def submit(self) -> None:
        """Take back the looks selected."""
        ids = [row.look.id for row in rows_chosen(self.table, self.model)]
        count = counted(len(ids), "look is", "looks are")
        self.do(lambda bank: take_back(bank, ids), f"{count} taken back.")


def _looked_at(bank: Bank, pot_ids: Sequence[int]) -> tuple[str, list[LookRow]]:
    """Return which pots these are, and every look at them, pot by pot, the latest first."""
    pots = queries.pots_by_id(bank, pot_ids)
    return _pots_of(bank, pots), [LookRow(look, pot) for pot in pots for look in pot.looks]


def _about(bank: Bank, pot_ids: Sequence[int]) -> str:
    """Return what is looked at, of one pot with every look before."""
    pots = queries.pots_by_id(bank, pot_ids)
    said = _pots_of(bank, pots)
    return f"{said}\n{pots[0].story() or 'Not looked at yet.'}" if len(pots) == 1 else said


def _pots_of(bank: Bank, pots: Sequence[Pot]) -> str:
    """Return which pots these are, of which sowing."""
    if not pots:
        raise Refusal("These pots have been taken back meanwhile.")
    sowing = queries.sowing(bank, pots[0].sowing_id)
    sown = f"{names.text(sowing.name)}, sown {day_label(sowing.sown_on)}, {sowing.room}"
    if len(pots) == 1:
        return f"{codes.grouped(pots[0].code)} · {sown}"
    count = f"All {len(pots)} pots" if len(pots) == len(sowing.pots) else f"{len(pots)} of {len(sowing.pots)} pots"
    return f"{count} · {sown}"
