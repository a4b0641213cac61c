"""Small deeds on vials: take spore out or set right what is left, move, note."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import amounts, codes, names, slots
from sporebank.core.errors import Refusal
from sporebank.core.records import TAKEN_FOR, Basis, Place, Reason, VialRow
from sporebank.jobs import vials
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import AmountEdit
from sporebank.window.widgets.field import beside

MOVED_TO = "vials/moved_to"
"""Where vials were put last, which is where the next ones go most often."""


def described(row: VialRow) -> str:
    """Return a vial in one line: what it is and what is left."""
    return f"{codes.grouped(row.code)} · {names.text(row.name)} · {amounts.show(row.left)} left"


class TakeDialog(FormDialog):
    """Book spore out of vials, or set right what is left in one."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, vial_ids: tuple[int, ...]) -> None:
        super().__init__(context, parent, "Take spore", "Take out")
        self._ids = vial_ids
        reasons = [(reason.value.capitalize(), reason) for reason in TAKEN_FOR]
        if len(vial_ids) == 1:
            reasons.append(("Correction: this much is left", Reason.CORRECTION))
        self.reason: Choice[Reason] = Choice(reasons)
        self.amount = AmountEdit()
        self.basis: Choice[Basis] = Choice([(basis.value.capitalize(), basis) for basis in Basis])
        self.on = DayEdit(context.today())
        self.note = QLineEdit()
        each = " from each" if len(vial_ids) > 1 else ""
        self.form.add("reason", "&For", self.reason)
        self.form.add("amount", f"&How much{each}", self.amount, "In milligrams.")
        self.form.add("basis", "How it is &known", self.basis)
        self.form.add("on", "&Day", self.on)
        self.form.add("note", "&Note", self.note)
        context.read(lambda bank: queries.vials_by_id(bank, vial_ids[:12]), self._describe)
        self.amount.setFocus()

    def _describe(self, rows: list[VialRow]) -> None:
        more = len(self._ids) - len(rows)
        lines = [described(row) for row in rows] + ([f"and {more:,} more"] if more else [])
        self.say_about("\n".join(lines))

    def submit(self) -> None:
        """Take spore out of every vial chosen, or of none."""
        amount = self.amount.value("amount")
        if amount is None:
            raise Refusal("Say how much, such as 2 mg.", field="amount")
        reason, basis, on = self.reason.value(), self.basis.value(), self.on.day()
        note = self.note.text().strip()
        if reason is Reason.CORRECTION:
            job = partial(vials.correct, vial_id=self._ids[0], micrograms=amount, on=on, basis=basis, note=note)
            self.do(job, f"What is left is now {amounts.show(amount)}.")
            return
        forms = [vials.TakeForm(vial_id, amount, reason, on, basis, note) for vial_id in self._ids]
        self.do(lambda bank: vials.take(bank, *forms), f"{amounts.show(amount)} taken for {reason.value}.")


class MoveDialog(FormDialog):
    """Put vials into a box or another place."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, vial_ids: tuple[int, ...]) -> None:
        super().__init__(context, parent, "Move vials", "Move")
        self._ids = vial_ids
        self.place: Choice[Place | None] = Choice()
        self.slot = QLineEdit()
        self.slot.setPlaceholderText("next free")
        self.on = DayEdit(context.today())
        self.form.add("places", "&To", self.place, "What the vials meet there counts from the day given.")
        if len(vial_ids) == 1:
            self.form.add("slot", "&Slot", self.slot, "Such as C4; left empty, the next free one is taken.")
        self.form.add("on", "&Day", self.on)
        context.read(self._read, self._offer)

    def _read(self, bank: Bank) -> tuple[list[VialRow], list[tuple[Place, str, int]]]:
        return queries.vials_by_id(bank, self._ids[:1]), queries.places(bank)

    def _offer(self, found: tuple[list[VialRow], list[tuple[Place, str, int]]]) -> None:
        rows, places = found
        self.place.offer([(f"{path}{_free(place, inside)}", place) for place, path, inside in places])
        last = self.context.state.get(MOVED_TO, 0)
        self.place.set_value(next((place for place, _, _ in places if place.id == last), None))
        one = f"{codes.grouped(rows[0].code)} · {names.text(rows[0].name)} · now in {rows[0].place or 'no place'}"
        self.say_about(one if len(self._ids) == 1 else f"{len(self._ids):,} vials")

    def submit(self) -> None:
        """Move every vial chosen, or none."""
        place = self.place.value() if self.place.count() else None
        if place is None:
            raise Refusal("Add a place on the page Places first.", field="places")
        place_id, on, ids = place.id, self.on.day(), self._ids
        wanted = self.slot.text().strip()
        slot = _slot(wanted, place) if wanted else None

        def move(bank: Bank) -> None:
            chosen = [vials.Move(ids[0], place_id, slot)] if slot is not None else vials.free_moves(bank, ids, place_id)
            vials.move(bank, chosen, on)

        self.context.state.put(MOVED_TO, place_id)
        self.do(move, "Moved.")


def _free(place: Place, inside: int) -> str:
    size = place.rows * place.columns
    return f"  ({size - inside} free)" if size else ""


def _slot(wanted: str, place: Place) -> int:
    with beside("slot"):
        if not place.rows:
            raise Refusal(f"{place.name} has no slots. Leave this empty, or choose a box.")
        return slots.parse(wanted, place.rows, place.columns)


class NoteDialog(FormDialog):
    """Write the note of a vial."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, vial_id: int) -> None:
        super().__init__(context, parent, "Note", "Keep")
        self._id = vial_id
        self.text = QPlainTextEdit()
        self.text.setTabChangesFocus(True)
        self.text.setMinimumHeight(90)
        self.form.add("note", "&Note", self.text, "The note before it stays in the history.")
        context.read(lambda bank: queries.vial_row(bank, vial_id), self._show)

    def _show(self, row: VialRow) -> None:
        self.say_about(described(row))
        self.text.setPlainText(row.note)

    def submit(self) -> None:
        """Keep the note."""
        ids: Sequence[int] = (self._id,)
        self.do(partial(vials.note, vial_ids=ids, text=self.text.toPlainText()), "Note kept.")
