"""Papers and labels: seen first, then saved whole or not at all, opened, or printed at their true size."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from PySide6.QtCore import QSizeF, Qt
from PySide6.QtGui import QDesktopServices, QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries.labels import PrintRun
from sporebank.core.errors import Refusal, Stopped
from sporebank.core.layout import Kind
from sporebank.core.sheets import PrinterFit, Sheet
from sporebank.documents.picture import page_sizes
from sporebank.jobs.label_stock import Printer, keep_layout, keep_printer, keep_sheet, remove_printer, stock
from sporebank.jobs.labels import runs
from sporebank.window import paper_out, printing
from sporebank.window.context import Context
from sporebank.window.dialogs import dialog_class
from sporebank.window.dialogs.labels import LabelsDialog
from sporebank.window.main import MainWindow
from sporebank.window.theme import Theme
from tests.documents.examples import pictures as pages
from tests.documents.examples import symbols
from tests.narrow import files_up_to
from tests.window.conftest import Told
from tests.window.desk import Show
from tests.window.keys import bring_to_front, choose, tab_to, write

Make = Callable[..., Context]
Settle = Callable[[Context], None]


class Printery:
    """A bank of 60 vials and the labels of some of them in their dialog."""

    def __init__(self, qtbot: QtBot, context: Context, settle: Settle) -> None:
        self.qtbot, self.context, self._settle = qtbot, context, settle
        self.opened: list[Any] = []
        context.dialog_wanted.connect(self._open)

    def _open(self, key: str, arguments: dict[str, object]) -> None:
        dialog = dialog_class(key)(self.context, None, **arguments)
        self.qtbot.addWidget(dialog)
        with self.qtbot.waitExposed(dialog):
            dialog.show()
        self.opened.append(dialog)

    def labels(self, *vial_ids: int) -> LabelsDialog:
        printing.vial_labels(self.context, vial_ids)
        dialog = self.opened[-1]
        self.ready(dialog)
        bring_to_front(self.qtbot, dialog)
        return dialog

    def ready(self, dialog: LabelsDialog) -> None:
        """Wait until what is wished is what is shown."""
        self.qtbot.waitUntil(dialog.save_button.isEnabled, timeout=20_000)
        self.qtbot.waitUntil(lambda: not self.context.background.busy, timeout=20_000)

    def runs(self) -> list[PrintRun]:
        found: list[PrintRun] = []
        self.context.read(runs, lambda rows: found.extend(rows))
        self._settle(self.context)
        return found

    def codes(self, *vial_ids: int) -> list[str]:
        found: list[str] = []
        self.context.read(lambda bank: queries.vials_by_id(bank, vial_ids), lambda rows: found.extend(rows))
        self._settle(self.context)
        return sorted(row.code for row in found)


@pytest.fixture
def printery(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle) -> Printery:
    return Printery(qtbot, make_context(60), settle)


def read(pdf: bytes) -> list[str]:
    """Return every code on the pages, read by an independent reader."""
    return symbols(pages(pdf, 300))


def saves_to(monkeypatch: pytest.MonkeyPatch, chosen: Path | str) -> None:
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(chosen), ""))


def test_what_is_previewed_is_what_is_saved(
    printery: Printery, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dialog = printery.labels(3, 4)
    assert dialog.count.text() == "2 labels on 1 page, in the order of their places."
    saves_to(monkeypatch, tmp_path / "labels.pdf")
    printery.qtbot.keyClick(dialog.save_button, Qt.Key.Key_Space)
    assert (tmp_path / "labels.pdf").read_bytes() == dialog.pdf
    assert read(dialog.pdf) == printery.codes(3, 4)
    assert dialog.message.text() == f"Saved as {tmp_path / 'labels.pdf'}."
    assert list(tmp_path.glob("*.partial")) == []


def test_nothing_older_than_what_is_wished_can_be_let_out(printery: Printery) -> None:
    dialog = printery.labels(3)
    write(printery.qtbot, dialog, "Copies of each", "3")
    assert not dialog.save_button.isEnabled()
    printery.ready(dialog)
    assert read(dialog.pdf) == printery.codes(3) * 3


def test_turning_away_from_saving_writes_nothing(
    printery: Printery, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = sorted(tmp_path.iterdir())
    dialog = printery.labels(3)
    saves_to(monkeypatch, "")
    dialog.save_button.click()
    assert sorted(tmp_path.iterdir()) == before
    assert not dialog.message.isVisible()


def test_a_folder_that_takes_no_file_is_said_in_the_dialog(
    printery: Printery, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dialog = printery.labels(3)
    saves_to(monkeypatch, tmp_path / "gone" / "labels.pdf")
    dialog.save_button.click()
    assert "could not be written" in dialog.message.text()
    assert "Choose another folder" in dialog.message.text()
    saves_to(monkeypatch, tmp_path / "labels.pdf")
    dialog.save_button.click()
    assert dialog.message.text().startswith("Saved as")


@pytest.mark.parametrize("chosen", ["labels", "labels v1.2"])
def test_a_file_that_only_its_ending_would_hit_is_asked_about(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, make_context: Make, told: Told, chosen: str
) -> None:
    context, target = make_context(), tmp_path / f"{chosen}.pdf"
    saves_to(monkeypatch, tmp_path / chosen)
    assert paper_out.save(context, None, b"one", "labels.pdf") == target
    assert told.asked == []
    assert paper_out.save(context, None, b"two", "labels.pdf") is None
    assert target.read_bytes() == b"one"
    told.answer = "Write over it"
    assert paper_out.save(context, None, b"two", "labels.pdf") == target
    assert target.read_bytes() == b"two"
    assert told.asked == [f"{target.name} is there already. Write over it?"] * 2


def test_the_next_paper_is_offered_where_the_last_one_went(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, make_context: Make
) -> None:
    context, folder = make_context(), tmp_path / "papers"
    folder.mkdir()
    saves_to(monkeypatch, folder / "one.pdf")
    paper_out.save(context, None, b"one", "one.pdf")
    saves_to(monkeypatch, tmp_path / "gone" / "one.pdf")
    with pytest.raises(Refusal):
        paper_out.save(context, None, b"one", "one.pdf")
    offered: list[str] = []
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *given: (offered.append(given[2]), ("", ""))[1])
    paper_out.save(context, None, b"two", "two.pdf")
    assert offered == [str(folder / "two.pdf")]


def test_a_system_without_a_viewer_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[Path] = []
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: opened.append(Path(url.toLocalFile())) or False)
    with pytest.raises(Refusal, match="no program"):
        paper_out.open_outside(b"%PDF", "labels.pdf")
    assert opened[0].read_bytes() == b"%PDF"


def test_printing_keeps_every_page_at_its_true_size(printery: Printery, tmp_path: Path) -> None:
    """ISO 216: A4 is 210 mm by 297 mm."""
    dialog = printery.labels(3, 4)
    printer, printed = QPrinter(QPrinter.PrinterMode.HighResolution), tmp_path / "printed.pdf"
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(printed))
    printer.setResolution(300)
    printer.setPageSize(QPageSize(QSizeF(*page_sizes(dialog.pdf)[0]), QPageSize.Unit.Millimeter))
    printer.setPageOrientation(QPageLayout.Orientation.Portrait)
    printer.setFullPage(True)
    done: list[int] = []
    paper_out.paint(printer, dialog.pdf, lambda at, total, text: done.append(at), lambda: False)
    sizes = page_sizes(printed.read_bytes())
    assert len(sizes) == 1
    assert sizes[0] == pytest.approx((210, 297), abs=0.5)
    assert read(printed.read_bytes()) == read(dialog.pdf)
    assert done == [0]


def test_a_printer_that_takes_no_work_is_said(printery: Printery, monkeypatch: pytest.MonkeyPatch) -> None:
    dialog = printery.labels(3)
    monkeypatch.setattr(QPainter, "begin", lambda painter, device: False)
    with pytest.raises(Refusal, match="does not take the work"):
        paper_out.paint(QPrinter(), dialog.pdf, lambda *_: None, lambda: False)


def test_printing_that_is_stopped_is_not_called_sent(printery: Printery, tmp_path: Path) -> None:
    dialog = printery.labels(3)
    printer = QPrinter()
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "stopped.pdf"))
    done: list[int] = []
    with pytest.raises(Stopped):
        paper_out.paint(printer, dialog.pdf, lambda at, total, text: done.append(at), lambda: True)
    assert done == []


def test_printing_into_a_file_on_a_full_disk_is_not_called_sent(printery: Printery, tmp_path: Path) -> None:
    dialog = printery.labels(3)

    def paint() -> None:
        printer = QPrinter()
        printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        printer.setOutputFileName(str(tmp_path / "printed.pdf"))
        paper_out.paint(printer, dialog.pdf, lambda *_: None, lambda: False)

    with files_up_to(5_000), pytest.raises(Refusal, match=r"printed\.pdf could not be written whole"):
        paint()
    assert not (tmp_path / "printed.pdf").exists()
    paint()
    assert len(page_sizes((tmp_path / "printed.pdf").read_bytes())) == 1


def test_a_paper_for_which_there_is_no_room_leaves_no_piece_and_is_saved_once_there_is(
    printery: Printery, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dialog = printery.labels(3)
    saves_to(monkeypatch, tmp_path / "labels.pdf")
    (tmp_path / "labels.pdf").write_bytes(b"older")
    with files_up_to(5_000):
        dialog.save_button.click()
    assert "could not be written" in dialog.message.text()
    assert (tmp_path / "labels.pdf").read_bytes() == b"older"
    assert not list(tmp_path.glob("*.partial"))
    dialog.save_button.click()
    assert dialog.message.text().startswith("Saved as")


def test_labels_that_could_not_be_put_on_record_are_with_the_next_way_out(
    printery: Printery, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def forbid(on: bool) -> None:
        printery.context.do(lambda bank: bank.database.execute_sql(f"PRAGMA query_only = {on}").fetchall())

    dialog = printery.labels(3, 4)
    saves_to(monkeypatch, tmp_path / "labels.pdf")
    forbid(True)
    dialog.save_button.click()
    assert printery.runs() == []
    assert "may not be written to. Nothing was changed." in dialog.message.text()
    forbid(False)
    dialog.save_button.click()
    assert [one.count for one in printery.runs()] == [2]


def test_no_place_for_what_is_only_looked_at_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with pytest.raises(Refusal, match="Save it instead"):
        paper_out.open_outside(b"%PDF", "labels.pdf")


def test_closing_asks_while_something_is_printed_and_drops_it_only_when_told_to(
    printery: Printery, show: Show, told: Told, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pdf, printed, sent, gate = printery.labels(3).pdf, tmp_path / "printed.pdf", [], Event()
    window = show(MainWindow(printery.context))

    def chosen(dialog: QPrintDialog) -> int:
        dialog.printer().setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        dialog.printer().setOutputFileName(str(printed))
        return 1

    def begin() -> None:
        gate.clear()
        printery.context._side_lane.submit(lambda: gate.wait(20))  # a printer takes its time
        paper_out.print_out(printery.context, window, pdf, "Vial labels", lambda: sent.append(1))

    monkeypatch.setattr(QPrintDialog, "exec", chosen)
    begin()
    assert not window.close()
    assert told.asked == ["“Vial labels” is being printed. Close all the same?"]
    gate.set()
    printery.qtbot.waitUntil(lambda: bool(sent))
    assert len(page_sizes(printed.read_bytes())) == 1
    begin()
    told.answer = "Close all the same"
    assert window.close()
    gate.set()
    assert printery.context.shut()
    assert sent == [1]


def test_a_second_page_is_turned_to_by_key(printery: Printery) -> None:
    dialog = printery.labels(*range(1, 61))
    write(printery.qtbot, dialog, "Copies of each", "2")
    printery.ready(dialog)
    assert dialog.preview.pages > 1
    with printery.qtbot.waitSignal(dialog.preview.drawn):
        printery.qtbot.keyClick(dialog.preview.on, Qt.Key.Key_Space)
    assert dialog.preview.where.text() == f"Page 2 of {dialog.preview.pages}"


def test_labels_let_out_are_on_record_once_and_the_next_begin_behind_them(
    printery: Printery, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    dialog = printery.labels(3, 4)
    saves_to(monkeypatch, tmp_path / "labels.pdf")
    dialog.save_button.click()
    dialog.save_button.click()
    assert [(one.count, one.first_cell, one.next_cell) for one in printery.runs()] == [(2, 0, 2)]
    dialog.close()
    again = printery.labels(3)
    assert again.first.said() == "label 3 of 65"


def test_the_first_free_label_is_moved_to_by_arrows_and_two_sheets_are_read_back(printery: Printery) -> None:
    dialog = printery.labels(3, 4, 5)
    here = tab_to(printery.qtbot, dialog, "First free label")
    printery.qtbot.keyClick(here, Qt.Key.Key_End)
    printery.qtbot.keyClick(here, Qt.Key.Key_Left)
    assert dialog.first.said() == "label 64 of 65"
    assert not dialog.save_button.isEnabled()
    printery.ready(dialog)
    assert dialog.count.text() == "3 labels on 2 pages, in the order of their places."
    assert read(dialog.pdf) == printery.codes(3, 4, 5)


def test_a_sheet_made_smaller_since_begins_anew(
    printery: Printery, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    large = Sheet("", "Mine", 210, 297, 5, 13, 38.1, 21.2, 4.75, 10.7, 40.6, 21.2)
    printery.context.do(lambda bank: keep_sheet(bank, large))
    dialog = printery.labels(3)
    choose(printery.qtbot, dialog, "Sheet or roll", "Mine")
    here = tab_to(printery.qtbot, dialog, "First free label")
    for _ in range(8):
        printery.qtbot.keyClick(here, Qt.Key.Key_Down)
    printery.ready(dialog)
    saves_to(monkeypatch, tmp_path / "labels.pdf")
    dialog.save_button.click()
    assert [one.next_cell for one in printery.runs()] == [41]
    dialog.close()
    printery.context.do(lambda bank: keep_sheet(bank, replace(large, id="own-1", columns=2, rows=1)))
    again = printery.labels(4)
    choose(printery.qtbot, again, "Sheet or roll", "Mine")
    assert again.first.said() == "label 1 of 2"
    printery.ready(again)
    assert read(again.pdf) == printery.codes(4)


def test_a_printer_moves_the_labels_and_they_still_read(printery: Printery) -> None:
    plain = printery.labels(3)
    before = plain.pdf
    plain.close()
    fit = PrinterFit(1.5, -0.8, 1.004, 0.997, 600)
    printery.context.do(lambda bank: keep_printer(bank, Printer(0, "Office", fit)))
    dialog = printery.labels(3)
    choose(printery.qtbot, dialog, "Printer", "Office")
    printery.ready(dialog)
    assert dialog.pdf != before
    assert read(dialog.pdf) == printery.codes(3)


def test_a_printer_renamed_meanwhile_stays_chosen_and_one_removed_does_not(printery: Printery) -> None:
    office = Printer(1, "Office", PrinterFit(1.5, -0.8, 1.004, 0.997, 600))
    printery.context.do(lambda bank: keep_printer(bank, Printer(0, office.name, office.fit)))
    dialog = printery.labels(3)
    choose(printery.qtbot, dialog, "Printer", "Office")
    printery.ready(dialog)
    before = dialog.pdf
    printery.context.do(lambda bank: keep_printer(bank, Printer(1, "Packing room", office.fit)))
    printery.qtbot.waitUntil(lambda: dialog.printer.currentText() == "Packing room")
    printery.ready(dialog)
    assert dialog.pdf == before
    printery.context.do(lambda bank: remove_printer(bank, office))
    printery.qtbot.waitUntil(lambda: dialog.printer.currentText() == "Any printer, 300 dpi")
    printery.ready(dialog)
    assert dialog.pdf != before


def test_labels_say_at_the_print_button_what_keeps_their_true_size(printery: Printery) -> None:
    dialog = printery.labels(3)
    assert dialog.true_size.isVisible()
    assert dialog.exact_on() == "Any printer, 300 dpi"
    dialog.close()
    printing.batch_report(printery.context, 1)
    assert not printery.opened[-1].true_size.isVisible()


def ask_for_notes(printery: Printery) -> None:
    """Keep a copy of a small vial wrap on which a note must stand where the clone does."""

    def keep(bank: Bank) -> None:
        wrap = next(one for one in stock(bank).layouts if one.kind is Kind.VIAL)
        fields = [replace(one, show=("note",), mandatory=True) if "clone" in one.show else one for one in wrap.fields]
        keep_layout(bank, replace(wrap, id="", title="With a note", fields=tuple(fields)))

    printery.context.do(keep)


def test_what_will_not_print_as_asked_is_in_sight_at_once_and_asked_about_before_it_goes_out(
    printery: Printery, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, told: Told
) -> None:
    ask_for_notes(printery)
    dialog = printery.labels(3, 4, 5)
    assert not dialog.warning.isVisible()
    choose(printery.qtbot, dialog, "Layout", "With a note")
    printery.ready(dialog)
    assert dialog.count.text() == "3 labels on 1 page, in the order of their places."
    assert dialog.warning.text() == "3 labels will not print as asked; what is wrong is listed below."
    assert dialog.warning.isVisible()
    assert dialog.warning.visibleRegion().boundingRect() == dialog.warning.rect()
    assert len(dialog.problems.text().splitlines()) == 3
    saves_to(monkeypatch, tmp_path / "labels.pdf")
    dialog.save_button.click()
    assert not (tmp_path / "labels.pdf").exists()
    told.answer = "Print all the same"
    dialog.save_button.click()
    assert (tmp_path / "labels.pdf").exists()
    dialog.save_button.click()
    first = dialog.problems.text().splitlines()[0]
    assert told.asked == [f"3 of 3 labels will not print as asked: {first}"] * 2
    write(printery.qtbot, dialog, "Copies of each", "2")
    printery.ready(dialog)
    assert dialog.warning.text().startswith("6 labels will not")
    told.answer = ""
    dialog.save_button.click()
    assert told.asked[-1].startswith("6 of 6 labels will not print as asked: ")


def test_a_single_problem_is_said_in_its_own_words_alone(printery: Printery) -> None:
    ask_for_notes(printery)
    dialog = printery.labels(3)
    choose(printery.qtbot, dialog, "Layout", "With a note")
    printery.ready(dialog)
    assert dialog.count.text() == "1 label on 1 page."
    assert printery.codes(3)[0] in dialog.warning.text().replace("-", "")
    assert "note" in dialog.warning.text()
    assert not dialog.problems.isVisible()
