"""Dialogs that are closed do not stay behind for the rest of the day, and nobody answers to one that is gone."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QDialog
from pytestqt.qtbot import QtBot
from shiboken6 import isValid

from sporebank.bank.bank import Bank
from sporebank.core.layout import Kind
from sporebank.core.looks import LookKind
from sporebank.core.records import Changed
from sporebank.jobs import figures
from sporebank.jobs.looks import LookForm, record
from sporebank.jobs.sowing import SowForm, sow
from sporebank.window import printing
from sporebank.window.context import Context
from sporebank.window.main import MainWindow
from sporebank.window.pages import PAGES
from sporebank.window.pictures import Use
from sporebank.window.theme import Theme
from tests.builders import counted
from tests.window.conftest import Told
from tests.window.desk import Make, Settle, Show

TIMES = 4


def _stock(bank: Bank) -> None:
    sow(bank, SowForm(1, "Lean-to", bank.today(), 2, 300))
    record(bank, LookForm((1, 2), bank.today(), LookKind.FILM))
    counted(bank, 1, 60, on=bank.today())
    figures.keep_fresh(bank)


PLAIN: dict[str, dict[str, Any]] = {
    "help": {},
    "take_spore": {"vial_ids": (1,)},
    "move_vials": {"vial_ids": (1, 2)},
    "note_vial": {"vial_id": 1},
    "look": {"pot_ids": (1,)},
    "looks": {"pot_ids": (1, 2)},
    "mishap": {"vial_ids": (1,)},
    "keeping": {},
    "clone": {"clone_id": 2},
    "batch": {"batch_id": 1},
    "chart": {"vial_id": 1},
    "test": {"test_id": 1},
    "change_clone": {"clone_id": 2},
    "change_batch": {"batch_id": 2},
    "change_name": {"clone_id": 2},
    "label_stock": {},
    "printer": {},
    "contacts": {},
    "new_request": {},
    "exchange": {},
    "receive": {},
    "add_place": {},
    "rename_place": {"place_id": 1},
    "set_conditions": {"place_id": 1},
    "stocktake": {"place_id": 3},
    "move_place": {"place_id": 3},
    "picture": {"sources": [b"no picture"], "use": Use("Look it up.")},
}
ASKED: dict[str, Callable[[Context], None]] = {
    **{key: lambda context, key=key: context.dialog(key, **PLAIN[key]) for key in PLAIN},
    "labels": lambda context: printing.labels_for(context, Kind.VIAL, [1, 2, 3]),
    "report": lambda context: printing.batch_report(context, 1, 1),
}


class Closing:
    """A window whose dialogs are closed as soon as they are there, or once what they show has come."""

    def __init__(self, qtbot: QtBot, context: Context, settle: Settle, show: Show) -> None:
        self.qtbot, self.context, self.settle = qtbot, context, settle
        self.window = MainWindow(context, tuple(spec for spec in PAGES if spec.key == "vials"))
        show(self.window)
        settle(context)
        self.met: list[QDialog] = []

    def open(self, ask: Callable[[Context], None], *, at_once: bool) -> None:
        """Open a dialog and close it."""
        closing = QTimer(self.window, singleShot=True, interval=0)

        def close() -> None:
            dialog = QApplication.activeModalWidget()
            assert isinstance(dialog, QDialog)
            self.met.append(dialog)
            if not at_once:
                self.settle(self.context)
                self.qtbot.waitUntil(lambda: not self.context.background.busy)
            dialog.reject()

        closing.timeout.connect(close)
        closing.start()
        ask(self.context)

    def left(self) -> list[QDialog]:
        """Return the dialogs that are left of those met."""
        return [dialog for dialog in self.met if isValid(dialog)]


@pytest.fixture
def closing(qtbot: QtBot, theme: Theme, make_context: Make, settle: Settle, show: Show) -> Closing:
    context = make_context(60, stock=_stock)
    context.do(figures.keep_fresh)
    return Closing(qtbot, context, settle, show)


@pytest.mark.parametrize("key", ASKED)
def test_a_dialog_is_gone_soon_after_it_is_closed_and_hears_nothing_more(
    closing: Closing, told: Told, theme: Theme, key: str
) -> None:
    before = None
    for number in range(TIMES):
        closing.open(ASKED[key], at_once=bool(number % 2))
        closing.settle(closing.context)
        closing.qtbot.waitUntil(lambda: closing.left() == [])
        children = len(closing.window.findChildren(QDialog))
        before = children if before is None else before
        assert children == before
    assert len(closing.met) == TIMES
    closing.context.changed.emit(Changed(0, "Everything", {"vial": frozenset({1}), "offering": frozenset({1})}))
    closing.context.background.progress.emit(1, 2, "Page 1 of 2")
    theme.changed.emit()
    closing.settle(closing.context)
    assert told.bugs == told.errors == []


def test_a_dialog_stays_until_it_has_had_its_answers(closing: Closing, told: Told) -> None:
    gate, answers = threading.Event(), []

    def ask(context: Context) -> None:
        context.read(lambda bank: gate.wait(), lambda _: answers.append(len(closing.left())))
        context.dialog("clone", clone_id=2)

    closing.open(ask, at_once=True)
    QApplication.processEvents()
    assert len(closing.left()) == 1
    gate.set()
    closing.qtbot.waitUntil(lambda: closing.left() == [])
    assert answers == [1]
    assert told.bugs == []


def test_a_dialog_stays_while_slow_work_may_still_answer_it(closing: Closing, told: Told) -> None:
    gate = threading.Event()
    closing.context.work("Slow", lambda *_: gate.wait(), slow=True)
    closing.open(ASKED["clone"], at_once=True)
    closing.settle(closing.context)
    assert len(closing.left()) == 1
    gate.set()
    closing.qtbot.waitUntil(lambda: closing.left() == [])
    assert told.bugs == []


def test_a_dialog_over_a_dialog_goes_before_it(closing: Closing, told: Told) -> None:
    under: list[QDialog] = []
    watch = QTimer(closing.window, interval=5)

    def over() -> None:
        under.append(QApplication.activeModalWidget())
        closing.open(ASKED["label_stock"], at_once=False)
        watch.start()

    def close_under() -> None:
        if closing.left() == []:
            watch.stop()
            under[0].reject()

    watch.timeout.connect(close_under)
    QTimer.singleShot(0, closing.window, over)
    ASKED["labels"](closing.context)
    assert len(closing.met) == 1
    closing.qtbot.waitUntil(lambda: not isValid(under[0]))
    assert told.bugs == told.errors == []
