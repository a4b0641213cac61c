"""A new request, and the day on which a parcel goes."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtWidgets import QPlainTextEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.records import Contact, Request, Taxon
from sporebank.formats.tables import load_cautions
from sporebank.jobs import sharing
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.person_fields import PersonFields
from sporebank.window.share_view import filled
from sporebank.window.share_wishes import Wishes
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.simple import label

Known = tuple[list[Contact], list[Taxon], list[str], int]


def _read(bank: Bank) -> Known:
    return queries.contacts(bank), queries.taxa(bank), queries.clone_codes(bank), bank.settings.packet_ug


class RequestDialog(FormDialog):
    """Who asks, and for what, in the order of rank.

    Args:
        context: the open bank.
        parent: the window.
        then: called with the id of the request when it is kept.
    """

    def __init__(
        self, context: Context, parent: QWidget | None = None, *, then: Callable[[int], object] | None = None
    ) -> None:
        super().__init__(context, parent, "New request", "Keep the request", columns=2, width=800)
        self._then = then
        self.person = PersonFields(self.form)
        self.on = DayEdit(context.today())
        self.wishes = Wishes(context)
        self.note = QPlainTextEdit()
        self.note.setTabChangesFocus(True)
        self.note.setFixedHeight(self.note.fontMetrics().lineSpacing() * 2 + 16)
        self.person.add_name()
        self.form.add("received_on", "&Received on", self.on)
        self.person.add_new()
        self.form.add("wishes", "Wishes, the first counts most", self.wishes, span=2)
        self.form.add("note", "&Note", self.note, span=2)
        context.read(_read, self._offer)
        self.person.who.setFocus()

    def _offer(self, known: Known) -> None:
        people, taxa, clones, packet_ug = known
        self.person.offer(people)
        self.wishes.offer(taxa, clones, packet_ug)

    def submit(self) -> None:
        """Keep the request, and with it somebody new."""
        person = self.person.known()
        new = None if person is not None else self.person.new()
        form = sharing.RequestForm(
            contact_id=0 if person is None else person.id,
            received_on=self.on.day("received_on"),
            wishes=self.wishes.value(),
            note=self.note.toPlainText(),
            new_contact=new,
        )
        who = new.name.strip() if new is not None else person.name if person is not None else ""

        def add(bank: Bank) -> int:
            return sharing.add_request(bank, form)

        def kept(request_id: int) -> str:
            if self._then is not None:
                self._then(request_id)
            return f"The request of {who} is kept."

        self.do(add, kept)

    def refuse(self, refusal: Refusal) -> None:
        """Show why not; what is wrong with a wish stands in its row already."""
        if refusal.field != "wish":
            super().refuse(refusal)


class DispatchDialog(FormDialog):
    """The day on which a parcel goes; its packets are then booked out."""

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        request_id: int,
        then: Callable[[], object] | None = None,
    ) -> None:
        super().__init__(context, parent, "Dispatch", "Dispatch the parcel", width=540)
        self._id, self._then, self._who = request_id, then, ""
        self.on = DayEdit(context.today())
        self.form.add("on", "&Day", self.on, "From this day the spore is out of the ledger. It can be undone.")
        self.cautions = label(role="warn", wrap=True)
        self.cautions.setText(load_cautions().work("countries"))
        self.column.insertWidget(self.column.indexOf(self.message), self.cautions)
        self.go.setEnabled(False)
        context.read(lambda bank: queries.request(bank, request_id), self._describe)

    def _describe(self, request: Request) -> None:
        self._who = request.contact.name
        count, gross = filled(request), sum(one.micrograms for line in request.lines for one in line.filled)
        packets = counted(count, "packet")
        country = f", {request.contact.country}" if request.contact.country else ", country not known"
        self.say_about(
            f"Parcel {codes.grouped(request.parcel)} to {self._who}{country}: {packets}, {amounts.show(gross)} in all."
        )
        known = load_cautions()
        said = {known.work("countries"): None}
        for line in request.lines:
            if line.filled:
                said.update(dict.fromkeys(filter(None, (known.invasive(line.name), known.protected(line.name)))))
        self.cautions.setText("\n\n".join(said))
        self.go.setEnabled(True)

    def submit(self) -> None:
        """Book the parcel out."""
        on = self.on.day()

        def gone(_: None) -> str:
            if self._then is not None:
                self._then()
            return f"The parcel to {self._who} is dispatched."

        self.do(partial(sharing.dispatch, request_id=self._id, on=on), gone)
