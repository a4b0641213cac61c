"""Print runs: what waits is printed or forgotten, and what was printed is printed again, with the keyboard alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.layout import Kind, Layout
from sporebank.core.sheets import Sheet
from sporebank.formats.label_sheets import sheet_by_id
from sporebank.jobs import culling, figures, label_stock, labels
from sporebank.window.dialogs import labels as dialogs_labels
from sporebank.window.dialogs.labels import plan
from sporebank.window.label_runs import RunsTab
from sporebank.window.theme import Theme
from tests.builders import clone, fridge, stored
from tests.documents.examples import pictures, symbols
from tests.window.conftest import TODAY, Told
from tests.window.desk import Make, Settle, TabDesk
from tests.window.keys import at, bring_to_front, choose, doubled_letters, press, tab_to, write

SHEET = sheet_by_id("a4-5x13")


def _stock(bank: Bank) -> None:
    """Five vials that wait, and a run of three of another batch on labels 4 to 9 of a sheet, twice each."""
    figures.keep_fresh(bank)
    fridge(bank)
    printed = stored(bank, "Osmunda regalis", clone=clone("C-07")).vial_ids
    stored(bank, clone=clone("C-01"), vials=5)
    labels.put_on_record(bank, labels.Run(Kind.VIAL, printed, "vial-24", SHEET, 3, 2))


class RunsDesk(TabDesk):
    """The tab, and the label dialogs that it opens."""

    def open(self) -> RunsTab:
        self.tab = RunsTab(self.context)
        self.show(self.tab)
        return self.tab

    def _open(self, key: str, arguments: dict[str, object]) -> None:
        super()._open(key, arguments)
        self.qtbot.waitUntil(lambda: self.dialogs[-1].save_button.isEnabled(), timeout=20_000)

    def press(self, name: str) -> None:
        press(self.qtbot, self.tab, name)
        self.settle()

    def codes(self, vial_ids: Any) -> list[str]:
        return sorted(row.code for row in self.read(lambda bank: queries.vials_by_id(bank, vial_ids)))

    def waits(self) -> list[str]:
        return [one.said.text() for one in self.tab.waits.values() if one.said.isVisible()]

    def rows(self) -> list[list[str]]:
        model = self.tab.model
        return [[column.text(row) for column in model.columns] for row in model.rows]


@pytest.fixture
def empty(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, told: Told) -> RunsDesk:
    return RunsDesk(qtbot, make_context(), settle, told)


@pytest.fixture
def desk(empty: RunsDesk) -> RunsDesk:
    empty.context.do(_stock)
    return empty


def test_a_new_bank_says_what_will_stand_here(empty: RunsDesk) -> None:
    tab = empty.open()
    assert tab.empty.isVisible()
    assert "put on record here" in tab.empty.text.text()
    assert "waits here for its labels" in tab.nothing.text()
    assert not tab.again.isEnabled()
    assert empty.waits() == []


def test_what_waits_stands_above_the_runs(desk: RunsDesk) -> None:
    tab = desk.open()
    assert doubled_letters(tab) == []
    assert desk.waits() == ["5 vial labels wait"]
    assert not tab.nothing.isVisible()
    day, sheet = "4 May 2026", "A4, 5 × 13 labels of 38.1 × 21.2 mm"
    assert desk.rows() == [[day, "Vial", "3", "2", "Vial wrap, 24 × 9.4 mm", "4", sheet]]


def test_a_run_is_printed_again_by_one_key_with_its_codes_layout_sheet_and_copies(
    desk: RunsDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.open()
    here = tab_to(desk.qtbot, desk.tab, "Print runs")
    desk.qtbot.keyClick(here, Qt.Key.Key_Return)
    desk.settle()
    (dialog,) = desk.dialogs
    chosen = (dialog.kind.value(), dialog.layout_choice.value().id, dialog.sheet.value().id, dialog.copies.value())
    assert chosen == (Kind.VIAL, "vial-24", "a4-5x13", 2)
    assert dialog.first.said() == "label 10 of 65"  # behind the six printed before
    ids = desk.read(lambda bank: labels.of_run(bank, labels.runs(bank)[0]))
    assert symbols(pictures(dialog.pdf, 600)) == sorted(desk.codes(ids) * 2)
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "again.pdf"), ""))
    dialog.save_button.click()
    desk.settle()
    assert [(row[2], row[3], row[5]) for row in desk.rows()] == [("3", "2", "10"), ("3", "2", "4")]
    assert desk.waits() == ["5 vial labels wait"]


def test_labels_printed_again_are_rendered_once_and_may_then_go_out(
    desk: RunsDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    rendered: list[str] = []
    monkeypatch.setattr(dialogs_labels, "plan", lambda *given: rendered.append("once") or plan(*given))
    desk.open()
    desk.tab.print_again()
    desk.settle()
    (dialog,) = desk.dialogs
    assert dialog.save_button.isEnabled()
    assert rendered == ["once"]
    assert not dialog._pause.isActive()  # no second rendering to come


def test_what_waits_is_printed_and_waits_no_longer(
    desk: RunsDesk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tab = desk.open()
    desk.press("Print 5 vial labels")
    (dialog,) = desk.dialogs
    assert dialog.windowTitle() == "Vial labels"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "labels.pdf"), ""))
    dialog.save_button.click()
    desk.settle()
    assert desk.waits() == []
    assert tab.nothing.isVisible()
    assert [row[2] for row in desk.rows()] == ["5", "3"]


def test_what_is_forgotten_waits_again_after_ctrl_z(desk: RunsDesk) -> None:
    tab = desk.open()
    desk.press("Forget 5 vial labels")
    assert desk.waits() == []
    assert tab.said.text() == "5 vial labels wait no longer."
    assert tab.table.hasFocus()
    QTest.keySequence(at(tab), "Ctrl+Z")
    desk.settle()
    assert desk.waits() == ["5 vial labels wait"]
    assert desk.told is not None
    assert desk.told.bugs == []


def test_what_is_culled_since_is_left_out_and_said(desk: RunsDesk) -> None:
    first, second, third = desk.read(lambda bank: labels.of_run(bank, labels.runs(bank)[0]))
    desk.read(lambda bank: culling.cull(bank, [first], TODAY, {first: "Broken"}))
    tab = desk.open()
    desk.press("Print again…")
    assert tab.said.text().startswith("1 of these 3 labels is left out")
    (dialog,) = desk.dialogs
    assert symbols(pictures(dialog.pdf, 600)) == sorted(desk.codes([second, third]) * 2)
    dialog.close()
    why = {second: "Broken", third: "Broken"}
    desk.read(lambda bank: culling.cull(bank, [second, third], TODAY, why))
    bring_to_front(desk.qtbot, tab)
    desk.press("Print again…")
    assert "nothing to print again" in tab.said.text()
    assert len(desk.dialogs) == 1


def test_a_run_on_what_is_no_longer_kept_is_shown_and_printed_on_what_there_is(desk: RunsDesk) -> None:
    def print_on_own(bank: Bank) -> None:
        layout = next(one for one in label_stock.stock(bank).layouts if one.id == "vial-24")
        own = label_stock.keep_layout(bank, replace(layout, title="Mine"))
        leftovers = Sheet("", "Leftovers", 210.0, 297.0, 3, 8, 60.0, 30.0, 10.0, 12.5, 65.0, 34.0)
        sheet = replace(leftovers, id=label_stock.keep_sheet(bank, leftovers))
        ids = labels.waiting(bank)[Kind.VIAL]
        labels.put_on_record(bank, labels.Run(Kind.VIAL, ids, own, sheet))
        label_stock.remove_layout(bank, replace(layout, id=own))
        label_stock.remove_sheet(bank, sheet)

    desk.read(print_on_own)
    desk.open()
    assert desk.rows()[0][4:] == ["no longer kept", "1", "no longer kept"]
    desk.press("Print again…")
    (dialog,) = desk.dialogs
    assert len(symbols(pictures(dialog.pdf, 600))) == 5


def test_another_kind_may_be_chosen_when_a_run_is_printed_again(desk: RunsDesk) -> None:
    desk.open()
    desk.press("Print again…")
    (dialog,) = desk.dialogs
    choose(desk.qtbot, dialog, "Kind", "Cap")
    write(desk.qtbot, dialog, "Copies of each", "1")
    desk.qtbot.waitUntil(lambda: dialog.save_button.isEnabled(), timeout=20_000)
    assert dialog.layout_choice.value().kind is Kind.CAP
    assert dialog.sheet.value().id != "a4-5x13"


def test_a_run_whose_layout_or_sheet_was_removed_says_that_others_are_chosen(desk: RunsDesk) -> None:
    own = Sheet("", "Mine", 210, 297, 5, 13, 38.1, 21.2, 4.75, 10.7, 40.6, 21.2)

    def printed(bank: Bank) -> tuple[Sheet, Layout]:
        (ids,) = labels.waiting(bank).values()
        wrap = next(one for one in label_stock.stock(bank).layouts if one.id == "vial-24")
        sheet = replace(own, id=label_stock.keep_sheet(bank, own))
        layout = replace(wrap, id=label_stock.keep_layout(bank, replace(wrap, id="", title="My wrap")))
        labels.put_on_record(bank, labels.Run(Kind.VIAL, ids, layout.id, sheet))
        return sheet, layout

    sheet, layout = desk.read(printed)
    tab = desk.open()
    said = []
    for remove in (
        lambda bank: None,
        lambda bank: label_stock.remove_layout(bank, layout),
        lambda bank: label_stock.remove_sheet(bank, sheet),
    ):
        desk.read(remove)
        bring_to_front(desk.qtbot, tab)
        desk.press("Print again…")
        dialog = desk.dialogs[-1]
        said.append(dialog.instead.text() if dialog.instead.isVisible() else "")
        dialog.close()
    assert said == [
        "",
        "The layout of that run cannot be had any more; another is chosen. Look whether it suits.",
        "The sheet and the layout of that run cannot be had any more; others are chosen. Look whether they suit.",
    ]
