"""Acknowledging a caution of a parcel, with a note or the number of a paper."""

from __future__ import annotations

from functools import partial

from PySide6.QtWidgets import QPlainTextEdit, QWidget

from sporebank.jobs import parcel_checks
from sporebank.jobs.parcel_checks import Check
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog


class HeedDialog(FormDialog):
    """One caution, and what answers it.

    Args:
        context: the open bank.
        parent: the window.
        request_id: whose parcel it is.
        check: the caution, with its answer so far.
    """

    def __init__(self, context: Context, parent: QWidget | None = None, *, request_id: int, check: Check) -> None:
        super().__init__(context, parent, check.caution.title, "Acknowledge", width=560)
        self._id, self._check = request_id, check
        self.say_about(check.caution.sentence)
        self.note = QPlainTextEdit(check.answer)
        self.note.setTabChangesFocus(True)
        self.note.setFixedHeight(self.note.fontMetrics().lineSpacing() * 3 + 16)
        self.form.add("note", "&Paper or note", self.note, check.caution.settles)
        self.note.setFocus()

    def submit(self) -> None:
        """Keep the answer."""
        caution = self._check.caution
        self.do(
            partial(parcel_checks.answer, request_id=self._id, key=caution.key, note=self.note.toPlainText()),
            f"{caution.title}: acknowledged.",
        )
