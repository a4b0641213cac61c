"""Putting on record what befell vials, or everything in a place, as when a freezer failed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.errors import Refusal
from sporebank.core.records import MishapKind, VialFilter
from sporebank.jobs import mishaps
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.dialogs.vials import described
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.day import DayEdit

WHY = (
    "No forecast knows what this does to spore. Each of these vials will carry a caution until it is tested after that "
    "day."
)


class MishapDialog(FormDialog):
    """What happened, when, and a word on it; for chosen vials, or for all in a place."""

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        vial_ids: Sequence[int] = (),
        place_id: int | None = None,
    ) -> None:
        super().__init__(context, parent, "What happened", "Put on record")
        self._ids = tuple(vial_ids)
        self.kind: Choice[MishapKind] = Choice([(f"It {kind.value}", kind) for kind in MishapKind])
        self.day, self.note = DayEdit(), QLineEdit()
        self.day.set_value(context.today())
        self.form.add("kind", "&What happened", self.kind, WHY)
        self.form.add("on", "&On", self.day)
        self.form.add("note", "&Note", self.note, "Such as: power cut, about ten hours.")
        self.go.setEnabled(False)
        context.read(lambda bank: _about(bank, self._ids, place_id), lambda found: self._show(*found))

    def _show(self, ids: Sequence[int], about: str) -> None:
        self._ids = tuple(ids)
        self.say_about(about)
        self.go.setEnabled(bool(ids))

    def submit(self) -> None:
        """Put it on record."""
        day = self.day.value("on")
        if day is None:
            raise Refusal("Give the day on which it happened.", field="on")
        job = partial(mishaps.record, vial_ids=self._ids, kind=self.kind.value(), on=day, note=self.note.text())
        self.do(job, "It is on record; the forecasts carry a caution.")


def _about(bank: Bank, vial_ids: Sequence[int], place_id: int | None) -> tuple[Sequence[int], str]:
    if place_id is not None:
        ids = queries.vial_ids(bank, VialFilter(place_id=place_id), "place", False)
        _, path = queries.place(bank, place_id)
        count = f"{len(ids):,} vials" if len(ids) != 1 else "one vial"
        return ids, f"{path}: {count}" if ids else f"No vial lies in {path}."
    if len(vial_ids) == 1:
        return vial_ids, described(queries.vial_row(bank, vial_ids[0]))
    return vial_ids, f"{len(vial_ids):,} vials"
