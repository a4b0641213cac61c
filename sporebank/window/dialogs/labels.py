"""Labels: which kind and layout, on which sheet, from which label on; every problem is told before printing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QDialogButtonBox, QPushButton, QScrollArea, QVBoxLayout, QWidget

from sporebank.bank.bank import Bank
from sporebank.bank.queries.labels import PrintRun
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.layout import SHEET_SETTINGS, Kind, Layout, choose, fits
from sporebank.core.papers import Label
from sporebank.core.records import Changed
from sporebank.core.sheets import PrinterFit, Sheet
from sporebank.jobs import labels as job
from sporebank.jobs.label_stock import Printer, Stock, stock
from sporebank.window.background import Cancelled, Report
from sporebank.window.context import Context
from sporebank.window.dialogs.paper import PaperDialog
from sporebank.window.widgets.choice import Choice, Count
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.sheet_picture import SheetPicture
from sporebank.window.widgets.simple import label

PAUSE_MS = 150
SIDE_WIDTH = 282
SHOWN_PROBLEMS = 8
BY_PLACE = ("vial", "place")  # others come by code, number or name
STOCK_KINDS = {"layout", "sheet", "printer"}
NO_PRINTER = Printer(0, "Any printer, 300 dpi", PrinterFit())


@dataclass(frozen=True)
class Planned:
    """A rendered sheet of labels, the sentences about what will not be printed as asked, and of how many labels."""

    pdf: bytes
    problems: tuple[str, ...]
    wrong: int
    count: int
    pages: int

    @property
    def said(self) -> str:
        """How many labels there are, in words."""
        pages = counted(self.pages, "page")
        return f"{counted(self.count, 'label')} on {pages}"

    @property
    def warning(self) -> str:
        """What is wrong, in a line; a single problem in its own words."""
        if len(self.problems) <= 1:
            return "".join(self.problems)
        return f"{counted(self.wrong, 'label')} will not print as asked; what is wrong is listed below."


@dataclass(frozen=True)
class Gathered:
    """The labels, what carries them, what there is to print on, and the sheet of the keeper's setting."""

    ids: tuple[int, ...]
    labels: tuple[Label, ...]
    stock: Stock
    sheet: str


class LabelsDialog(PaperDialog):
    """Plans labels on a sheet, shows them, and puts them on record once they are let out.

    Args:
        context: the open bank.
        parent: the window.
        title: what is labelled, such as “Vial labels”.
        kind: what kind of label is usual; those the same things may carry are offered as well.
        find: reads what carries the labels.
        file_name: proposed for saving.
        again: the run that is printed again; its kind, layout, sheet and copies are chosen first.
    """

    exact = True

    def __init__(
        self,
        context: Context,
        parent: QWidget | None = None,
        *,
        title: str,
        kind: Kind,
        find: Callable[[Bank], Sequence[int]],
        file_name: str,
        again: PrintRun | None = None,
    ) -> None:
        self._recorded = self._allowed = b""
        self.planned = Planned(b"", (), 0, 0, 0)
        self._again = again
        setting = next((name for name, of in SHEET_SETTINGS.items() if of is kind), "")

        def gather(bank: Bank) -> Gathered:
            from sporebank.jobs import label_records

            ids = tuple(find(bank))
            found = label_records.gather(bank, kind, ids)
            return Gathered(ids, found, stock(bank), getattr(bank.settings, setting, ""))

        super().__init__(context, parent, title=title, file_name=file_name, gather=gather, render=lambda records: b"")
        self.kind: Choice[Kind] = Choice([(str(one).capitalize(), one) for one in job.alike(kind)])
        self.sheet: Choice[Sheet] = Choice()
        self.layout_choice: Choice[Layout] = Choice()
        self.printer: Choice[Printer] = Choice()
        self.first, self.copies = SheetPicture(), Count(1, 100, 1)
        self.form = Form()
        self.form.add("kind", "&Kind", self.kind).setVisible(len(job.alike(kind)) > 1)
        self.form.add("sheet", "&Sheet or roll", self.sheet, "By its dimensions in millimetres.")
        self.form.add("layout", "&Layout", self.layout_choice)
        self.form.add("first_cell", "&First free label", self.first, "Click, or move with the arrow keys.")
        self.form.add("copies", "&Copies of each", self.copies)
        self.form.add("printer", "Prin&ter", self.printer)
        self.set_up = QPushButton("Set &up…")
        self.set_up.setToolTip("Layouts, sheets and printers of your own")
        self.set_up.setAutoDefault(False)
        self.set_up.clicked.connect(lambda: context.dialog("label_stock"))
        self.foot.addButton(self.set_up, QDialogButtonBox.ButtonRole.ResetRole)
        self.count, self.problems = label(role="mute", wrap=True), label(wrap=True)
        self.instead, self.warning = label(role="warn", wrap=True), label(role="warn", wrap=True)
        self.instead.hide()
        self._show_plan()
        self._pause = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._pause.timeout.connect(self.make)
        self.middle.insertWidget(0, self._side())

    def _side(self) -> QWidget:
        """Return what is chosen; how many labels there are and whether they are sound is always in sight above it."""
        side = QWidget()
        side.setFixedWidth(SIDE_WIDTH)
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (self.count, self.instead, self.warning):
            column.addWidget(widget)
        column.addWidget(self._choices(), 1)
        return side

    def _choices(self) -> QScrollArea:
        page = QWidget()
        page.setObjectName("page")
        column = QVBoxLayout(page)
        column.setContentsMargins(0, 0, 12, 0)
        for widget in (self.form, self.problems):
            column.addWidget(widget)
        column.addStretch(1)
        scroll = QScrollArea(widgetResizable=True)  # many problems must not push the buttons off the screen
        scroll.setObjectName("scroll")
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(page)
        return scroll

    def _gathered(self, records: Gathered) -> None:
        self.records = records
        for choice, changed in (
            (self.kind, self._new_kind),
            (self.sheet, self._new_sheet),
            (self.layout_choice, self.make),
            (self.printer, self.make),
        ):
            choice.edited.connect(changed)
        self.first.edited.connect(self._count_changed)
        self.copies.valueChanged.connect(self._count_changed)
        self.context.changed.connect(self._hear)
        if self._again is not None:
            self.kind.set_value(Kind(self._again.kind))
            self.copies.setValue(self._again.copies)
        self._new_kind()
        if self._again is not None:
            self._say_instead(self._again)

    def _say_instead(self, run: PrintRun) -> None:
        """Say what a run that is printed again cannot be printed with any more."""
        sheet, layout = self.sheet.chosen(), self.layout_choice.chosen()
        gone = ["sheet"] * (sheet is not None and sheet.id != run.sheet)
        gone += ["layout"] * (layout is not None and layout.id != run.layout)
        now = (
            "another is chosen. Look whether it suits"
            if len(gone) == 1
            else "others are chosen. Look whether they suit"
        )
        self.instead.setText(f"The {' and the '.join(gone)} of that run cannot be had any more; {now}.")
        self.instead.setVisible(bool(gone))

    def _hear(self, changed: Changed) -> None:
        if self.isVisible() and changed.kinds & STOCK_KINDS:
            self.context.read(stock, self._restock)

    def _restock(self, found: Stock) -> None:
        """Offer what there is by now; what is chosen stays chosen where it is still there."""
        sheet, layout, first = self.sheet.chosen(), self.layout_choice.chosen(), self.first.value()
        self.records = replace(self.records, stock=found)
        chosen = self.printer.value().id
        self._offer_printers(next((one.name for one in found.printers if one.id == chosen), ""))
        self._offer_sheets(*([sheet.id] if sheet else []))
        same = self.sheet.chosen()
        kept = sheet is not None and same is not None and sheet.id == same.id
        self._offer_layouts(*([layout.id] if layout else []))
        if same is not None:
            self.first.show_sheet(same, first if kept and first < same.cells else found.next_cells.get(same.id, 0))
        self.make()

    def _remembered(self, what: str) -> str:
        if self._again is not None and self._again.kind == self.kind.value() and what in ("sheet", "layout"):
            return str(getattr(self._again, what))
        return self.context.state.get(f"labels/{self.kind.value()}/{what}", "")

    def _new_kind(self) -> None:
        """Offer what there is for the kind, what was used last chosen."""
        self._offer_printers(self._remembered("printer"))
        self._offer_sheets(self.records.sheet, self._remembered("sheet"))
        self._new_sheet()

    def _new_sheet(self) -> None:
        """Offer the layouts that fit the sheet, and go to its first free label."""
        self._offer_layouts(self._remembered("layout"))
        sheet = self.sheet.chosen()
        if sheet is not None:
            self.first.show_sheet(sheet, self.records.stock.next_cells.get(sheet.id, 0))
        self.make()

    def _offer_printers(self, wanted: str) -> None:
        printers = (NO_PRINTER, *self.records.stock.printers)
        self.printer.offer([(one.name, one) for one in printers])
        for one in printers:
            if one.name == wanted:
                self.printer.set_value(one)

    def _offer_sheets(self, *wanted: str) -> None:
        """Offer the sheets that suit the kind, and all of the keeper's own, with the last of those wanted chosen."""
        found, kind = self.records.stock, self.kind.value()
        self.sheet.offer([(one.title, one) for one in found.sheets_for(kind)])
        for sheet_id in wanted:
            if (sheet := found.sheet(sheet_id)) is not None:
                self.sheet.set_value(sheet)

    def _offer_layouts(self, *wanted: str) -> None:
        """Offer the layouts that fit the sheet, the largest first."""
        found, kind, sheet = self.records.stock, self.kind.value(), self.sheet.chosen()
        layouts = [one for one in found.layouts if one.kind is kind and sheet is not None and fits(one, sheet)]
        layouts.sort(key=lambda one: -one.area)
        self.layout_choice.offer([])
        self.layout_choice.offer([(one.title, one) for one in layouts])
        for layout_id in wanted:
            if (layout := found.layout(layout_id)) is not None:
                self.layout_choice.set_value(layout)

    def _count_changed(self) -> None:
        self.await_wish()
        self._pause.start()

    def make(self) -> None:
        """Plan and render the labels anew, or say what is missing."""
        self._pause.stop()  # what waits there is in this rendering; a second would take back the ways out for nothing
        labels, layout, sheet, fit = self.records.labels, self.layout_choice.chosen(), self.sheet.chosen(), self.printer
        first, copies, title, printer = self.first.value(), self.copies.value(), self.windowTitle(), fit.value().fit
        self.first.show_count(len(labels) * copies)
        self.form.clear_errors()
        if sheet is None or layout is None:
            self._lack(sheet)
            return
        self.work(
            "Setting the labels",
            lambda report, cancelled: plan(labels, layout, sheet, printer, first, copies, title, report, cancelled),
            self._planned,
        )

    def _lack(self, sheet: Sheet | None) -> None:
        """Say that there is nothing to print on, and what to do."""
        self.await_wish()
        self.preview.show_pdf(b"")
        self.planned = Planned(b"", (), 0, 0, 0)
        self._show_plan()
        kind = self.kind.value()
        if sheet is None:
            self._failed(Refusal(f"There is no sheet for {kind} labels. Set one up."))
            return
        try:
            choose(self.records.stock.layouts, kind, sheet)
        except Refusal as refusal:
            self._failed(Refusal(f"{refusal} Or set up a layout that fits these."))

    def _planned(self, planned: Planned) -> None:
        self.planned = planned
        self._show_plan()
        self._made(planned.pdf)

    def _show_plan(self) -> None:
        planned = self.planned
        shown = planned.problems[:SHOWN_PROBLEMS] if len(planned.problems) > 1 else ()
        more = len(planned.problems) - SHOWN_PROBLEMS
        self.problems.setText("\n".join(shown) + (f"\nand {more:,} more." if more > 0 else ""))
        in_order = planned.count > 1 and job.thing_of(self.kind.value()) in BY_PLACE
        count = f"{planned.said}{', in the order of their places' if in_order else ''}." if planned.count else ""
        for widget, text in ((self.count, count), (self.warning, planned.warning)):
            widget.setText(text)
            widget.setVisible(bool(text))
        self.problems.setVisible(bool(shown))

    def may_go_out(self) -> bool:
        """Ask, once for the same pages, about labels that will not be printed as asked."""
        planned = self.planned
        if planned.problems and self._allowed != self.pdf:
            first, *others = planned.problems
            question = f"{planned.wrong:,} of {counted(planned.count, 'label')} will not print as asked: {first}"
            if not self.context.tell.ask(question, ["Print all the same"], details="\n".join(others)):
                return False
            self._allowed = self.pdf
        return True

    def exact_on(self) -> str:
        """Return the printer chosen."""
        return self.printer.value().name

    def went_out(self) -> None:
        """Put the labels on record as printed, once for the same pages, and remember what was chosen."""
        if self._recorded == self.pdf:
            return
        self._recorded = self.pdf
        kind, layout, sheet = self.kind.value(), self.layout_choice.value(), self.sheet.value()
        for what, text in (("sheet", sheet.id), ("layout", layout.id), ("printer", self.printer.value().name)):
            self.context.state.put(f"labels/{kind}/{what}", text)
        run = job.Run(kind, self.records.ids, layout.id, sheet, self.first.value(), self.copies.value())
        said = f"{job.count_words(kind, len(run.ids))} on record as printed."
        self.context.do(
            lambda bank: job.put_on_record(bank, run), lambda _: self.context.done(said), self._not_recorded
        )

    def _not_recorded(self, failure: Exception) -> None:
        """Say why not, and try again with the next way out."""
        self._recorded = b""
        self._failed(failure)


def plan(
    labels: Sequence[Label],
    layout: Layout,
    sheet: Sheet,
    printer: PrinterFit,
    first: int,
    copies: int,
    title: str,
    report: Report,
    cancelled: Cancelled,
) -> Planned:
    """Place labels and render them."""
    from sporebank.documents.labels import LabelPrint, preflight, render

    wish = LabelPrint(labels, layout, sheet, printer, first, copies)
    found = preflight(wish, cancelled=cancelled)
    return Planned(
        render(wish, title, report=lambda done, of: report(done, of, ""), cancelled=cancelled),
        tuple(f"{one.called}: {one.sentence}" for one in found),
        len({one.label for one in found}) * copies,
        wish.count,
        wish.pages,
    )
