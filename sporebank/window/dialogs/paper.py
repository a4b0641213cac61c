"""Any paper of the bank, seen before it is saved, opened or printed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar, TypeVar

from PySide6.QtWidgets import QDialog, QDialogButtonBox, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from sporebank.bank.bank import Bank
from sporebank.core.errors import Refusal
from sporebank.window import paper_out
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context
from sporebank.window.dialogs.room import resize_within
from sporebank.window.tell import tell_failure
from sporebank.window.widgets.preview import Preview
from sporebank.window.widgets.simple import label

T = TypeVar("T")
TRUE_SIZE = "Print at 100 % or “actual size”, not “fit to page”: else what is printed drifts off its place."


class PaperDialog(QDialog):
    """Gathers records in the lane, renders them beside it, shows the pages and lets them out.

    Args:
        context: the open bank.
        parent: the window.
        title: what the paper is, such as “Packing list”.
        file_name: proposed for saving; it ends in `.pdf`.
        gather: reads the records from the bank.
        render: turns the records into a PDF.
        also: more files made from the same records: the text of a button, a file name, and what writes it.
    """

    exact: ClassVar[bool] = False
    """Whether a tenth of a millimetre matters; then the page must be printed at its true size."""

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        title: str,
        file_name: str,
        gather: Callable[[Bank], Any],
        render: Callable[[Any], bytes],
        also: tuple[tuple[str, str, Callable[[Any], bytes]], ...] = (),
    ) -> None:
        super().__init__(parent)
        self.context, self.file_name, self._render = context, file_name, render
        self.pdf = b""
        self._wish = 0
        self.records: Any = None
        self.setWindowTitle(title)
        resize_within(self, 860, 620)
        self.preview = Preview(context)
        self.message = label(wrap=True)
        self.message.hide()
        self.true_size = label(TRUE_SIZE, "warn", wrap=True)
        if not self.exact:
            self.true_size.hide()
        self.middle = QHBoxLayout()
        self.middle.addWidget(self.preview, 1)
        layout = QVBoxLayout(self)
        layout.addWidget(self.message)
        layout.addLayout(self.middle, 1)
        layout.addWidget(self.true_size)
        self.foot = self._foot(also)
        layout.addWidget(self.foot)
        context.read(gather, self._gathered, self._failed)

    def _foot(self, also: tuple[tuple[str, str, Callable[[Any], bytes]], ...]) -> QDialogButtonBox:
        foot = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        foot.rejected.connect(self.reject)
        self.save_button = QPushButton("Save PDF…")
        self.save_button.setProperty("primary", True)
        ways: list[tuple[QPushButton, Callable[[], object]]] = [
            (self.save_button, lambda: paper_out.save(self.context, self, self.pdf, self.file_name)),
            (QPushButton("Open"), lambda: paper_out.open_outside(self.pdf, self.file_name)),
            (QPushButton("Print…"), self._print),
        ]
        for text, name, write in also:
            ways.append((QPushButton(text), self._other(name, write)))
        self._ways = [button for button, _ in ways]
        for button, do in ways:
            button.setEnabled(False)
            button.clicked.connect(lambda _=False, do=do: self._let_out(do))
            foot.addButton(button, QDialogButtonBox.ButtonRole.ActionRole)
        return foot

    def _other(self, name: str, write: Callable[[Any], bytes]) -> Callable[[], object]:
        return lambda: paper_out.save(self.context, self, write(self.records), name)

    def _print(self) -> None:
        title = self.windowTitle()
        paper_out.print_out(self.context, self, self.pdf, title, self.went_out, exact_on=self.exact_on())

    def exact_on(self) -> str:
        """Return the printer on which the size must be exact, "" where it need not be."""
        return ""

    def may_go_out(self) -> bool:
        """Return whether the paper may be let out as it is; a paper with faults asks here."""
        return True

    def went_out(self) -> None:
        """Hear that the paper was saved or sent to the printer."""

    def _let_out(self, do: Callable[[], object]) -> None:
        if not self.may_go_out():
            return
        try:
            done = do()
        except Refusal as refusal:
            self._failed(refusal)
            return
        if isinstance(done, Path):
            self._say("strong", f"Saved as {done}.")
            self.went_out()

    def _gathered(self, records: Any) -> None:  # noqa: ANN401 - whatever `gather` returned
        self.records = records
        self.make()

    def make(self) -> None:
        """Render the records and show the pages."""
        records, render = self.records, self._render
        self.work("Making the paper", lambda report, cancelled: render(records), self._made)

    def work(self, title: str, fn: Callable[[Report, Cancelled], T], then: Callable[[T], object]) -> None:
        """Work beside the lane; until the last answer has come, nothing older may be let out."""
        self.await_wish()
        wish = self._wish

        def answered(found: T) -> None:
            if wish == self._wish:
                then(found)

        self.context.work(title, fn, answered, self._failed)

    def await_wish(self) -> None:
        """Take back the ways out, since what is shown is not what is wished any more."""
        self._wish += 1
        for button in self._ways:
            button.setEnabled(False)

    def _made(self, pdf: bytes) -> None:
        self.pdf = pdf
        self.message.hide()
        self.preview.show_pdf(pdf)
        for button in self._ways:
            button.setEnabled(True)

    def _failed(self, failure: Exception) -> None:
        if not isinstance(failure, Refusal):
            tell_failure(self.context.tell, failure)
            return
        self._say("warn", str(failure))

    def _say(self, role: str, text: str) -> None:
        self.message.setProperty("role", role)
        self.message.style().polish(self.message)
        self.message.setText(text)
        self.message.show()
