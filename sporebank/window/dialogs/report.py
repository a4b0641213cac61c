"""The batch report, on the paper the keeper likes."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from sporebank.bank.bank import Bank
from sporebank.core.report import BatchReport
from sporebank.window.context import Context
from sporebank.window.dialogs.paper import PaperDialog
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.field import Form

A4, A5 = "A4", "A5"


class ReportDialog(PaperDialog):
    """Shows a batch report on A4 or A5; what was chosen last is chosen again."""

    def __init__(
        self, context: Context, parent: QWidget | None = None, *, gather: Callable[[Bank], BatchReport]
    ) -> None:
        self.paper: Choice[str] = Choice([("A4, upright", A4), ("A5, upright", A5)])
        self.paper.set_value(context.state.get("report/paper", A4))
        super().__init__(
            context, parent, title="Batch report", file_name="batch-report.pdf", gather=gather, render=lambda _: b""
        )
        self.form = Form()
        self.form.add("paper", "&Paper", self.paper)
        self.paper.edited.connect(self._choose)
        side = QVBoxLayout()
        side.addWidget(self.form, 0, Qt.AlignmentFlag.AlignTop)
        side.addStretch(1)
        self.middle.insertLayout(0, side)

    def _choose(self) -> None:
        self.context.state.put("report/paper", self.paper.value())
        self.make()

    def make(self) -> None:
        """Set the report on the paper chosen and show the pages."""
        records, paper = self.records, self.paper.value()
        self.work("Setting the report", lambda report, cancelled: _render(records, paper), self._made)


def _render(report: BatchReport, paper: str) -> bytes:
    from sporebank.documents import report as document
    from sporebank.documents import style

    return document.render(report, style.ON_A5 if paper == A5 else style.ON_A4)
