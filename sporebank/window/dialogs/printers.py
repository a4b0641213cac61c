"""A printer of labels: its name and its numbers, its test page, and what was measured on that."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.sheets import CROSS, DPIS, RULER, PrinterFit, fitted_to_page
from sporebank.jobs.label_stock import Printer, keep_printer
from sporebank.window.context import Context
from sporebank.window.dialogs.form_dialog import FormDialog
from sporebank.window.dialogs.paper import PaperDialog
from sporebank.window.widgets.choice import Choice
from sporebank.window.widgets.editors import NumberEdit
from sporebank.window.widgets.field import Form
from sporebank.window.widgets.simple import label

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""The papers that the test page is drawn for, in mm (ISO 216; 8.5 by 11 inches)."""
SIDE_WIDTH = 250
STEPS = (
    "1.  Print it on plain paper.",
    "2.  Measure it with a steel rule, as it says.",
    "3.  Close this, and write what you measured under “Measured…”.",
)


def stretched(fit: PrinterFit) -> str:
    """Return in words how far a print is stretched: `100.81 % across, 100 % down`."""
    across, down = (round(scale * 100, 2) for scale in (fit.scale_x, fit.scale_y))
    return "not stretched" if across == down == 100 else f"{across:g} % across, {down:g} % down"


class PrinterDialog(FormDialog):
    """A new printer, or one that is renamed and set by hand."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, printer: Printer | None = None) -> None:
        title = "New printer" if printer is None else f"Change {printer.name}"
        super().__init__(context, parent, title, "Keep", columns=2, width=520)
        self._printer = printer or Printer(0, "", PrinterFit())
        fit = self._printer.fit
        self.name = QLineEdit(self._printer.name)
        self.name.setPlaceholderText("such as: Office, laser")
        self.dpi: Choice[int] = Choice([(f"{dpi} dpi", dpi) for dpi in DPIS])
        self.dpi.set_value(fit.dpi)
        self.numbers = {name: NumberEdit() for name in ("across", "down", "scale_x", "scale_y")}
        for name, number in self.numbers.items():
            number.said.hide()
            number.set_value(getattr(fit, name))
        self.say_about("A test page works the four numbers out; they may be written here by hand as well.")
        self.form.add("name", "&Name", self.name, "As you call it.")
        self.form.add("dpi", "&Fineness", self.dpi, "300 dpi suits finer printers as well.")
        self.form.add("across", "Move to the &right (mm)", self.numbers["across"], "Less than 0 moves to the left.")
        self.form.add("down", "Move &down (mm)", self.numbers["down"], "Less than 0 moves up.")
        self.form.add("scale_x", "Scale &across", self.numbers["scale_x"], "1 changes nothing; 1.01 makes 100 mm 101.")
        self.form.add("scale_y", "Scale d&own", self.numbers["scale_y"])

    def submit(self) -> None:
        """Keep the printer."""
        written = {name: number.value(name) for name, number in self.numbers.items()}
        for name, value in written.items():
            if value is None:
                raise Refusal(f"Give a number; {1 if 'scale' in name else 0} changes nothing.", field=name)
        fit = PrinterFit(**written, dpi=self.dpi.value())  # type: ignore[arg-type]  # None was refused
        printer = replace(self._printer, name=self.name.text(), fit=fit)
        self.do(lambda bank: keep_printer(bank, printer), lambda _: self._kept(" ".join(printer.name.split())))

    def _kept(self, name: str) -> str:
        """Let the labels that went to this printer last go to it still, whatever it is called by now."""
        for kind in Kind:
            remembered = f"labels/{kind}/printer"
            if self._printer.id and self.context.state.get(remembered, "") == self._printer.name:
                self.context.state.put(remembered, name)
        return f"{name} is kept."


class MeasuredDialog(FormDialog):
    """What was measured on a test page, and what follows from it while one types."""

    def __init__(self, context: Context, parent: QWidget | None = None, *, printer: Printer) -> None:
        super().__init__(context, parent, f"Measured on {printer.name}", "Keep", columns=2, width=520)
        self._printer = printer
        self.numbers = {name: NumberEdit() for name in ("scale_x", "scale_y", "across", "down")}
        self.follows, self.fitted = label(role="strong", wrap=True), label(role="warn", wrap=True)
        self.say_about(
            f"Measure to a tenth of a millimetre, on a page that says at its top: “Printed with: {printer.fit.said}.” "
            "If it says anything else, print the page anew."
        )
        true_ruler, true_cross = f"True: {RULER:g} mm.", f"True: {CROSS:g} mm. Leave empty to move nothing."
        for (name, number), text, hint in zip(
            self.numbers.items(),
            (
                "Ruler &across (mm)",
                "Ruler &down (mm)",
                "Cross from the &left edge (mm)",
                "Cross from the &upper edge (mm)",
            ),
            (true_ruler, true_ruler, true_cross, true_cross),
            strict=True,
        ):
            number.said.hide()
            number.edited.connect(self._show_what_follows)
            self.form.add(name, text, number, hint)
        for widget in (self.fitted, self.follows):
            self.column.insertWidget(self.column.indexOf(self.form) + 1, widget)
        self._show_what_follows()

    def _ruler(self, name: str) -> float:
        length = self.numbers[name].value(name)
        if length is None:
            raise Refusal("Give the length from 0 to 100 as you measured it, such as 99.2.", field=name)
        return length

    def fit(self) -> PrinterFit:
        """Return the fit put right by what is written.

        Raises:
            Refusal: a number is missing or out of reason.
        """
        crosses = [self.numbers[name].value(name) for name in ("across", "down")]
        return self._printer.fit.measured(self._ruler("scale_x"), self._ruler("scale_y"), *crosses)

    def _show_what_follows(self) -> None:
        said = fitted = ""
        with suppress(Refusal):
            fit = self.fit()
            said = f"What follows: {fit.moved}; {stretched(fit)}."
            fitted = _fitted(self._ruler("scale_x"), self._ruler("scale_y"))
        self.follows.setText(said or "Type both lengths of the rulers; what follows is told here.")
        self.fitted.setText(fitted)
        self.fitted.setVisible(bool(fitted))

    def submit(self) -> None:
        """Keep what follows."""
        printer = replace(self._printer, fit=self.fit())
        said = f"{printer.name} is put right. Print its test page once more to prove it."
        self.do(lambda bank: keep_printer(bank, printer), said)


def _fitted(ruler_x: float, ruler_y: float) -> str:
    """Return the sentence about a page that was not printed at its true size, "" when it seems to be."""
    share = fitted_to_page(ruler_x, ruler_y)
    if not share:
        return ""
    way = "short" if share < 0 else "long"
    return (
        f"Both are {way} by the same {abs(share) * 100:.1f} %: that looks like “fit to page”. "
        "Turn it off, print the page again."
    )


class RulerDialog(PaperDialog):
    """The test page of a printer, drawn with what is known of it so far."""

    exact = True

    def __init__(self, context: Context, parent: QWidget | None = None, *, printer: Printer) -> None:
        super().__init__(
            context, parent, title=f"Test page of {printer.name}", file_name="printer-test-page.pdf",
            gather=lambda bank: printer.fit, render=lambda fit: b"",
        )  # fmt: skip
        self._printer = printer
        self.paper: Choice[str] = Choice([(name, name) for name in PAPERS])
        self.paper.set_value(context.state.get("labels/test paper", "A4"))
        self.paper.edited.connect(self._take_paper)
        self.form = Form()
        self.form.add("paper", "&Paper", self.paper)
        side = QWidget()
        side.setFixedWidth(SIDE_WIDTH)
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 12, 0)
        for widget in (self.form, *(label(step, wrap=True) for step in STEPS)):
            column.addWidget(widget)
        column.addStretch(1)
        self.middle.insertWidget(0, side)

    def exact_on(self) -> str:
        """Return the printer whose page this is."""
        return self._printer.name

    def _take_paper(self) -> None:
        self.context.state.put("labels/test paper", self.paper.value())
        self.make()

    def make(self) -> None:
        """Draw the page for the paper chosen."""
        from sporebank.documents import ruler  # brings ReportLab, which the first paint need not wait for

        width, height = PAPERS[self.paper.value()]
        fit = self.records
        self.work("Drawing the test page", lambda report, cancelled: ruler.render(width, height, fit), self._made)
