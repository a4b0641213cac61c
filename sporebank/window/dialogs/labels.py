"""Labels: which sheet, from which cell, how many of each; every problem is told before anything is printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QScrollArea, QVBoxLayout, QWidget

from sporebank.bank.bank import Bank
from sporebank.core.layout import SHEET_SETTINGS, Kind
from sporebank.core.papers import Label
from sporebank.core.sheets import Sheet
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context
from sporebank.window.dialogs.paper import PaperDialog
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.simple import label

PAUSE_MS = 150
SIDE_WIDTH = 282
SHOWN_PROBLEMS = 8


@dataclass(frozen=True)
class Planned:
    """A rendered sheet of labels and the sentences about what will not be printed as asked."""

    pdf: bytes
    problems: tuple[str, ...]
    pages: int


class LabelsDialog(PaperDialog):
    """Plans labels on a sheet and shows them.

    Args:
        context: the open bank.
        parent: the window.
        title: what is labelled, such as “Vial labels”.
        kind: what kind of label; the sheets that suit it are offered, the keeper's setting first.
        gather: reads the labels in the order to print them.
        file_name: proposed for saving.
    """

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        title: str,
        kind: Kind,
        gather: Callable[[Bank], Sequence[Label]],
        file_name: str,
    ) -> None:
        self._kind = kind
        setting = next((name for name, of in SHEET_SETTINGS.items() if of is kind), "")
        super().__init__(
            context,
            parent,
            title=title,
            file_name=file_name,
            gather=lambda bank: (tuple(gather(bank)), getattr(bank.settings, setting, "")),
            render=lambda records: b"",
        )
        self.sheet: Choice[Sheet] = Choice()
        self.first, self.copies = Count(1, 1, 1), Count(1, 100, 1)
        self.form = Form()
        self.form.add("sheet", "&Sheet or roll", self.sheet, "By its dimensions in millimetres.")
        self.form.add("first_cell", "&First free label", self.first, "Counted along the rows, so a used sheet goes on.")
        self.form.add("copies", "&Copies of each", self.copies)
        self.problems = label(role="warn", wrap=True)
        self.problems.hide()
        self.count = label(role="mute", wrap=True)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self.make)
        side = QWidget()
        side.setObjectName("page")
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 12, 0)
        for widget in (self.form, self.count, self.problems, self._true_size()):
            column.addWidget(widget)
        column.addStretch(1)
        scroll = QScrollArea(widgetResizable=True)  # many problems must not push the buttons off the screen
        scroll.setObjectName("scroll")
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setFixedWidth(SIDE_WIDTH)
        scroll.setWidget(side)
        self.middle.insertWidget(0, scroll)

    def _true_size(self) -> QWidget:
        return label("Print at 100 %, without “fit to page”, or the labels drift down the sheet.", "small", wrap=True)

    def _gathered(self, records: tuple[tuple[Label, ...], str]) -> None:
        from sporebank.formats.label_layouts import sheets_for

        self.records, wanted = records
        sheets = sheets_for(self._kind)
        self.sheet.offer([(sheet.title, sheet) for sheet in sheets])
        self.sheet.set_value(next((sheet for sheet in sheets if sheet.id == wanted), sheets[0]))
        self.sheet.currentIndexChanged.connect(self._new_sheet)
        for count in (self.first, self.copies):
            count.valueChanged.connect(self._count_changed)
        self._new_sheet()

    def _new_sheet(self) -> None:
        cells = self.sheet.value().cells
        self.first.setMaximum(cells)
        self.first.setEnabled(cells > 1)
        self.make()

    def _count_changed(self) -> None:
        self.await_wish()
        self._pause.start()

    def make(self) -> None:
        """Plan and render the labels anew."""
        labels, kind, sheet = self.records, self._kind, self.sheet.value()
        first, copies, title = self.first.value() - 1, self.copies.value(), self.windowTitle()
        self.form.clear_errors()
        self.work(
            "Setting the labels",
            lambda report, cancelled: plan(labels, kind, sheet, first, copies, title, report, cancelled),
            self._planned,
        )

    def _planned(self, planned: Planned) -> None:
        count = len(self.records) * self.copies.value()
        labels = "1 label" if count == 1 else f"{count:,} labels"
        pages = "1 page" if planned.pages == 1 else f"{planned.pages:,} pages"
        self.count.setText(f"{labels} on {pages}, in the order of their places.")
        shown = planned.problems[:SHOWN_PROBLEMS]
        more = len(planned.problems) - len(shown)
        self.problems.setText("\n".join(shown) + (f"\nand {more} more." if more else ""))
        self.problems.setVisible(bool(shown))
        self._made(planned.pdf)


def plan(
    labels: Sequence[Label],
    kind: Kind,
    sheet: Sheet,
    first: int,
    copies: int,
    title: str,
    report: Report,
    cancelled: Cancelled,
) -> Planned:
    """Place labels and render them."""
    from sporebank.documents.labels import LabelPrint, preflight, render
    from sporebank.formats.label_layouts import layout_for

    job = LabelPrint(labels, layout_for(kind, sheet), sheet, first_cell=first, copies=copies)
    problems = tuple(f"{one.called}: {one.sentence}" for one in preflight(job, cancelled=cancelled))
    return Planned(
        render(job, title, report=lambda done, of: report(done, of, ""), cancelled=cancelled), problems, job.pages
    )
