"""Printers of labels, written with the keyboard: their numbers, their test page, and what was measured on it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QMarginsF, QSizeF, Qt
from PySide6.QtGui import QPageLayout, QPageSize
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from sporebank.core.sheets import PrinterFit, Rect
from sporebank.documents.picture import page_sizes
from sporebank.documents.ruler import render
from sporebank.jobs.label_stock import Printer, keep_printer, stock
from sporebank.window import paper_out
from sporebank.window.dialogs.printers import stretched
from sporebank.window.label_printers import PrintersTab
from sporebank.window.theme import Theme
from tests.documents.examples import text_of
from tests.window.conftest import Told
from tests.window.desk import Make, Settle, TabDesk
from tests.window.keys import at, bring_to_front, choose, doubled_letters, press, tab_to, write

A4, A5 = (210.0, 297.0), (148.0, 210.0)


class PrintersDesk(TabDesk):
    """The tab, and the dialogs that it opens."""

    def open(self) -> PrintersTab:
        self.tab = PrintersTab(self.context)
        self.show(self.tab)
        return self.tab

    def press(self, name: str) -> Any:
        """Press a button of the tab, and return the dialog it opened last."""
        bring_to_front(self.qtbot, self.tab)
        press(self.qtbot, self.tab, name)
        self.settle()
        return self.dialogs[-1] if self.dialogs else None

    def fill(self, dialog: Any, **texts: str) -> None:
        """Write into the fields of a dialog by their names, and press Return."""
        for name, text in texts.items():
            write(self.qtbot, dialog, dialog.form.fields[name].editor.accessibleName(), text)
        self.qtbot.keyClick(at(dialog), Qt.Key.Key_Return)
        self.settle()

    def kept(self) -> list[Printer]:
        return list(self.read(lambda bank: stock(bank).printers))

    def rows(self) -> list[list[str]]:
        return [[column.text(row) for column in self.tab.model.columns] for row in self.tab.model.rows]


@pytest.fixture
def desk(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, told: Told) -> PrintersDesk:
    return PrintersDesk(qtbot, make_context(), settle, told)


@pytest.fixture
def office(desk: PrintersDesk) -> PrintersDesk:
    """A printer that has no numbers yet."""
    desk.read(lambda bank: keep_printer(bank, Printer(0, "Office", PrinterFit())))
    return desk


def test_the_first_printer_is_asked_for_and_kept(desk: PrintersDesk) -> None:
    tab = desk.open()
    assert tab.empty.isVisible()
    assert not tab.page.isVisible()
    dialog = desk.press("New printer")
    assert doubled_letters(dialog) == []
    choose(desk.qtbot, dialog, "Fineness", "600")
    desk.fill(dialog, name="Office, laser", across="1,5", down="-0.5", scale_x="1.004")
    assert [(one.name, one.fit) for one in desk.kept()] == [
        ("Office, laser", PrinterFit(1.5, -0.5, 1.004, 1.0, 600)),
    ]
    assert desk.rows() == [
        ["Office, laser", "600 dpi", "1.5 mm to the right, 0.5 mm up", "100.4 % across, 100 % down"],
    ]
    assert doubled_letters(tab) == []


@pytest.mark.parametrize(
    ("written", "field", "says"),
    [
        ({"name": ""}, "name", "name of your own"),
        ({"name": "office"}, "name", "already"),
        ({"name": "B", "across": "30"}, "across", "moved by up to 25 mm, not by 30 mm"),
        ({"name": "B", "scale_y": "0.5"}, "scale_y", "scale of 0.5 is out of reason"),
        ({"name": "B", "down": ""}, "down", "0 changes nothing"),
        ({"name": "B", "scale_x": ""}, "scale_x", "1 changes nothing"),
        ({"name": "B", "scale_x": "wide"}, "scale_x", "is not a number"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(
    office: PrintersDesk, written: dict[str, str], field: str, says: str
) -> None:
    office.open()
    dialog = office.press("New printer…")
    office.fill(dialog, **written)
    assert dialog.isVisible()
    assert says in dialog.form.fields[field].error
    assert len(office.kept()) == 1


def test_a_printer_is_renamed_removed_and_brought_back(office: PrintersDesk) -> None:
    tab = office.open()
    tab_to(office.qtbot, tab, "Printers")
    office.qtbot.keyClick(at(tab), Qt.Key.Key_Return)
    office.settle()
    for kind, printer in (("vial", "Office"), ("packet", "Roll")):
        office.context.state.put(f"labels/{kind}/printer", printer)
    office.fill(office.dialogs[-1], name=" Packing  room ")
    assert office.context.state.get("labels/vial/printer", "") == "Packing room"
    assert office.context.state.get("labels/packet/printer", "") == "Roll"
    assert [row[0] for row in office.rows()] == ["Packing room"]
    office.press("Remove")
    assert office.kept() == []
    assert tab.empty.isVisible()
    assert tab.said.text() == "Packing room is removed."
    QTest.keySequence(tab.empty.button, "Ctrl+Z")
    office.settle()
    assert [one.name for one in office.kept()] == ["Packing room"]
    assert tab.said.text() == ""
    office.press("Remove")
    office.press("Undo")
    assert [one.name for one in office.kept()] == ["Packing room"]
    assert not tab.said.back.isVisible()


def test_a_new_printer_is_the_one_chosen(office: PrintersDesk) -> None:
    tab = office.open()
    office.fill(office.press("New printer…"), name="Roll")
    assert [row[0] for row in office.rows()] == ["Office", "Roll"]
    assert office.press("Measured…").windowTitle() == "Measured on Roll"
    assert tab.table.chosen_rows() == [1]


def test_the_test_page_is_previewed_saved_and_follows_the_paper(
    office: PrintersDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ISO 216: A4 is 210 mm by 297 mm; ANSI/ASME Y14.1: Letter is 8.5 by 11 inches."""
    office.open()
    dialog = office.press("Test page…")
    assert doubled_letters(dialog) == []
    office.qtbot.waitUntil(dialog.save_button.isEnabled, timeout=20_000)
    assert page_sizes(dialog.pdf)[0] == pytest.approx((210, 297), abs=0.1)
    assert dialog.pdf == render(210, 297, PrinterFit())
    choose(office.qtbot, dialog, "Paper", "Letter")
    office.settle()
    office.qtbot.waitUntil(dialog.save_button.isEnabled, timeout=20_000)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "page.pdf"), ""))
    dialog.save_button.click()
    saved = (tmp_path / "page.pdf").read_bytes()
    assert page_sizes(saved)[0] == pytest.approx((8.5 * 25.4, 11 * 25.4), abs=0.1)
    assert "Measure both rulers" in text_of(saved)
    dialog.close()
    assert office.press("Test page…").paper.value() == "Letter"


def test_what_is_measured_puts_the_printer_right(office: PrintersDesk) -> None:
    """Our own arithmetic: this printer makes 100 mm into 99.2 and then moves all by 1.22 mm to the right."""
    office.open()
    dialog = office.press("Measured…")
    assert doubled_letters(dialog) == []
    assert PrinterFit().said in dialog.about.text()
    assert PrinterFit().said in text_of(render(210, 297, PrinterFit())).replace("\n", " ")
    assert dialog.follows.text().startswith("Type both lengths")
    office.fill(dialog, scale_x="99,2", scale_y="100", across="16.1", down="15")
    assert dialog.follows.text() == "What follows: 1.23 mm to the left; 100.81 % across, 100 % down."
    (printer,) = office.kept()
    for place in ((15.0, 15.0), (105.0, 148.5), (200.0, 280.0)):
        drawn = printer.fit.placed(Rect(*place, 0, 0))
        assert (drawn.left * 0.992 + 1.22, drawn.top) == pytest.approx(place, abs=0.005)
    page = text_of(render(210, 297, printer.fit)).replace("\n", " ")
    assert "moved 1.23 mm to the left; scale 1.0081 across and 1.0000 down" in page


def test_a_page_that_was_fitted_is_told_and_may_be_kept_all_the_same(office: PrintersDesk) -> None:
    office.open()
    dialog = office.press("Measured…")
    write(office.qtbot, dialog, "Ruler across (mm)", "96.5")
    assert not dialog.fitted.isVisible()
    write(office.qtbot, dialog, "Ruler down (mm)", "96.5")
    assert dialog.fitted.isVisible()
    assert dialog.fitted.text() == (
        "Both are short by the same 3.5 %: that looks like “fit to page”. Turn it off, print the page again."
    )
    office.settle()
    assert dialog.fitted.visibleRegion().boundingRect() == dialog.fitted.rect()
    write(office.qtbot, dialog, "Ruler down (mm)", "99.5")
    assert not dialog.fitted.isVisible()
    office.fill(dialog, scale_x="103", scale_y="103.2")
    (printer,) = office.kept()
    assert printer.fit.scale_x == pytest.approx(1 / 1.03)
    assert dialog.fitted.text().startswith("Both are long by the same 3.1 %")


def test_an_empty_cross_moves_nothing(office: PrintersDesk) -> None:
    office.open()
    office.fill(office.press("Measured…"), scale_x="100.4", scale_y="99.9")
    (printer,) = office.kept()
    assert (printer.fit.across, printer.fit.down) == (0, 0)
    assert printer.fit.scale_x == pytest.approx(1 / 1.004)


@pytest.mark.parametrize(
    ("written", "field", "says"),
    [
        ({"scale_x": "99.2"}, "scale_y", "as you measured it"),
        ({"scale_x": "9.92", "scale_y": "100"}, "scale_x", "out of reason"),
        ({"scale_x": "100", "scale_y": "0"}, "scale_y", "cannot measure 0 mm"),
        ({"scale_x": "100", "scale_y": "100", "across": "161"}, "across", "up to 25 mm, not by -146 mm"),
    ],
)
def test_wild_measures_are_refused_beside_their_field(
    office: PrintersDesk, written: dict[str, str], field: str, says: str
) -> None:
    office.open()
    dialog = office.press("Measured…")
    office.fill(dialog, **written)
    assert says in dialog.form.fields[field].error
    assert office.kept()[0].fit == PrinterFit()


def test_a_fit_is_told_in_words() -> None:
    assert (PrinterFit().moved, stretched(PrinterFit())) == ("not moved", "not stretched")
    assert PrinterFit(-1.234, 0.004).moved == "1.23 mm to the left"
    assert stretched(PrinterFit(scale_y=0.99)) == "100 % across, 99 % down"


# -- printing at the true size


class Spooler:
    """Stands in for the system's print dialog: sets the papers it is told to, one after the other."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *papers: tuple[float, float] | None) -> None:
        self.papers, self.opened, self.painted = list(papers), 0, []
        monkeypatch.setattr(QPrintDialog, "exec", lambda dialog: self._exec(dialog.printer()))
        monkeypatch.setattr(paper_out, "paint", self._paint)

    def _exec(self, printer: QPrinter) -> int:
        self.opened += 1
        paper = self.papers.pop(0)
        if paper is None:
            return 0
        printer.setFullPage(False)  # as a system's dialog may leave it
        printer.setPageSize(QPageSize(QSizeF(*paper), QPageSize.Unit.Millimeter))
        return 1

    def _paint(self, printer: QPrinter, *_: object) -> None:
        layout = printer.pageLayout()
        self.painted.append((layout.fullRect(QPageLayout.Unit.Millimeter).size(), printer.fullPage()))


Send = Callable[..., list[int]]


@pytest.fixture
def send(desk: PrintersDesk) -> Send:
    """Print the test page on A4; return the list that grows when it is sent."""
    pdf = render(*A4, PrinterFit())
    parent = PrintersTab(desk.context)
    desk.qtbot.addWidget(parent)

    def send(name: str = "") -> list[int]:
        sent: list[int] = []
        paper_out.print_out(desk.context, parent, pdf, "Labels", lambda: sent.append(1), exact_on=name)
        desk.settle()
        desk.qtbot.waitUntil(lambda: not desk.context.background.busy, timeout=20_000)
        return sent

    return send


def test_the_true_size_is_asked_for_once_for_each_printer(
    send: Send, told: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    spooler = Spooler(monkeypatch, A4, A4, A4, A4)
    assert send("Office") == []  # turned away from the question
    assert spooler.opened == 0
    told.answer = "Go on"
    assert send("Office") == [1]
    assert send("Office") == [1]
    assert send("Roll") == [1]
    assert send() == [1]
    assert told.asked == [paper_out.WARNING] * 3
    assert "not “fit to page”" in paper_out.WARNING


def test_the_whole_page_is_printed_whatever_the_system_dialog_leaves(
    send: Send, monkeypatch: pytest.MonkeyPatch
) -> None:
    spooler = Spooler(monkeypatch, (210.2, 296.9))
    assert send() == [1]
    ((size, full),) = spooler.painted
    assert (size.width(), size.height()) == pytest.approx(A4, abs=0.5)
    assert full


def test_another_paper_is_told_before_anything_is_printed(
    send: Send, told: Told, monkeypatch: pytest.MonkeyPatch
) -> None:
    """ISO 216: A5 is 148 mm by 210 mm."""
    spooler = Spooler(monkeypatch, A5, A4, A5, A5, None)
    told.answer = "Choose again"
    assert send() == [1]
    assert (spooler.opened, len(spooler.painted)) == (2, 1)
    assert told.asked[0].startswith("The printer is set for paper of 148 × 210 mm, the page is 210 × 297 mm")
    told.answer = "Print all the same"
    assert send() == [1]
    told.answer = ""
    assert send() == []
    assert send() == []
    assert (spooler.opened, len(spooler.painted)) == (5, 2)


def test_a_page_on_its_side_is_another_paper() -> None:
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setPageLayout(
        QPageLayout(QPageSize(QPageSize.PageSizeId.A4), QPageLayout.Orientation.Landscape, QMarginsF())
    )
    assert "297 × 210 mm" in paper_out.other_paper(printer, A4)
    printer.setPageOrientation(QPageLayout.Orientation.Portrait)
    assert paper_out.other_paper(printer, A4) == ""


def test_the_sentence_stands_at_the_print_button_of_labels_and_test_pages(office: PrintersDesk) -> None:
    office.open()
    dialog = office.press("Test page…")
    assert dialog.exact_on() == "Office"
    assert dialog.true_size.isVisible()
    assert "not “fit to page”" in dialog.true_size.text()
