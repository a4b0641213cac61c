"""What is decided about one parcel: closing it with a gap, that it never arrived, and what was paid for it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QCheckBox, QLineEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.money import Account
from sporebank.core.offer_list import money
from sporebank.core.records import Fate, Request
from sporebank.jobs import money as jobs
from sporebank.jobs import packing
from sporebank.window.context import Context
from sporebank.window.dialogs.exchange import cents
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.day import DayEdit
from sporebank.window.widgets.editors import NumberEdit

_FATES = (("It came back", Fate.RETURNED), ("It was lost", Fate.LOST))
LOST_HINT = "The ledgers of its vials will say that its spore was lost on the way."
PAID, BACK = "paid", "given back"


class CloseDialog(FormDialog):
    """Closes a parcel; where packets are missing, the reason is asked for.

    Args:
        context: the open bank.
        parent: the window.
        request_id: whose parcel.
        then: called when it is closed.
    """

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        request_id: int,
        then: Callable[[], object] | None = None,
    ) -> None:
        super().__init__(context, parent, "Close the parcel", "Close the parcel", width=520)
        self._id, self._then = request_id, then
        self.gap = QLineEdit()
        self.form.add("gap", "&Why packets stay out", self.gap, "They are free again, and their lines say why.")
        self.go.setEnabled(False)
        context.read(lambda bank: queries.request(bank, request_id), self._describe)

    def _describe(self, request: Request) -> None:
        packed = sum(packet.packed for packet in request.packets)
        self.say_about(
            f"Parcel {codes.grouped(request.parcel)} to {request.contact.name}: "
            f"{packed} of {len(request.packets)} packets are in it."
        )
        self.form.fields["gap"].setVisible(packed < len(request.packets))
        self.go.setEnabled(True)

    def submit(self) -> None:
        """Close it."""
        gap = self.gap.text()

        def closed(_: None) -> str:
            if self._then is not None:
                self._then()
            return "The parcel is closed."

        self.do(lambda bank: packing.close(bank, self._id, gap), closed)


class FateDialog(FormDialog):
    """Puts on record that a parcel came back or was lost."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, request_id: int) -> None:
        super().__init__(context, parent, "Came back or lost", "Put on record", width=540)
        self._id, self._who = request_id, ""
        self.fate: Choice[Fate] = Choice(_FATES)
        self.on = DayEdit(context.today())
        self.put_back = QCheckBox("Put the spore &back into its vials")
        self.put_back.setChecked(True)
        self.form.add("fate", "&What became of it", self.fate)
        self.form.add("on", "&Day", self.on)
        hint = "Leave it out where it got wet or hot on the way."
        self.form.add("put_back", "Its spore", self.put_back, hint)
        self.fate.currentIndexChanged.connect(lambda _: self._follow())
        self.go.setEnabled(False)
        context.read(lambda bank: queries.request(bank, request_id), self._describe)

    def _describe(self, request: Request) -> None:
        self._who = request.contact.name
        self.say_about(
            f"Parcel {codes.grouped(request.parcel)} to {self._who}. Its order is closed and counts no more, "
            "so that they may ask again."
        )
        self.go.setEnabled(True)

    def _follow(self) -> None:
        lost = self.fate.value() is Fate.LOST
        self.form.fields["put_back"].setVisible(not lost)
        self.form.fields["fate"].set_hint(LOST_HINT if lost else "")

    def submit(self) -> None:
        """Put it on record."""
        on, fate, put_back = self.on.day(), self.fate.value(), self.put_back.isChecked()
        said = "came back" if fate is Fate.RETURNED else "is lost"
        self.do(
            lambda bank: packing.come_back(bank, self._id, on, fate, put_back=put_back),
            f"The parcel to {self._who} {said}.",
        )


class PaymentDialog(FormDialog):
    """Puts on record what was paid for an order, or given back."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, request_id: int) -> None:
        super().__init__(context, parent, "Payment", "Put on record", width=480)
        self._id = request_id
        self.way: Choice[str] = Choice([("They paid", PAID), ("Money was given back", BACK)])
        self.sum, self.on, self.note = NumberEdit(), DayEdit(context.today()), QLineEdit()
        self.form.add("way", "&What happened", self.way)
        self.form.add("cents", "&Sum", self.sum)
        self.form.add("on", "&Day", self.on)
        self.form.add("note", "&Note", self.note)
        self.go.setEnabled(False)
        context.read(lambda bank: _account(bank, request_id), self._describe)

    def _describe(self, found: tuple[str, Account]) -> None:
        who, account = found
        self.say_about(f"{who}: {', '.join(f'{word.lower()} {amount}' for word, amount in account.sums())}.")
        if account.owed:
            self.sum.set_value(account.owed / 100)
        self.go.setEnabled(True)

    def submit(self) -> None:
        """Put it on record."""
        paid = cents(self.sum, "cents")
        if paid < 0:
            raise Refusal("Write the sum without a sign, and choose what happened.", field="cents")
        signed, on, note = paid if self.way.value() == PAID else -paid, self.on.day(), self.note.text()
        self.do(lambda bank: jobs.pay(bank, self._id, signed, on, note), f"On record: {money(paid, '')}.")


def _account(bank: Bank, request_id: int) -> tuple[str, Account]:
    found = jobs.account(bank, request_id)
    if found is None:
        raise Refusal("This exchange asks for no money.")
    return queries.request(bank, request_id).contact.name, found
