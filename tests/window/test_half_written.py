"""What is half written is not lost by a slip: closing asks first, and going on writing is what Return does."""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from sporebank.bank import opening
from sporebank.bank.bank import Bank
from sporebank.core.dates import PartDate
from sporebank.core.sheets import Sheet
from sporebank.jobs import figures
from sporebank.jobs.label_stock import keep_sheet, remove_sheet
from sporebank.jobs.settings import change_settings
from sporebank.window.main import MainWindow
from sporebank.window.session import Session
from sporebank.window.state import WindowState
from sporebank.window.tell import Question
from sporebank.window.theme import Theme
from tests.builders import clone, fridge, stored
from tests.window.conftest import NOW, Told
from tests.window.desk import Make, Settle, Show, WindowDesk
from tests.window.keys import at, bring_to_front, tab_to

CTRL = Qt.KeyboardModifier.ControlModifier


def _stock(bank: Bank) -> None:
    figures.keep_fresh(bank)
    fridge(bank)
    stored(bank, clone=clone("O-1"), collected=PartDate(2014), stored_on=date(2014, 9, 1))


class Desk(WindowDesk):
    """The window on one page, and the key that closes it."""

    def quit(self) -> bool:
        """Press Ctrl and Q, and return whether the window went."""
        bring_to_front(self.qtbot, self.window)
        self.qtbot.keyClick(at(self.window), Qt.Key.Key_Q, CTRL)
        self.settle()
        return not self.window.isVisible()

    def take_first(self, table: str) -> None:
        """Tab to a table and choose its first row."""
        here = tab_to(self.qtbot, self.window, table)
        self.qtbot.keyClick(here, Qt.Key.Key_Down)
        self.qtbot.keyClick(here, Qt.Key.Key_Home, CTRL)
        self.settle()


class StoreDesk(Desk):
    key = "store"

    def settle(self) -> None:
        self.qtbot.waitUntil(lambda: not self.page._pause.isActive())
        super().settle()


class SowDesk(Desk):
    key = "sow"


class TestDesk(Desk):
    __test__ = False
    key = "test"


class SettingsDesk(Desk):
    key = "settings"


@pytest.fixture
def make_desk(qtbot: QtBot, theme: Theme, make_context: Make, show: Show, settle: Settle):
    def make(kind: type[Desk]) -> Desk:
        context = make_context(stock=_stock)
        context.do(figures.keep_fresh)
        return kind(qtbot, context, settle, show)

    return make


@pytest.fixture
def store(make_desk) -> StoreDesk:
    return make_desk(StoreDesk)


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("Taxon", "Osmunda"), ("Old name", "Blechnum"), ("Code", "X-9"), ("Where from", "Stream bank"),
        ("By whom", "Marit Olden"), ("Collected on", "2025-0"), ("Cleaned on", "2025"), ("Fronds picked", "12"),
        ("Amount in all (mg)", "14,"),
    ],
)  # fmt: skip
def test_a_batch_half_written_is_asked_about(store: StoreDesk, told: Told, field: str, text: str) -> None:
    store.write(field, text)
    assert not store.quit()
    assert told.asked == ["A batch is half written on Store. Close all the same?"]
    assert tab_to(store.qtbot, store.window, field).text() == text
    told.answer = "Close all the same"
    assert store.quit()


def test_the_page_with_what_is_half_written_comes_into_sight(store: StoreDesk, told: Told) -> None:
    store.write("Amount in all (mg)", "14")
    store.window.show_page("vials")
    assert not store.quit()
    assert store.window.page() is store.page


def test_nothing_is_asked_where_nothing_would_be_lost(store: StoreDesk, told: Told) -> None:
    store.context.go("store", clone_id=1)  # the name comes from the clone, and nothing was written
    store.settle()
    assert store.page.what.taxon.text() == "Dryopteris affinis"
    store.write("Number of vials", "2")
    store.write("Amount in all (mg)", "14")
    store.write("Amount in all (mg)", "")
    assert store.quit()
    assert told.asked == []


def test_nothing_is_asked_once_the_batch_is_stored_or_begun_anew(store: StoreDesk, told: Told) -> None:
    store.write("Taxon", "Osmunda regalis")
    store.write("Collected on", "2025")
    store.write("Amount in all (mg)", "14")
    store.keep()
    store.qtbot.waitUntil(store.page.stored.isVisible)
    store.qtbot.keyClick(at(store.window), Qt.Key.Key_Tab)
    store.qtbot.keyClick(at(store.window), Qt.Key.Key_Space)  # another of the same clone
    store.settle()
    assert store.page.what.taxon.text() == "Osmunda regalis"
    assert store.quit()
    assert told.asked == []


def test_another_batch_is_not_begun_over_one_half_written_unless_it_is_meant(store: StoreDesk, told: Told) -> None:
    store.write("Taxon", "Osmunda regalis")
    store.write("Amount in all (mg)", "14")
    store.context.go("store", clone_id=1)
    store.settle()
    assert told.asked == ["A batch is half written here. Begin another all the same?"]
    assert store.page.what.taxon.text() == "Osmunda regalis"
    assert tab_to(store.qtbot, store.window, "Amount in all (mg)").text() == "14"
    told.answer = "Begin another"
    store.context.go("store", clone_id=1)
    store.settle()
    assert store.page.what.taxon.text() == "Dryopteris affinis"
    assert tab_to(store.qtbot, store.window, "Amount in all (mg)").text() == ""


def test_a_sowing_half_written_is_asked_about(make_desk, told: Told) -> None:
    desk = make_desk(SowDesk)
    desk.take_first("Vials to sow from")
    desk.write("Spore in all (mg)", "2")
    assert not desk.quit()
    assert told.asked == ["A sowing is half written on Sow. Close all the same?"]
    desk.write("Spore in all (mg)", "")
    assert desk.quit()


def test_counts_not_recorded_are_asked_about(make_desk, told: Told) -> None:
    desk = make_desk(TestDesk)
    desk.take_first("Batches to test")
    desk.write("Count 2, germinated", "88")
    assert not desk.quit()
    assert told.asked == ["A test is half written on Test. Close all the same?"]
    desk.write("Count 2, germinated", "")
    assert desk.quit()


@pytest.mark.parametrize(("field", "text"), [("Line (%)", "3"), ("Line (%)", "much"), ("Your name", "Ida Brekke")])
def test_settings_written_and_not_kept_are_asked_about(make_desk, told: Told, field: str, text: str) -> None:
    desk = make_desk(SettingsDesk)
    before = tab_to(desk.qtbot, desk.window, field).text()
    desk.write(field, text)
    desk.window.show_page("vials")
    assert not desk.quit()
    assert told.asked == ["A setting is half written on Settings. Close all the same?"]
    assert desk.window.page() is desk.page
    desk.write(field, before)
    assert desk.quit()
    assert len(told.asked) == 1


def test_a_choice_of_the_settings_is_asked_about_until_it_is_kept(make_desk, told: Told) -> None:
    desk = make_desk(SettingsDesk)
    desk.choose("When to test", "Line")
    assert not desk.quit()
    assert told.asked == ["A setting is half written on Settings. Close all the same?"]
    desk.qtbot.keyClick(at(desk.window), Qt.Key.Key_S, CTRL)
    desk.settle()
    assert desk.quit()
    assert len(told.asked) == 1


def test_nothing_is_asked_about_settings_as_they_are_kept(make_desk, told: Told) -> None:
    desk = make_desk(SettingsDesk)
    mine = Sheet("", "Mine", 210, 297, 3, 8, 60, 30, 10, 12.5, 65, 34)

    def keep(bank: Bank) -> str:
        sheet_id = keep_sheet(bank, mine)
        change_settings(bank, replace(bank.settings, vial_sheet=sheet_id))
        return sheet_id

    sheet_id = desk.read(keep)
    desk.settle()
    desk.read(lambda bank: remove_sheet(bank, replace(mine, id=sheet_id)))
    desk.settle()
    desk.write("Line (%)", "20,0")  # the same number, written as some write it
    assert desk.quit()
    assert told.asked == []


@pytest.fixture
def session(
    qtbot: QtBot, theme: Theme, state: WindowState, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Session]:
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    for name in ("ferns", "other"):
        opening.create(tmp_path / f"{name}.sporebank", name, lambda: NOW).close()
    made = Session(theme, state, lambda: NOW, lambda: tmp_path)
    made.open(tmp_path / "ferns.sporebank")
    qtbot.waitUntil(lambda: isinstance(made.top, MainWindow))
    yield made
    assert made.end()
    qtbot.addWidget(made.top)


def _answer(qtbot: QtBot, *keys: Qt.Key) -> list[str]:
    """Press keys in the question as soon as it is there; what has the keyboard then is in the list."""
    seen: list[str] = []

    def press() -> None:
        question = QApplication.activeModalWidget()
        assert isinstance(question, Question)
        seen.append(question.focusWidget().text())
        for key in keys:
            qtbot.keyClick(question.focusWidget(), key)

    QTimer.singleShot(0, press)
    return seen


def test_return_waits_for_a_copy_also_where_another_bank_would_take_the_place(
    qtbot: QtBot, session: Session, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window, kept, gate = session.top, tmp_path / "kept.sporebank", threading.Event()
    context = session._context
    context._slow_lane.submit(lambda: gate.wait(20))
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(kept), ""))
    window.save_copy()
    seen = _answer(qtbot, Qt.Key.Key_Return)
    assert not window.close()
    again = _answer(qtbot, Qt.Key.Key_Return)
    session.raise_window(str(tmp_path / "other.sporebank"))
    assert seen == again == ["Wait"]
    assert session.top is window
    gate.set()
    qtbot.waitUntil(lambda: not context.background.busy)
    assert kept.is_file()


def test_return_keeps_writing_also_where_another_bank_would_take_the_place(
    qtbot: QtBot, session: Session, tmp_path: Path
) -> None:
    window = session.top
    window.show_page("store")
    qtbot.keyClicks(window.page().first_focus(), "Osmunda")
    seen = _answer(qtbot, Qt.Key.Key_Return)
    assert not window.close()
    again = _answer(qtbot, Qt.Key.Key_Return)
    session.raise_window(str(tmp_path / "other.sporebank"))
    assert seen == again == ["Keep writing"]
    assert window.page().what.taxon.text() == "Osmunda"
    _answer(qtbot, Qt.Key.Key_Backtab, Qt.Key.Key_Space)
    session.raise_window(str(tmp_path / "other.sporebank"))
    qtbot.waitUntil(lambda: "other" in session.top.windowTitle())
    assert session.top is not window
