"""A paper that somebody holds: an import permit, or an agreement of a garden."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.core.errors import Refusal
from sporebank.core.permits import Permit, PermitKind
from sporebank.jobs import people
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.day import DayEdit


class PermitDialog(FormDialog):
    """The fields of one paper.

    Args:
        context: the open bank.
        parent: the window.
        permit: the paper, a new one where its id is 0.
        then: is called once it is kept.
    """

    def __init__(
        self, context: Context, parent: QWidget | None = None, *, permit: Permit, then: Callable[[], object]
    ) -> None:
        super().__init__(context, parent, "Paper", "Keep", columns=2, width=520)
        self._permit, self._then = permit, then
        self.kind: Choice[PermitKind] = Choice([(kind.value.capitalize(), kind) for kind in PermitKind])
        self.kind.set_value(permit.kind)
        self.number, self.note = QLineEdit(permit.number), QLineEdit(permit.note)
        self.expires = DayEdit(permit.expires)
        self.labels = QLineEdit("" if permit.labels_left is None else str(permit.labels_left))
        self.form.add("kind", "&Kind", self.kind)
        self.form.add("number", "&Number", self.number)
        self.form.add("expires", "&Runs out on", self.expires, "Left empty, it does not run out.")
        self.form.add("labels_left", "&Labels left", self.labels, "One-use labels; one goes with each parcel abroad.")
        self.form.add("note", "No&te", self.note, span=2)
        self.number.setFocus()

    def submit(self) -> None:
        """Keep the paper."""
        written = self.labels.text().strip()
        if written and not (written.isascii() and written.isdigit() and len(written) <= 6):
            raise Refusal("Write how many labels are left as a whole number, or nothing.", field="labels_left")
        permit = Permit(
            self._permit.id,
            self._permit.contact_id,
            self.kind.value(),
            self.number.text(),
            self.expires.value("expires"),
            int(written) if written else None,
            self.note.text(),
        )

        def kept(_: int) -> str:
            self._then()
            return f"{permit.kind.value.capitalize()} {permit.number.strip()} is kept."

        self.do(partial(people.save_permit, permit=permit), kept)
