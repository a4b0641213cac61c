"""A copy of the bank on another disk, asked for by keys."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from threading import Event, Timer
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QTextBrowser
from pytestqt.qtbot import QtBot

from sporebank.bank import opening
from sporebank.bank.bank import Bank
from sporebank.bank.sql import rows
from sporebank.window.context import Context
from sporebank.window.dialogs.help import HelpDialog
from sporebank.window.notice import Strip
from sporebank.window.theme import Theme
from tests.window.conftest import NOW, Told
from tests.window.desk import Settle, Show, WindowDesk
from tests.window.keys import press

Make = Callable[..., Context]


class CopyDesk(WindowDesk):
    """The window, and a file dialog in which a place is chosen at once."""

    key = "vials"

    def __init__(self, *given: Any, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__(*given)
        self.offered: list[str] = []
        self._patch = monkeypatch

    def copy_to(self, chosen: object) -> None:
        """Press the keys, choose a place, and wait for the end."""
        self.begin_copy_to(chosen)
        self.wait()

    def wait(self) -> None:
        """Wait for the end of all that is under way."""
        self.qtbot.waitUntil(lambda: not self.context.background.busy)
        self.settle()

    def begin_copy_to(self, chosen: object) -> None:
        """Press the keys and choose a place."""

        def ask(*given: str) -> tuple[str, str]:
            self.offered.append(given[2])
            return str(chosen), ""

        self._patch.setattr(QFileDialog, "getSaveFileName", ask)
        keys = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
        self.qtbot.keyClick(self.window, Qt.Key.Key_Y, keys)

    def hold(self) -> Event:
        """Let copies wait until the event returned is set, as a slow stick does."""
        gate = Event()
        self.context._slow_lane.submit(lambda: gate.wait(20))
        return gate


@pytest.fixture
def desk(
    qtbot: QtBot, make_context: Make, settle: Settle, show: Show, theme: Theme, monkeypatch: pytest.MonkeyPatch
) -> CopyDesk:
    return CopyDesk(qtbot, make_context(30), settle, show, monkeypatch=monkeypatch)


def _codes(bank: Bank) -> list[str]:
    return [str(row[0]) for row in rows(bank, "SELECT code FROM vial ORDER BY id")]


def test_a_copy_is_made_by_keys_and_opens_as_a_bank(desk: CopyDesk, told: Told, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    desk.copy_to(stick / "Society's drive")
    kept = stick / "Society's drive.sporebank"
    assert list(stick.iterdir()) == [kept]
    assert told.errors == told.bugs == told.asked == []
    assert told.infos[-1][0] == f"A copy of the bank lies at {kept} ({kept.stat().st_size / 1000:.0f} KB)."
    copy = opening.open_bank(kept, lambda: NOW)
    assert _codes(copy) == desk.read(_codes)
    copy.close()


def test_the_name_has_the_bank_and_the_day_and_the_folder_is_remembered(desk: CopyDesk, tmp_path: Path) -> None:
    desk.copy_to("")
    assert desk.offered == [str(Path.home() / "Fern House 2026-05-04.sporebank")]
    desk.copy_to(tmp_path / "one.sporebank")
    desk.copy_to(tmp_path / "gone" / "two.sporebank")  # nothing is written there
    desk.copy_to("")
    assert desk.offered[-1] == str(tmp_path / "Fern House 2026-05-04.sporebank")


def test_what_is_there_is_not_written_over_without_asking(desk: CopyDesk, told: Told, tmp_path: Path) -> None:
    letter = tmp_path / "letter.sporebank"
    letter.write_text("Dear fern friends")
    desk.copy_to(tmp_path / "letter")
    assert told.asked == ["letter.sporebank is there already. Write over it?"]
    assert letter.read_text() == "Dear fern friends"
    told.answer = "Write over it"
    desk.copy_to(tmp_path / "letter")
    assert letter.read_bytes().startswith(b"SQLite format 3")


def test_a_stick_that_is_gone_and_the_bank_itself_are_refused(desk: CopyDesk, told: Told, tmp_path: Path) -> None:
    desk.copy_to(tmp_path / "gone" / "kept.sporebank")
    assert "There is no folder" in str(told.errors[-1])
    desk.copy_to(desk.context.path)
    assert "is the bank itself" in str(told.errors[-1])
    assert told.infos == told.bugs == []
    assert len(desk.read(_codes)) == 30


def test_closing_asks_while_a_copy_is_written_and_waits_when_told_to(
    desk: CopyDesk, told: Told, tmp_path: Path
) -> None:
    gate = desk.hold()
    desk.begin_copy_to(tmp_path / "kept")
    assert not desk.window.close()
    assert told.asked == ["A copy of the bank is being written. Close all the same?"]
    gate.set()
    desk.wait()
    assert told.infos[-1][0].startswith(f"A copy of the bank lies at {tmp_path / 'kept.sporebank'}")
    assert desk.window.close()
    assert len(told.asked) == 1


def test_a_bank_closed_all_the_same_leaves_no_piece_of_a_copy(desk: CopyDesk, told: Told, tmp_path: Path) -> None:
    gate, stick = desk.hold(), tmp_path / "stick"
    stick.mkdir()
    desk.begin_copy_to(stick / "kept")
    told.answer = "Close all the same"
    assert desk.window.close()
    Timer(0.05, gate.set).start()
    assert desk.context.shut()
    assert list(stick.iterdir()) == []


def test_a_copy_that_was_stopped_says_so(desk: CopyDesk, told: Told, tmp_path: Path) -> None:
    gate = desk.hold()
    desk.begin_copy_to(tmp_path / "kept")
    desk.qtbot.waitUntil(desk.window.findChild(Strip).stop.isVisible)
    press(desk.qtbot, desk.window, "Stop")
    gate.set()
    desk.wait()
    assert [text for text, _ in told.infos] == ["No copy was made."]
    assert told.errors == told.bugs == []
    assert list(tmp_path.glob("kept*")) == []


def test_papers_do_not_wait_for_a_copy(desk: CopyDesk, tmp_path: Path) -> None:
    gate = desk.hold()
    desk.begin_copy_to(tmp_path / "kept")
    pages: list[int] = []
    desk.context.work("Drawing the page", lambda *_: 1, pages.append)
    desk.qtbot.waitUntil(lambda: bool(pages))
    assert desk.context.background.title == "Copying the bank"
    gate.set()
    desk.wait()


def test_the_help_tells_the_key(desk: CopyDesk, show: Show) -> None:
    dialog = HelpDialog(desk.context)
    show(dialog)
    said = dialog.findChild(QTextBrowser).toPlainText()
    assert "Save a copy…: Put a copy of the whole bank on another disk or a stick" in said
    assert "Ctrl+Shift+Y" in said
