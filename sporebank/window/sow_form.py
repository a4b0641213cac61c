"""The form of a sowing: which room, how many pots, how much spore, and what stands in the way."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLineEdit, QPushButton, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import amounts, codes
from sporebank.core.advice import percent
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.records import Sowing, VialRow
from sporebank.core.settings import Settings
from sporebank.formats.tables import load_cautions
from sporebank.jobs import sowing
from sporebank.window.context import Context
from sporebank.window.gather import Gather, show_problems
from sporebank.window.lane import Ticket
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.band import Band
from sporebank.window.widgets.choice import Count, WordEdit
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import AmountEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.names import NameLabel
from sporebank.window.widgets.section import Section
from sporebank.window.widgets.simple import label

PAUSE_MS = 120


@dataclass(frozen=True)
class Plan:
    """A vial with what is free in it, the dose proposed if any, the warning about the room, the keeper's settings."""

    vial: VialRow
    free: int
    dose: int | None
    clash: str
    settings: Settings


def plan(bank: Bank, form: sowing.SowForm) -> Plan:
    """Return what is known about a sowing before it is booked."""
    vial = queries.vial_row(bank, form.vial_id)
    return Plan(
        vial=vial,
        free=vial.left - queries.reserved(bank).get(vial.id, 0),
        dose=sowing.dose(bank, vial.id, form.pots),
        clash=sowing.clash(bank, form),
        settings=bank.settings,
    )


class SowPart(Section):
    """A sowing from the vial chosen. Signals: `ready_changed`; `sown(Sowing)` once it is booked."""

    ready_changed = Signal()
    sown = Signal(object)

    def __init__(self, context: Context) -> None:
        super().__init__("The sowing")
        self.context = context
        self.vial_id = 0
        self._sowing = self._amount_by_hand = False
        self._reading: Ticket | None = None
        self.name, self.band = NameLabel(), Band()
        self.about = label("Choose a vial to sow from.", "mute", wrap=True)
        self.room = WordEdit("such as Propagation house")
        self.on = DayEdit(context.today())
        self.pots = Count(1, sowing.MOST_POTS, context.state.get("sow/pots", 4))
        self.amount = AmountEdit()
        self.reckoned = label(role="small", wrap=True)
        self.clash = label(role="warn", wrap=True)
        self.knowingly = QCheckBox("I &know: sow it there all the same")
        self.note = QLineEdit()
        self.told = label(role="strong", wrap=True)
        self.labels = QPushButton("Print their &labels")
        self.form, self.below = Form(), Form(columns=2)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._build()
        self.room.show_text(context.state.get("sow/room", ""))
        self._show_warning("")
        self._show_ready()

    def _build(self) -> None:
        self.form.add("room", "&Room", self.room, "One species a room a day keeps strangers out.")
        self.below.add("sown_on", "&Day", self.on)
        self.below.add("pots", "&Pots", self.pots)
        self.below.add("amount", "&Spore in all (mg)", self.amount)
        self.below.add("note", "&Note", self.note)
        caution = label(load_cautions().work("hot mix"), "warn", wrap=True)
        dust = label(load_cautions().work("spore dust"), "small", wrap=True)
        done = QHBoxLayout()
        done.addWidget(self.told, 1)
        done.addWidget(self.labels)
        self.inside.addLayout(done)
        self.add(self.name, self.about, self.band, self.form, self.clash, self.knowingly, self.below, self.reckoned)
        self.add(label("Ctrl+Enter sows.", "small"), caution, dust)
        self.show_done("")
        self.inside.addStretch(1)
        self._pause.timeout.connect(self.read_plan)
        self.room.edited.connect(self._changed)
        self.on.edited.connect(self._changed)
        self.pots.valueChanged.connect(self._changed)
        self.amount.edited.connect(self._write_amount)

    @property
    def ready(self) -> bool:
        """Whether there is a vial to sow from."""
        return bool(self.vial_id) and not self._sowing

    @property
    def written(self) -> bool:
        """Whether the keeper wrote an amount or a note that is not booked yet."""
        return bool(self.vial_id) and (self._amount_by_hand or bool(self.note.text().strip()))

    def offer_rooms(self, rooms: list[str]) -> None:
        """Offer the rooms sown in so far."""
        self.room.offer(rooms)
        if len(rooms) == 1 and not self.room.text():
            self.room.show_text(rooms[0])

    def show_vial(self, vial_id: int) -> None:
        """Turn to a vial."""
        if vial_id != self.vial_id:
            self._amount_by_hand = False
            self.knowingly.setChecked(False)
            self.show_done("")
        self.vial_id = vial_id
        self.read_plan()
        self._show_ready()

    def _changed(self) -> None:
        self.knowingly.setChecked(False)
        self._pause.start()

    def _write_amount(self) -> None:
        self._amount_by_hand = bool(self.amount.line.text())

    def show_done(self, sentence: str) -> None:
        """Say what was sown, its labels being offered beside it; nothing hides both."""
        self.told.setText(sentence)
        self.told.setVisible(bool(sentence))
        self.labels.setVisible(bool(sentence))

    def _show_ready(self) -> None:
        for widget in (self.form, self.below, self.knowingly):
            widget.setEnabled(self.ready)
        self.name.setVisible(bool(self.vial_id))
        self.band.setVisible(bool(self.vial_id))
        self.ready_changed.emit()

    # -- what is known beforehand

    def read_plan(self) -> None:
        """Ask what is free, what is proposed, and whether another species was sown there."""
        if self._reading is not None:
            self._reading.cancel()
        if self.vial_id:
            form = self._gathered(Gather())
            self._reading = self.context.read(lambda bank: plan(bank, form), self._show_plan)

    def _show_plan(self, found: Plan) -> None:
        vial = found.vial
        self.name.set_name(vial.name)
        self.band.set_share(vial.share, vial.state)
        where = vial.place or "not put away"
        self.about.setText(
            f"{codes.grouped(vial.code)} · clone {vial.clone} · {where} · {amounts.show(found.free)} free to sow"
        )
        if not self._amount_by_hand:
            self.amount.set_value(found.dose)
        self.reckoned.setText(_reckoned(found, self.pots.value()))
        self._show_warning(found.clash)

    def _show_warning(self, sentence: str) -> None:
        self.clash.setText(sentence)
        self.clash.setVisible(bool(sentence))
        self.knowingly.setVisible(bool(sentence))

    def _gathered(self, gather: Gather) -> sowing.SowForm:
        today = self.context.today()
        return sowing.SowForm(
            vial_id=self.vial_id,
            room=self.room.text().strip(),
            sown_on=gather.of("sown_on", lambda: self.on.day("sown_on"), today),
            pots=self.pots.value(),
            micrograms=gather.of("amount", self.amount.value, None) or 0,
            note=self.note.text().strip(),
            knowingly=self.knowingly.isChecked(),
        )

    # -- sowing

    def sow(self) -> None:
        """Book the sowing, or say beside the fields what stands in the way."""
        if not self.ready:
            return
        for one in (self.form, self.below):
            one.clear_errors()
        gather = Gather()
        form = self._gathered(gather)
        if gather.problems:
            show_problems((self.form, self.below), gather.problems)
            return
        self._set_sowing(True)
        self.context.do(lambda bank: queries.sowing(bank, sowing.sow(bank, form)), self._done, self._failed)

    def _set_sowing(self, busy: bool) -> None:
        self._sowing = busy
        self.ready_changed.emit()

    def _failed(self, failure: Exception) -> None:
        self._set_sowing(False)
        if not isinstance(failure, Refusal):
            tell_failure(self.context.tell, failure)
            return
        if str(failure) == self.clash.text():
            self.form.fields["room"].set_error("Another room, another day, or a tick below that you know.")
            self.knowingly.setFocus()
        elif show_problems((self.form, self.below), [(failure.field or "", str(failure))]):
            self.context.tell.error(failure)
        self.read_plan()

    def _done(self, done: Sowing) -> None:
        self._set_sowing(False)
        self.context.state.put("sow/room", done.room)
        self.context.state.put("sow/pots", len(done.pots))
        self.note.clear()
        self._amount_by_hand = False
        self.read_plan()
        self.sown.emit(done)

    def first_focus(self) -> QWidget:
        """Return the first editor to write in."""
        return self.pots if self.room.text() else self.room


def _reckoned(found: Plan, pots: int) -> str:
    """Return how the dose was reckoned."""
    settings, share = found.settings, found.vial.share
    pot = counted(pots, "pot")
    if share is None or found.dose is None:
        return "How much of it is alive is not known, so no amount is proposed. Test a pinch first, or give an amount."
    if share.middle < sowing.LEAST_ALIVE:
        alive = f"as if {percent(sowing.LEAST_ALIVE)} were alive, since more dead spore only brings mould"
    else:
        alive = f"at {percent(share.middle)} alive"
    return (
        f"Proposed {amounts.show(found.dose)}: {pot} of {settings.pot_cm2:g} cm², {settings.live_per_cm2:g} live "
        f"spores on each cm², {alive}, {settings.spore_ng:g} ng a spore. Change these under Settings."
    )
