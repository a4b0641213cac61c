"""The Sow page: spore out of a vial into pots with labels of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from PySide6.QtCore import QTimer
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.bank import queries
from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.looks import Pot
from sporebank.core.records import Sowing, State, VialFilter, VialRow
from sporebank.window import printing
from sporebank.window.actions import Needs
from sporebank.window.columns import Column, taxon_column
from sporebank.window.context import Context
from sporebank.window.find_field import looks_like_code
from sporebank.window.lane import Ticket
from sporebank.window.models import RowsModel
from sporebank.window.page import Page
from sporebank.window.sow_form import SowPart
from sporebank.window.sow_pots import PotsPart
from sporebank.window.table import DataTable
from sporebank.window.widgets.section import Columns, bring_into_sight
from sporebank.window.widgets.simple import Empty, label
from sporebank.window.words import likely

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

PAUSE_MS = 120
SHOWN = 60

VIALS: tuple[Column[VialRow], ...] = (
    taxon_column(160),
    Column("alive", "Alive now", lambda row: likely(row.share, row.state), 150, delegate="band",
           order=lambda row: row.share.middle if row.share else 0.0),
    Column("left", "Left", lambda row: amounts.show(row.left), 74, right=True, order=lambda row: row.left),
    Column("clone", "Clone", lambda row: row.clone, 58),
    Column("code", "Vial", lambda row: codes.grouped(row.code), 124),
    Column("place", "Place", lambda row: row.place, 158, order=lambda row: row.place_key),
)  # fmt: skip
SOWINGS: tuple[Column[Sowing], ...] = (
    Column("sown_on", "Sown", lambda row: day_label(row.sown_on), 100, order=lambda row: row.sown_on),
    taxon_column(160, "name"),
    Column("seen", "Seen", lambda row: row.seen.said(len(row.pots)).capitalize() if row.seen else "", 170),
    Column("looked", "Last look", lambda row: day_label(row.seen.on) if row.seen else "", 100,
           order=lambda row: row.seen.on.isoformat() if row.seen else ""),
    Column("pots", "Pots", lambda row: str(len(row.pots)), 56, right=True, order=lambda row: len(row.pots)),
    Column("room", "Room", lambda row: row.room, 130),
    Column("spore", "Spore", lambda row: amounts.show(row.micrograms), 74, right=True,
           order=lambda row: row.micrograms),
    Column("clone", "Clone", lambda row: row.clone, 58),
    Column("code", "Sowing", lambda row: codes.grouped(row.code), 124),
)  # fmt: skip


@dataclass(frozen=True)
class _Shown:
    vials: list[VialRow]
    sowings: list[Sowing]
    rooms: list[str]
    any_vial: bool
    fitting: int


class SowPage(Page):
    """Vials to sow from, the form of a sowing, and the last sowings."""

    kinds: ClassVar[frozenset[str]] = frozenset(
        {"vial", "batch", "clone", "taxon", "movement", "stay", "test", "sowing", "pot", "look", "setting"}
    )
    primary = "sow_pots"
    buttons = ("print_pots", "record_look")

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._wanted_vial = self._wanted_sowing = 0
        self._to_form = False
        self._reading: Ticket | None = None
        self._reading_pots: Ticket | None = None
        self.search = QLineEdit()
        self.search.setPlaceholderText("Vial to sow from: taxon, clone or place, or scan its label")
        self.search.setAccessibleName("Find a vial to sow from")
        self.search.setClearButtonEnabled(True)
        self.vials: RowsModel[VialRow] = RowsModel(VIALS, self)
        self.table = _table(self.vials, context, "sow vials", "Vials to sow from")
        self.sowings: RowsModel[Sowing] = RowsModel(SOWINGS, self)
        self.sown = _table(self.sowings, context, "sowings", "The last sowings")
        self.form, self.pots = SowPart(context), PotsPart(context)
        self.counts = label(role="small", wrap=True)
        self.empty = Empty("sow", "Nothing to sow yet", "Store a batch first.", "Store a batch", self._store)
        left = (self.search, self.table, self.counts, label("LAST SOWINGS", "section"), self.sown)
        self._columns = Columns(left, (self.form, self.pots), parent=self)
        self.body.addWidget(self._columns, 1)
        self.body.addWidget(self.empty, 1)
        self.empty.hide()
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._connect()

    def _connect(self) -> None:
        self._pause.timeout.connect(self.refresh)
        self.search.textEdited.connect(lambda _: self._pause.start())
        self.search.returnPressed.connect(self._scan)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._show_vial())
        self.table.doubleClicked.connect(lambda _: self.form.first_focus().setFocus())
        self.sown.selectionModel().selectionChanged.connect(lambda *_: self._show_sowing())
        self.pots.opened.connect(lambda pot: self._look_at([pot]))
        self.pots.earlier.clicked.connect(self.list_looks)
        self.form.ready_changed.connect(self.needs_changed)
        self.form.sown.connect(self._tell_sown)
        self.form.labels.clicked.connect(self.print_pots)
        QShortcut(QKeySequence("Ctrl+Return"), self, self.sow_pots)

    def refresh(self) -> None:
        """Read the vials found, the last sowings and the rooms; what is written in the form stays."""
        wanted, vial_id = VialFilter(text=self.search.text().strip()), self._wanted_vial
        sowing_id = self._wanted_sowing

        def read(bank: Bank) -> _Shown:
            found = [row for row in queries.vials(bank, wanted, "taxon", False, 0, SHOWN) if row.left > 0]
            found.sort(key=lambda row: row.state is State.SPENT)  # what is dead comes last, each kind in its order
            if vial_id and all(row.id != vial_id for row in found):
                found.insert(0, queries.vial_row(bank, vial_id))
            some = bool(found or queries.batches(bank, limit=1))
            fitting = len(queries.vial_ids(bank, wanted, "taxon", descending=False))
            sown = queries.sowings(bank)
            if sowing_id and all(row.id != sowing_id for row in sown):
                sown.append(queries.sowing(bank, sowing_id))
            return _Shown(found, sown, queries.rooms(bank), some, fitting)

        if self._reading is not None:
            self._reading.cancel()
        self._reading = self.context.read(read, self._show)

    def focus_on(self, **focus: object) -> None:
        """Turn to a vial (`vial_id`), or to the sowing that a `code` of a pot or sowing belongs to."""
        vial_id = focus.get("vial_id")
        if isinstance(vial_id, int):
            self._wanted_vial, self._to_form = vial_id, True
            self.refresh()
        elif "code" in focus:
            code = str(focus["code"])
            self.context.read(lambda bank: queries.pot_sowing(bank, code), lambda found: self._go_to(code, found))

    def has(self, needs: Needs) -> bool:
        """Return whether a vial (one) or a sowing (a selection) is chosen."""
        if needs is Needs.ONE:
            return self.form.ready
        return needs is Needs.NOTHING or (needs is Needs.SELECTION and self._sowing() is not None)

    def half_written(self) -> str:
        """Return “A sowing” while an amount or a note of one is written that is not booked."""
        return "A sowing" if self.form.written else ""

    def first_focus(self) -> QWidget:
        """Return the field that finds a vial."""
        return self.search

    # -- what is shown

    def _show(self, shown: _Shown) -> None:
        self._columns.setVisible(shown.any_vial)
        self.empty.setVisible(not shown.any_vial)
        self.counts.setText(f"The first {SHOWN} of {shown.fitting:,} vials; write more to narrow them.")
        self.counts.setVisible(shown.fitting > SHOWN)
        self.form.offer_rooms(shown.rooms)
        kept = self._sowing()
        sowing_id = self._wanted_sowing or (kept.id if kept else 0)
        self.vials.set_rows(shown.vials)
        self.sowings.set_rows(shown.sowings)
        _select(self.table, [row.id for row in self.vials.rows], self._wanted_vial or self.form.vial_id)
        _select(self.sown, [row.id for row in self.sowings.rows], sowing_id)
        self._wanted_sowing = 0
        if self._to_form:
            self._to_form = False
            self.form.first_focus().setFocus()

    def _show_vial(self) -> None:
        chosen = self.table.selectionModel().selectedRows()
        if chosen:
            self._wanted_vial = 0
            self.form.show_vial(self.vials.rows[chosen[0].row()].id)

    def _show_sowing(self) -> None:
        """Read the pots of the sowing chosen."""
        self.needs_changed.emit()
        if self._reading_pots is not None:
            self._reading_pots.cancel()
        sowing = self._sowing()
        if sowing is not None:
            self._reading_pots = self.context.read(
                lambda bank: queries.pots(bank, sowing.id), lambda found: self.pots.show_pots(sowing, found)
            )

    def _sowing(self) -> Sowing | None:
        chosen = self.sown.selectionModel().selectedRows()
        return self.sowings.rows[chosen[0].row()] if chosen else None

    def _scan(self) -> None:
        """Go to the vial whose label was scanned, or to the first one found."""
        text = self.search.text()
        if not looks_like_code(text):
            self.table.setFocus()
            if self.vials.rows:
                self.table.selectRow(0)
            return
        try:
            code = codes.parse(text, self.context.tag)
        except Refusal as refusal:
            self.context.tell.error(refusal)
            return
        self.search.clear()
        self.context.read(
            lambda bank: queries.vial_id_of_code(bank, code.text), lambda found: self._scanned(code.text, found)
        )

    def _scanned(self, code: str, vial_id: int | None) -> None:
        if vial_id is None:
            self.context.tell.info(f"No vial with the code {codes.grouped(code)} is in the bank now.")
            return
        self.focus_on(vial_id=vial_id)

    def _go_to(self, code: str, sowing_id: int | None) -> None:
        if sowing_id is None:
            self.context.tell.info(f"No pot or sowing with the code {codes.grouped(code)} is on record.")
            return
        self._turn_to(code, sowing_id)
        self.sown.setFocus()

    def show_pot(self, code: str) -> None:
        """Turn to the pot with this code; the keyboard stays where it is."""
        self.context.read(
            lambda bank: queries.pot_sowing(bank, code), lambda found: self._turn_to(code, found) if found else None
        )

    def _turn_to(self, code: str, sowing_id: int) -> None:
        self._wanted_sowing = sowing_id
        self.pots.want(code)
        self.refresh()

    def _store(self) -> None:
        self.context.go("store")

    # -- actions

    def sow_pots(self) -> None:
        """Book the sowing as it is written."""
        self.form.sow()

    def _tell_sown(self, done: Sowing) -> None:
        pots = counted(len(done.pots), "pot")
        self.form.show_done(f"Sown in {pots}. Label them before you turn away.")
        self.form.labels.setFocus()
        bring_into_sight(self.form.labels)
        self._wanted_sowing = done.id
        self.refresh()
        self.context.done(f"Sown in {pots}, {done.room}.")

    def print_pots(self) -> None:
        """Show the labels of the pots of the sowing chosen."""
        chosen = self._sowing()
        if chosen is not None:
            printing.pot_labels(self.context, chosen.id)

    def record_look(self) -> None:
        """Ask what is seen in the pots selected, or in all of the sowing."""
        self._look_at(self.pots.meant())

    def list_looks(self) -> None:
        """Show every look at the pots selected, or at all of the sowing."""
        pots = self.pots.meant()
        if pots:
            self.context.dialog("looks", pot_ids=tuple(pot.id for pot in pots))

    def _look_at(self, pots: Sequence[Pot]) -> None:
        if pots:
            self.context.dialog("look", pot_ids=tuple(pot.id for pot in pots))


def _table(model: RowsModel[VialRow] | RowsModel[Sowing], context: Context, key: str, name: str) -> DataTable:
    table = DataTable(model, context.state, key)
    table.setSelectionMode(DataTable.SelectionMode.SingleSelection)
    table.setAccessibleName(name)
    table.setMinimumHeight(150)
    table.horizontalHeader().setSortIndicator(-1, table.horizontalHeader().sortIndicatorOrder())
    table.setSortingEnabled(True)
    return table


def _select(table: DataTable, ids: list[int], wanted: int) -> None:
    if wanted in ids:
        table.selectRow(ids.index(wanted))
        table.scrollTo(table.model().index(ids.index(wanted), 0))
