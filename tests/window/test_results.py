"""Results and complaints in the window."""

from __future__ import annotations

from typing import Any

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from sporebank.bank import queries
from sporebank.core.results import ComplaintKind
from sporebank.jobs import figures, results
from sporebank.jobs.results import ComplaintForm
from sporebank.window.dialogs.cards import BatchDialog, CloneDialog
from sporebank.window.dialogs.results import ComplaintDialog, ResultsDialog, SettleDialog
from tests.jobs.test_results import sent
from tests.window.conftest import Told
from tests.window.desk import DialogDesk, Settle
from tests.window.keys import choose, doubled_letters, press, write


def build(bank: Any) -> None:
    figures.keep_fresh(bank)
    sent(bank)


@pytest.fixture
def desk(qtbot: QtBot, make_context: Any, settle: Settle, told: Told) -> DialogDesk:
    desk = DialogDesk(qtbot, make_context(), settle, told)
    desk.read(build)
    return desk


def batch_of(desk: DialogDesk) -> int:
    return int(desk.read(lambda bank: queries.sent_of_request(bank, 1))[0].batch_id)


def test_results_are_written_down_by_keyboard_and_seen_with_the_clone(desk: DialogDesk) -> None:
    dialog: ResultsDialog = desk.open("results", request_id=1)
    choose(desk.qtbot, dialog, "Athyrium filix-femina: germinated", "germinated")
    choose(desk.qtbot, dialog, "Athyrium filix-femina: name", "something else")
    write(desk.qtbot, dialog, "Athyrium filix-femina: note", "a male fern")
    press(desk.qtbot, dialog, "Write it down")
    desk.settle()
    assert desk.told is not None
    assert desk.told.infos[-1][0] == "What came of 1 packet is on record."
    batch = batch_of(desk)
    clone = desk.read(lambda bank: queries.batch(bank, batch).clone.id)
    card: CloneDialog = desk.open("clone", clone_id=clone)
    text = card.text.toPlainText()
    assert "1 of 1 germinated, 0 of 1 true to name" in text
    assert "Ida Brekke: germinated, something else, a male fern" in text


def test_nothing_told_is_refused(desk: DialogDesk) -> None:
    dialog: ResultsDialog = desk.open("results", request_id=1)
    press(desk.qtbot, dialog, "Write it down")
    desk.settle()
    assert "Nothing new is told" in dialog.message.text()
    unsent: ResultsDialog = desk.open("results", request_id=3)
    assert not unsent.go.isEnabled()


def test_a_complaint_has_its_letters_ready(desk: DialogDesk) -> None:
    batch = batch_of(desk)
    dialog: ComplaintDialog = desk.open("complaint", batch_id=batch)
    assert "2 packets of it went to 2 people" in dialog.about.text()
    assert dialog.pull.isVisible()
    choose(desk.qtbot, dialog, "What is wrong", "Dead")
    choose(desk.qtbot, dialog, "Told by", "Tom Arkwell")
    press(desk.qtbot, dialog, "Copy the letters")
    assert QApplication.clipboard().text().count("may no longer be alive") == 2
    assert doubled_letters(dialog) == []
    press(desk.qtbot, dialog, "Put it on record")
    desk.settle()
    (said,) = desk.read(lambda bank: queries.complaints_of(bank, batch_id=batch))
    assert (said.kind, said.by) == (ComplaintKind.DEAD, "Tom Arkwell")
    assert desk.read(lambda bank: queries.concern(bank, batch)).held == 0


def test_a_complaint_is_settled_from_the_card_of_the_batch(desk: DialogDesk) -> None:
    batch = batch_of(desk)
    form = ComplaintForm(batch, desk.context.today(), ComplaintKind.STRANGER)
    number = desk.read(lambda bank: results.complain(bank, form))
    card: BatchDialog = desk.open("batch", batch_id=batch)
    assert "not settled" in card.text.toPlainText()
    dialog: SettleDialog = desk.open("settle", complaint_id=number)
    press(desk.qtbot, dialog, "Settle it")
    desk.settle()
    assert "Say how it was settled" in dialog.form.fields["settled"].error
    write(desk.qtbot, dialog, "How it ended", "came true in our own pots")
    press(desk.qtbot, dialog, "Settle it")
    desk.settle()
    card = desk.open("batch", batch_id=batch)
    assert "settled: came true in our own pots" in card.text.toPlainText()
