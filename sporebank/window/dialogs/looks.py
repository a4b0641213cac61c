"""Putting on record what is seen in pots."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtWidgets import QLineEdit, QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import codes, names
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.looks import LookKind
from sporebank.jobs.looks import MOST_SPORELINGS, LookForm, record
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.scan_strip import LOOKS, SEEN_LAST
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.day import DayEdit

BEGINNERS = "Prothalli are easily taken for moss or liverwort. Do not throw them away."
"""Common practice, no source."""


class LookDialog(FormDialog):
    """What is seen, on which day, how many sporelings in a pot, and a word on it."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, pot_ids: Sequence[int]) -> None:
        super().__init__(context, parent, "Record a look", "Put on record")
        self._ids = tuple(pot_ids)
        self.what: Choice[LookKind] = Choice(LOOKS)
        self.what.set_value(context.state.get(SEEN_LAST, LookKind.FILM))
        self.on, self.note = DayEdit(context.today()), QLineEdit()
        self.count = Count(0, MOST_SPORELINGS, 0)
        self.count.setSpecialValueText("not counted")
        self.form.add("what", "&What is seen", self.what, BEGINNERS)
        self.form.add("on", "&Day", self.on)
        self.form.add("count", "How &many sporelings", self.count)
        self.form.add("note", "&Note", self.note)
        self.what.currentIndexChanged.connect(lambda _: self._show_count())
        self._show_count()
        self.go.setEnabled(False)
        context.read(lambda bank: _about(bank, self._ids), self._show)

    def _show(self, about: str) -> None:
        self.say_about(about)
        self.go.setEnabled(bool(about))

    def _counts(self) -> bool:
        return self.what.value() is LookKind.SPORELINGS and len(self._ids) == 1

    def _show_count(self) -> None:
        self.form.fields["count"].setVisible(self._counts())

    def submit(self) -> None:
        """Put it on record for every pot, or for none."""
        what = self.what.value()
        count = self.count.value() if self._counts() else 0
        form = LookForm(self._ids, self.on.day(), what, count or None, self.note.text())
        self.context.state.put(SEEN_LAST, what.value)
        pots = "1 pot" if len(self._ids) == 1 else f"{len(self._ids):,} pots"
        self.do(lambda bank: record(bank, form), f"On record: {what.value} in {pots}.")


def _about(bank: Bank, pot_ids: Sequence[int]) -> str:
    """Return what is looked at, of one pot with every look before."""
    pots = queries.pots_by_id(bank, pot_ids)
    if not pots:
        raise Refusal("These pots have been taken back meanwhile.")
    sowing = queries.sowing(bank, pots[0].sowing_id)
    sown = f"{names.text(sowing.name)}, sown {day_label(sowing.sown_on)}, {sowing.room}"
    if len(pots) == 1:
        return f"{codes.grouped(pots[0].code)} · {sown}\n{pots[0].story() or 'Not looked at yet.'}"
    count = f"All {len(pots)} pots" if len(pots) == len(sowing.pots) else f"{len(pots)} of {len(sowing.pots)} pots"
    return f"{count} · {sown}"
