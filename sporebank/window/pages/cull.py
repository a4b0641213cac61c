"""The Cull page: vials past viability, with advice and reason; chosen, confirmed once, undone with one keystroke."""

from __future__ import annotations

from typing import ClassVar

from PySide6.QtWidgets import QStackedWidget, QWidget

from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.records import Advice, CullCandidate, Share, State, TaxonName
from sporebank.jobs import culling
from sporebank.window import printing
from sporebank.window.actions import Needs
from sporebank.window.columns import Column, taxon_column
from sporebank.window.context import Context
from sporebank.window.models import RowsModel
from sporebank.window.page import Page
from sporebank.window.table import DataTable, rows_chosen
from sporebank.window.widgets.simple import Chips, Empty, label
from sporebank.window.words import likely


class CullRow:
    """A candidate with the columns of a vial at hand for the delegates."""

    def __init__(self, candidate: CullCandidate) -> None:
        self.candidate = candidate
        self.name: TaxonName = candidate.vial.name
        self.share: Share | None = candidate.vial.share
        self.state: State = candidate.vial.state


def _marks(row: CullRow) -> str:
    one = row.candidate
    marks = ("last of its clone" if one.last_of_clone else "", "invasive" if one.invasive_note else "")
    return ", ".join(mark for mark in marks if mark)


COLUMNS: tuple[Column[CullRow], ...] = (
    Column(
        "place", "Place", lambda row: row.candidate.vial.place, 176, delegate="path",
        order=lambda row: row.candidate.vial.place_key,
    ),
    Column("code", "Vial", lambda row: codes.grouped(row.candidate.vial.code), 124),
    taxon_column(190),
    Column("clone", "Clone", lambda row: row.candidate.vial.clone, 60),
    Column("advice", "Advice", lambda row: row.candidate.advice, 78),
    Column("marks", "Mind", _marks, 172),
    Column(
        "alive", "Alive now", lambda row: likely(row.share, row.state), 190, delegate="band",
        order=lambda row: row.share.middle if row.share else 0.0,
    ),
    Column(
        "left", "Left", lambda row: amounts.show(row.candidate.vial.left), 76, right=True,
        order=lambda row: row.candidate.vial.left,
    ),
)  # fmt: skip

_ADVICE = (("", "All"), ("cull", "Cull"), ("test first", "Test first"))


class CullPage(Page):
    """The list of vials past viability."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"vial", "batch", "clone", "taxon", "test", "stay", "movement", "packet", "setting"}
    )
    primary = "cull_vials"
    buttons = ("print_cull_sheet", "choose_cull")

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._all: list[CullRow] = []
        self._advice = ""
        self.counts = label(wrap=True)
        self.chips = Chips("Advice", _ADVICE)
        self.model: RowsModel[CullRow] = RowsModel(COLUMNS, self)
        self.table = DataTable(self.model, context.state, "cull")
        self.table.setAccessibleName("Vials past viability")
        self.table.setMinimumHeight(180)
        self.table.enable_sorting("place")
        self.reason = label(role="warn", wrap=True)
        self.reason.setMinimumHeight(self.reason.fontMetrics().lineSpacing() * 2 + 14)
        self.empty = Empty("cull", "", "")
        self._body = QStackedWidget()
        self._body.addWidget(self.table)
        self._body.addWidget(self.empty)
        parts = ((self.counts, 0), (self.chips, 0), (self._body, 1), (self.reason, 0))
        for widget, stretch in parts:
            self.body.addWidget(widget, stretch)
        self.chips.chosen.connect(self._choose_advice)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._explain())

    def refresh(self) -> None:
        """Read the list."""
        self.context.read(culling.candidates, self._show)

    def has(self, needs: Needs) -> bool:
        """Return whether vials are selected."""
        chosen = self.table.chosen_count()
        return needs is Needs.NOTHING or chosen == 1 or (needs is Needs.SELECTION and chosen > 0)

    def first_focus(self) -> QWidget:
        """Return the table."""
        return self.table

    # -- what is shown

    def _show(self, found: list[CullCandidate]) -> None:
        self._all = [CullRow(candidate) for candidate in found]
        clear = sum(one.advice == Advice.CULL for one in found)
        past = f"{counted(len(found), 'vial')} past viability"
        self.counts.setText(f"{past}: advised to cull {clear:,}, to test first {len(found) - clear:,}.")
        self._choose_advice(self._advice)

    def _choose_advice(self, advice: str) -> None:
        self._advice = advice
        kept = {one.vial.id for one in self._chosen()}
        rows = [row for row in self._all if advice in ("", row.candidate.advice)]
        self.model.set_rows(rows)
        self.table.choose_rows([n for n, row in enumerate(self.model.rows) if row.candidate.vial.id in kept])
        if self._all:
            self.empty.say("None of these", f"For no vial past viability the advice is: {advice}.")
        else:
            self.empty.say("Nothing to cull", "No vial is below the line with the certainty you have set.")
        self._body.setCurrentWidget(self.table if rows else self.empty)
        self.counts.setVisible(bool(self._all))
        self._explain()

    def _chosen(self) -> list[CullCandidate]:
        return [row.candidate for row in rows_chosen(self.table, self.model)]

    def _explain(self) -> None:
        self.needs_changed.emit()
        chosen = self._chosen()
        self.reason.setVisible(bool(self.model.rows))
        if len(chosen) == 1:
            one = chosen[0]
            last = " It is the last of its clone." if one.last_of_clone else ""
            self.reason.setText(" ".join(filter(None, (one.reason + last, one.invasive_note))))
        else:
            self.reason.setText(_several(chosen) if chosen else "Select vials to read why, and to cull them.")

    def tick(self, vial_id: int, ticked: bool = True) -> bool:
        """Tick a vial of the list, or take its tick away, and return whether it is on the list at all."""
        if all(row.candidate.vial.id != vial_id for row in self._all):
            return False
        kept = {one.vial.id for one in self._chosen()} - {vial_id} | ({vial_id} if ticked else set())
        self.chips.set_chosen("")
        self._choose_advice("")
        self.table.choose_rows([n for n, row in enumerate(self.model.rows) if row.candidate.vial.id in kept])
        return True

    # -- actions

    def choose_cull(self) -> None:
        """Select every vial of which the advice is to cull, the last of a clone left out."""
        self.chips.set_chosen("")
        self._choose_advice("")
        may_go = [
            number
            for number, row in enumerate(self.model.rows)
            if row.candidate.advice == Advice.CULL and not row.candidate.last_of_clone
        ]
        self.table.choose_rows(may_go)
        self.table.setFocus()

    def print_cull_sheet(self) -> None:
        """Show the sheet of the vials selected."""
        printing.cull_sheet(self.context, self._chosen(), self.context.today())

    def cull_vials(self) -> None:
        """Ask once, then take the vials selected out of the bank."""
        chosen = self._chosen()
        count = counted(len(chosen), "vial")
        if not self.context.tell.ask(f"Take {count} out of the bank?", [f"Cull {count}"], details=_several(chosen)):
            return
        today = self.context.today()
        reasons = {one.vial.id: one.reason for one in chosen}
        ids = [one.vial.id for one in chosen]

        def done(_: None) -> None:
            self.context.done(f"{count} culled; the slots are free.")
            printing.cull_sheet(self.context, chosen, today)

        self.context.do(lambda bank: culling.cull(bank, ids, today, reasons), done)


def _several(chosen: list[CullCandidate]) -> str:
    """Return what must be minded about several vials."""
    last = [one for one in chosen if one.last_of_clone]
    untested = sum(one.advice != Advice.CULL for one in chosen)
    invasive = sum(bool(one.invasive_note) for one in chosen)
    parts = []
    if last:
        clones = ", ".join(sorted({one.vial.clone for one in last}))
        parts.append(f"The last of {clones} would be gone: nothing else of it is alive in the bank.")
    if untested:
        parts.append(f"For {untested} of them the advice is to test first.")
    if invasive:
        parts.append(f"{invasive} of them invasive: seal and bin, do not compost.")
    return " ".join(parts) or "One keystroke (Ctrl+Z) brings them back into the records."
