"""A germination test on record: what was counted, and whether the forecast goes by it."""

from __future__ import annotations

from functools import partial

from PySide6.QtWidgets import QWidget

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.dates import day_label
from sporebank.core.records import Test
from sporebank.core.tolerance import agreement
from sporebank.formats.tables import load_tolerance
from sporebank.jobs import testing
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.widgets.choice import WordChoice

REASONS = ("Mould on the dishes", "Sown too thick to count", "The counts differ too much", "Counted too early")


class TestDialog(FormDialog):
    """Leave a test out of the forecast with a reason, or take it back in."""

    __test__ = False  # pytest must not take it for a test of ours

    def __init__(self, context: Context, parent: QWidget | None = None, *, test_id: int) -> None:
        super().__init__(context, parent, "A test", "Leave it out")
        self._id, self._left_out = test_id, False
        self.reason = WordChoice(REASONS)
        self.reason.setCompleter(None)  # type: ignore[arg-type]  # Qt takes none; a reason stays as it is typed
        hint = "It stays on record; the forecast no longer goes by it."
        self.form.add("reason", "&Why it is left out", self.reason, hint)
        self.reason.setFocus()
        context.read(lambda bank: _read(bank, test_id), self._show)

    def _show(self, found: tuple[str, str]) -> None:
        said, why = found
        self._left_out = bool(why)
        self.say_about(said)
        self.form.setVisible(not why)
        if why:
            self.go.setText("Take it back in")
            self.go.setFocus()

    def submit(self) -> None:
        """Leave the test out, or take it back in."""
        if self._left_out:
            self.do(partial(testing.take_back_in, test_id=self._id), "The forecast goes by the test again.")
        else:
            job = partial(testing.leave_out, test_id=self._id, reason=self.reason.text())
            self.do(job, "The forecast no longer goes by the test.")


def _read(bank: Bank, test_id: int) -> tuple[str, str]:
    test = queries.test(bank, test_id)
    return (told(test), test.left_out) if test else ("This test has been taken back.", "")


def told(test: Test) -> str:
    """Return a test in lines: when, what was counted, whether the counts agree, why it is left out."""
    counts = ", ".join(f"{one.germinated} of {one.sown}" for one in test.replicates)
    found = agreement(test.replicates, load_tolerance())
    lines = [
        f"Sown {day_label(test.sown_on)}, counted {day_label(test.counted_on)}",
        f"{counts} germinated",
        found.sentence if found else "",
        f"Left out: {test.left_out}" if test.left_out else "",
    ]
    return "\n".join(line for line in lines if line)
