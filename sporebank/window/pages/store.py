"""The Store page: a cleaned batch into vials, in under a minute, with the keyboard alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.own_codes import next_code
from sporebank.core.records import Basis, Batch, Clone, Place, VialRow
from sporebank.core.settings import Settings
from sporebank.formats.tables import load_genera
from sporebank.jobs import store
from sporebank.window import printing
from sporebank.window.actions import Needs
from sporebank.window.context import Context
from sporebank.window.gather import Gather, Problem, show_problems
from sporebank.window.lane import Ticket
from sporebank.window.page import Page
from sporebank.window.store_amount import AmountPart, Reckoned
from sporebank.window.store_cleaning import CleaningPart
from sporebank.window.store_clone import ClonePart
from sporebank.window.store_done import StoredPart
from sporebank.window.store_vials import VialsPart
from sporebank.window.store_what import Look, WhatPart, look_or_refusal, offered_names
from sporebank.window.tell import may_lose, tell_failure
from sporebank.window.widgets.section import Columns
from sporebank.window.widgets.simple import label

PAUSE_MS = 120


@dataclass(frozen=True)
class _Offers:
    """What the page offers to choose from and to complete."""

    names: list[str]
    codes: list[str]
    people: list[str]
    places: list[tuple[Place, str, int]]
    settings: Settings


class StorePage(Page):
    """One form in the order of the work; nothing written is lost by going elsewhere or by a refusal."""

    kinds: ClassVar[frozenset[str]] = frozenset({"taxon", "clone", "contact", "place", "vial", "stay", "setting"})
    primary = "keep_batch"

    def __init__(self, context: Context, parent: QWidget | None = None) -> None:
        super().__init__(context, parent)
        self._saving = False
        self._looking: Ticket | None = None
        self._wanted_clone: int | None = None
        self._stored: store.Stored | None = None
        self.what = WhatPart()
        self.clone = ClonePart(context.state)
        self.cleaning = CleaningPart(context.state, context.today())
        self.amount = AmountPart(context)
        self.vials = VialsPart(context)
        self.stored = StoredPart()
        self.stored.hide()
        self.forms = (
            *self.what.forms, *self.clone.forms, *self.cleaning.forms, *self.amount.forms, *self.vials.forms,
        )  # fmt: skip
        self.message = label(role="warn", wrap=True)
        self.message.hide()
        self.body.addWidget(self.message)
        self.body.addWidget(self.stored)
        self.sheet = Columns((self.what, self.clone), (self.cleaning, self.amount, self.vials), parent=self)
        self.body.addWidget(self.sheet)
        self.body.addStretch(1)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._connect()
        self._divide()

    def _connect(self) -> None:
        self.what.edited.connect(self._pause.start)
        self._pause.timeout.connect(self._look)
        self.amount.edited.connect(self._divide)
        self.stored.labels_wanted.connect(self.print_labels)
        self.stored.bag_wanted.connect(self._print_bag)
        self.stored.again_wanted.connect(lambda: self.start_over(same_clone=True))
        self.stored.other_wanted.connect(self.start_over)
        self.stored.look_wanted.connect(self._show_vials)

    def refresh(self) -> None:
        """Read what may be chosen; what is written stays."""
        self.context.read(_offers, self._offer)
        if self._stored is not None:
            self._read_stored(self._stored)
        elif self.what.taxon.text().strip():
            self._look()

    def focus_on(self, **focus: object) -> None:
        """Begin a batch of a clone (`clone_id`), unless the keeper goes on with one that is half written."""
        clone_id = focus.get("clone_id")
        if isinstance(clone_id, int) and self._may_start_over():
            self.start_over()
            self.context.read(lambda bank: queries.clone(bank, clone_id), self._begin)

    def has(self, needs: Needs) -> bool:
        """Return whether there is a form to keep."""
        return needs is Needs.NOTHING or (needs is Needs.SELECTION and self._stored is None and not self._saving)

    def half_written(self) -> str:
        """Return “A batch” while something of one is written that is not stored."""
        parts = (self.what, self.clone, self.cleaning, self.amount)
        return "A batch" if self._stored is None and any(part.written for part in parts) else ""

    def _may_start_over(self) -> bool:
        what = self.half_written()
        return not what or may_lose(
            self.context.tell,
            f"{what} is half written here. Begin another all the same?",
            "Begin another",
            "What is written here and not stored is lost then.",
        )

    def first_focus(self) -> QWidget:
        """Return the name, or once stored, the labels."""
        return self.what.taxon if self._stored is None else self.stored.labels

    # -- what is offered and understood

    def _offer(self, offers: _Offers) -> None:
        self.what.taxon.offer(offers.names)
        self.clone.offer(offers.codes, offers.people, next_code(offers.codes))
        self.vials.offer(offers.places)
        self.amount.set_settings(offers.settings)

    def _look(self) -> None:
        if self._looking is not None:
            self._looking.cancel()
        typed = self.what.taxon.text()
        if not typed.strip():
            self.what.show_nothing()
            self.clone.show_clones(())
            return
        self._looking = self.context.read(lambda bank: look_or_refusal(bank, typed), self._show_look)

    def _show_look(self, seen: Look | Refusal) -> None:
        if isinstance(seen, Refusal):
            self.what.show_nothing(str(seen))
            self.clone.show_clones(())
            return
        self.what.show_look(seen)
        self.clone.show_clones(seen.clones, self._wanted_clone)
        self._wanted_clone = None

    def _begin(self, clone: Clone) -> None:
        self.what.taxon.show_text(names.text(clone.taxon.name))
        self._wanted_clone = clone.id
        self._look()
        self.cleaning.collected.setFocus()

    def _divide(self) -> None:
        try:
            self.vials.set_total(self.amount.value().micrograms)
        except Refusal:
            self.vials.set_total(None)

    # -- keeping

    def keep_batch(self) -> None:
        """Store the batch, or say beside the fields what is missing."""
        for one in self.forms:
            one.clear_errors()
        self.message.hide()
        gather = Gather()
        form = self._gathered(gather)
        self._set_saving(True)
        read = tuple(gather.problems)

        def job(bank: Bank) -> store.Stored | tuple[Problem, ...]:
            unread = {field for field, _ in read}
            problems = (*read, *(one for one in store.check(bank, form) if one[0] not in unread))
            return problems or store.store_batch(bank, form)

        self.context.do(job, self._kept, self._failed)

    def _gathered(self, gather: Gather) -> store.StoreForm:
        today = self.context.today()
        apart = Reckoned(0, "vial by vial", Basis.WEIGHED)
        each_told = self.vials.uneven.isChecked() and self.amount.blank
        known = apart if each_told else gather.of(self.amount.field, self.amount.value, apart)
        return store.StoreForm(
            taxon=self.what.taxon.text().strip(),
            clone=self.clone.value(gather),
            portions=self.vials.portions(gather),
            stored_on=self.vials.day(gather, today),
            spore_class=self.what.keeps.value(),
            received_as=self.what.received_as.text().strip(),
            old_name=self.what.old_name.text().strip(),
            verified=self.what.verified.isChecked(),
            amount_basis=known.basis,
            amount_said=known.said,
            **vars(self.cleaning.value(gather)),
        )

    def _set_saving(self, saving: bool) -> None:
        self._saving = saving
        self.needs_changed.emit()

    def _failed(self, failure: Exception) -> None:
        if isinstance(failure, Refusal):
            self._refuse(((failure.field or "", str(failure)),))
        else:
            self._set_saving(False)
            tell_failure(self.context.tell, failure)

    def _refuse(self, problems: tuple[Problem, ...]) -> None:
        self._set_saving(False)
        placed = [(self.amount.field if field == "amount" else field, sentence) for field, sentence in problems]
        left = show_problems(self.forms, placed)
        self.message.setText("\n".join(sentence for _, sentence in left))
        self.message.setVisible(bool(left))

    def _kept(self, answer: store.Stored | tuple[Problem, ...]) -> None:
        if not isinstance(answer, store.Stored):
            self._refuse(answer)
            return
        for part in (self.clone, self.cleaning, self.amount, self.vials):
            part.remember()
        self._stored = answer
        self._set_saving(False)
        self._read_stored(answer)
        count = len(answer.vial_ids)
        self.context.done(f"Stored in {'1 vial' if count == 1 else f'{count} vials'}.")

    # -- once stored

    def _read_stored(self, stored: store.Stored) -> None:
        def read(bank: Bank) -> tuple[Batch, list[VialRow]]:
            return queries.batch(bank, stored.batch_id), queries.batch_vials(bank, stored.batch_id)

        self.context.read(read, lambda found: self._show_stored(*found))

    def _show_stored(self, batch: Batch, vials: list[VialRow]) -> None:
        """Show what was stored; when it was taken back, show the form as it was written."""
        if self._stored is None:
            return
        if not vials:
            self._show_form()
            return
        self.stored.show_stored(batch, vials)
        self._show(stored=True)
        if self.isVisible():
            self.stored.labels.setFocus()

    def _show(self, *, stored: bool) -> None:
        self.stored.setVisible(stored)
        self.sheet.setVisible(not stored)
        self.needs_changed.emit()

    def _show_form(self) -> None:
        self._stored = None
        self._show(stored=False)
        self._look()
        self.what.taxon.setFocus()

    def start_over(self, *, same_clone: bool = False) -> None:
        """Begin another batch; of the same clone, the name and the clone stay."""
        stored = self._stored
        for part in (self.cleaning, self.amount, self.vials, self.what, self.clone):
            part.start_over()
        self._divide()
        self._show_form()
        self.context.read(_offers, self._offer)
        if same_clone and stored is not None:
            self.context.read(lambda bank: queries.batch(bank, stored.batch_id).clone, self._begin)

    def print_labels(self) -> None:
        """Show the labels of the vials just stored."""
        if self._stored is not None:
            printing.vial_labels(self.context, self._stored.vial_ids)

    def _print_bag(self) -> None:
        if self._stored is not None:
            printing.labels_for(self.context, Kind.BAG, [self._stored.batch_id])

    def _show_vials(self) -> None:
        if self._stored is not None:
            self.context.go("vials", batch_id=self._stored.batch_id)


def _offers(bank: Bank) -> _Offers:
    return _Offers(
        names=offered_names(bank, [genus.name for genus in load_genera() if genus.in_2025]),
        codes=queries.clone_codes(bank),
        people=[contact.name for contact in queries.contacts(bank)],
        places=queries.places(bank),
        settings=bank.settings,
    )
