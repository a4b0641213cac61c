"""Setting right what was stored: a clone, a batch."""

from __future__ import annotations

from functools import partial

from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes, names
from sporebank.core.errors import Refusal
from sporebank.core.records import Batch, Cleaning, Clone, SporeClass
from sporebank.jobs import clones
from sporebank.jobs.store import BatchForm
from sporebank.window.clone_fields import CloneFields
from sporebank.window.context import Context
from sporebank.window.dialogs.cards import CLASS_WORDS
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.gather import whole
from sporebank.window.store_cleaning import APERTURES, BEFORE_HINT, PurityEdit, before_editor
from sporebank.window.widgets.choice import Choice, WordChoice
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import NumberEdit, PartDateEdit, parse_number
from sporebank.window.widgets.field import beside


def note_editor() -> QPlainTextEdit:
    """Return an editor of three lines that Tab leaves."""
    made = QPlainTextEdit()
    made.setTabChangesFocus(True)
    made.setFixedHeight(made.fontMetrics().lineSpacing() * 3 + 16)
    return made


class ChangeCloneDialog(FormDialog):
    """Change what is on record of a clone, above all whether its spore may be shared."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, clone_id: int) -> None:
        super().__init__(context, parent, "Change a clone", "Keep", columns=2, width=620)
        self._id = clone_id
        self.fields, self.received_as, self.note = CloneFields(), QLineEdit(), note_editor()
        self.fields.add_to(self.form)
        self.form.add("received_as", "Received &as", self.received_as)
        self.form.add("note", "&Note", self.note, span=2)
        self.go.setEnabled(False)
        self.fields.code.setFocus()
        context.read(lambda bank: _read_clone(bank, clone_id), lambda found: self._show(*found))

    def _show(self, clone: Clone, parent: str, offered: list[str], people: list[str]) -> None:
        self.say_about(f"{clone.code} · {names.text(clone.taxon.name)}")
        self.fields.offer(offered, people)
        self.fields.show_clone(clone, parent)
        self.received_as.setText(clone.received_as)
        self.note.setPlainText(clone.note)
        self.go.setEnabled(True)

    def submit(self) -> None:
        """Keep the clone as it is written."""
        written = self.fields.value(self.fields.acquired.value("acquired"))
        beside_them = {"note": self.note.toPlainText().strip(), "received_as": self.received_as.text().strip()}
        form = clones.CloneForm(**{**vars(written), **beside_them})
        self.do(partial(clones.change_clone, clone_id=self._id, form=form), f"Clone {form.code} is changed.")


def _read_clone(bank: Bank, clone_id: int) -> tuple[Clone, str, list[str], list[str]]:
    clone = queries.clone(bank, clone_id)
    parent = queries.clone(bank, clone.parent_id).code if clone.parent_id else ""
    offered = [code for code in queries.clone_codes(bank) if code != clone.code]
    return clone, parent, offered, [contact.name for contact in queries.contacts(bank)]


class ChangeBatchDialog(FormDialog):
    """Change what is on record of a batch; its forecasts follow."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, batch_id: int) -> None:
        super().__init__(context, parent, "Change a batch", "Keep", columns=2, width=620)
        self._id = batch_id
        self._batch: Batch | None = None
        self.collected, self.cleaned_on = PartDateEdit(), DayEdit()
        self.fronds, self.minutes = NumberEdit(), NumberEdit("min")
        self.cleaning: Choice[Cleaning] = Choice([(one.value.capitalize(), one) for one in Cleaning])
        self.aperture = WordChoice([str(aperture) for aperture in APERTURES])
        self.purity = PurityEdit()
        self.keeps: Choice[SporeClass] = Choice([(CLASS_WORDS[one].capitalize(), one) for one in SporeClass])
        self.before, self.note = before_editor(), note_editor()
        add = self.form.add
        add("collected", "Collecte&d on", self.collected, "A year or a month will do.")
        add("spore_class", "How its spore &keeps", self.keeps, "Its forecasts go by these two.")
        add("cleaned_on", "C&leaned on", self.cleaned_on)
        add("minutes", "M&inutes it took", self.minutes)
        add("fronds", "&Fronds picked", self.fronds)
        add("cleaning", "&How", self.cleaning)
        self._screen = add("screen_um", "Screen (&µm)", self.aperture, "Apertures of ISO 3310-1.", span=2)
        add("purity", "Ho&w clean", self.purity, span=2)
        add("before", "&Until stored it lay", self.before, BEFORE_HINT, span=2)
        add("note", "&Note", self.note, span=2)
        for number in (self.fronds, self.minutes):
            number.said.hide()
        self.cleaning.edited.connect(self._show_screen)
        self._show_screen()
        self.go.setEnabled(False)
        self.collected.setFocus()
        context.read(lambda bank: queries.batch(bank, batch_id), self._show)

    def _screened(self) -> bool:
        return self.cleaning.value() in (Cleaning.SCREENED, Cleaning.BOTH)

    def _show_screen(self) -> None:
        self._screen.setVisible(self._screened())

    def _show(self, batch: Batch) -> None:
        self._batch = batch
        clone = batch.clone
        self.say_about(f"{codes.grouped(batch.code)} · {names.text(clone.taxon.name)} · clone {clone.code}")
        self.collected.set_value(batch.collected)
        self.cleaned_on.set_value(batch.cleaned_on)
        self.fronds.set_value(batch.fronds)
        self.minutes.set_value(batch.minutes)
        self.cleaning.set_value(batch.cleaning)
        self.aperture.setCurrentText("" if batch.screen_um is None else str(batch.screen_um))
        self.purity.set_value(batch.purity)
        self.keeps.set_value(batch.spore_class)
        self.before.set_value(batch.before)
        self.note.setPlainText(batch.note)
        self._show_screen()
        self.go.setEnabled(True)

    def submit(self) -> None:
        """Keep the batch as it is written."""
        assert self._batch is not None  # the button waits for it
        collected = self.collected.value("collected")
        if collected is None:
            raise Refusal("When was it collected? A year alone will do, such as 2025.", field="collected")
        with beside("purity"):
            purity = self.purity.value()
        judged_anew = purity != self._batch.purity
        form = BatchForm(
            collected=collected,
            spore_class=self.keeps.value(),
            fronds=_whole(self.fronds, "fronds"),
            cleaned_on=self.cleaned_on.value("cleaned_on"),
            cleaning=self.cleaning.value(),
            screen_um=self._opening(),
            minutes=_whole(self.minutes, "minutes"),
            purity=purity,
            purity_basis=self.purity.basis if judged_anew else self._batch.purity_basis,
            before=self.before.value(),
            note=self.note.toPlainText().strip(),
        )
        said = f"Batch {codes.grouped(self._batch.code)} is changed."
        self.do(partial(clones.change_batch, batch_id=self._id, form=form), said)

    def _opening(self) -> int | None:
        text = self.aperture.text()
        with beside("screen_um"):
            return round(parse_number(text)) if text and self._screened() else None


def _whole(editor: NumberEdit, field: str) -> int | None:
    with beside(field):
        return whole(editor)
