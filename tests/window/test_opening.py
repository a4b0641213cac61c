from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QDialog, QFileDialog, QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from sporebank.__main__ import parse
from sporebank.bank import backup, opening
from sporebank.core.errors import Refusal
from sporebank.core.settings import Settings
from sporebank.jobs.settings import change_settings
from sporebank.window.main import MainWindow
from sporebank.window.opening_screen import CannotOpen, FirstStart, bank_path, default_folder, file_name
from sporebank.window.session import Session
from sporebank.window.single import SingleWindow
from sporebank.window.state import WindowState
from sporebank.window.tell import BugReport, Question, WindowTell, catch_everything, tell_failure
from sporebank.window.theme import Theme, palettes, tokens
from tests.window.conftest import NOW, Told

Show = Callable[[QWidget], QWidget]


def _button(widget: QWidget, text: str) -> QPushButton:
    return next(one for one in widget.findChildren(QPushButton) if one.text() == text)


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("Fern House", "Fern House.sporebank"), ("A/B: ferns?", "A B ferns.sporebank"),
        ("", "Spore bank.sporebank"), ("Šumava č. 2", "Šumava č 2.sporebank"),
    ],
)  # fmt: skip
def test_a_file_is_named_after_its_bank(name: str, file: str) -> None:
    assert file_name(name) == file


def test_the_place_is_proposed_until_the_keeper_changes_it(qtbot: QtBot, theme: Theme, show: Show) -> None:
    screen = FirstStart()
    show(screen)
    qtbot.keyClicks(screen.name, "Fern House")
    assert Path(screen.place.text()).name == "Fern House.sporebank"
    qtbot.keyClicks(screen.place, "x")
    chosen = screen.place.text()
    qtbot.keyClicks(screen.name, " 2")
    assert screen.place.text() == chosen
    with qtbot.waitSignal(screen.create_wanted) as wanted:
        qtbot.keyClick(screen.name, Qt.Key.Key_Return)
    assert wanted.args == ["Fern House 2", bank_path(chosen)]
    screen.refuse(Refusal("Give the bank a name.", field="name"))
    assert "Give the bank a name." in screen.form.fields["name"].error


@pytest.mark.parametrize(
    ("written", "path"),
    [
        ("ferns", default_folder() / "ferns.sporebank"),
        (" ferns.sporebank ", default_folder() / "ferns.sporebank"),
        ("/cold/store/ferns v1.2", Path("/cold/store/ferns v1.2.sporebank")),
        ("~/ferns.sporebank", Path.home() / "ferns.sporebank"),
    ],
)
def test_a_bank_is_made_where_its_place_says_with_its_ending(written: str, path: Path) -> None:
    assert bank_path(written) == path


def test_the_first_start_fits_a_small_screen_at_150_percent(qtbot: QtBot, theme: Theme, show: Show) -> None:
    screen = FirstStart()
    show(screen)
    assert screen.minimumSizeHint().height() < 512 - 60
    screen.resize(640, 420)
    qtbot.waitUntil(lambda: screen.height() == 420)
    last = _button(screen, "Look round in the demo bank")
    last.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.waitUntil(lambda: last.visibleRegion().boundingRect().height() == last.height())


def test_a_place_left_empty_is_refused_beside_the_field(qtbot: QtBot, theme: Theme, show: Show) -> None:
    screen = FirstStart()
    show(screen)
    qtbot.keyClicks(screen.name, "Fern House")
    screen.place.clear()
    with qtbot.assertNotEmitted(screen.create_wanted):
        qtbot.keyClick(screen.place, Qt.Key.Key_Return)
    assert "where the file shall lie" in screen.form.fields["path"].error


@pytest.fixture
def session(qtbot: QtBot, theme: Theme, state: WindowState, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    made = Session(theme, state, lambda: NOW, lambda: _made(tmp_path / "demo.sporebank"))
    yield made
    assert made.end()
    if made.top is not None:
        qtbot.addWidget(made.top)


def _made(path: Path) -> Path:
    opening.create(path, "Fern House", lambda: NOW).close()
    return path


def test_a_first_start_makes_a_bank_and_the_next_one_opens_it(
    qtbot: QtBot, session: Session, state: WindowState, tmp_path: Path
) -> None:
    session.start(None)
    screen = session.top
    assert isinstance(screen, FirstStart)
    screen.name.setText("Fern House")
    screen.place.setText(str(tmp_path / "here" / "Fern House.sporebank"))
    qtbot.mouseClick(_button(screen, "Make the bank"), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow), timeout=20_000)
    assert (tmp_path / "here" / "Fern House.sporebank").is_file()
    session.top.close()
    session.start(None)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow) and session.top.isVisible(), timeout=20_000)
    assert "Fern House" in session.top.windowTitle()


def test_the_look_of_a_bank_is_put_on_before_its_window_is_there(
    qtbot: QtBot, session: Session, theme: Theme, tmp_path: Path
) -> None:
    bank = opening.create(tmp_path / "dark.sporebank", "Fern House", lambda: NOW)
    change_settings(bank, Settings(appearance="dark"))
    bank.close()
    theme.choose("light")
    shown: list[bool] = []

    def note() -> None:
        shown.append(isinstance(session.top, MainWindow))

    theme.changed.connect(note)
    session.start(bank.path)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    assert tokens() == palettes()["dark"]
    session._context.do(lambda bank: change_settings(bank, Settings(appearance="light")))
    qtbot.waitUntil(lambda: tokens() == palettes()["light"])
    theme.changed.disconnect(note)
    assert shown == [False, True]


def test_a_name_left_empty_is_refused_beside_the_field(qtbot: QtBot, session: Session, tmp_path: Path) -> None:
    session.start(None)
    screen = session.top
    screen.place.setText(str(tmp_path / "x.sporebank"))
    qtbot.mouseClick(_button(screen, "Make the bank"), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: bool(screen.form.fields["name"].error), timeout=20_000)
    assert session.top is screen


def test_the_demo_bank_opens(qtbot: QtBot, session: Session) -> None:
    session.start(None)
    qtbot.mouseClick(_button(session.top, "Look round in the demo bank"), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow), timeout=20_000)


def test_a_damaged_bank_leads_to_one_screen_and_its_backup_opens(
    qtbot: QtBot, session: Session, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _made(tmp_path / "bank.sporebank")
    kept = backup.daily(path, NOW.date(), 3)
    assert kept is not None
    path.write_bytes(b"SQLite format 3\x00" + b"\xff" * 5000)
    session.start(path)
    qtbot.waitUntil(lambda: isinstance(session.top, CannotOpen), timeout=20_000)
    screen = session.top
    assert "damaged" in screen.text.text()
    assert not screen.details.isVisible()
    _button(screen, "Details").click()
    assert screen.details.isVisible()
    assert screen.details.toPlainText()
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(kept), ""))
    qtbot.mouseClick(_button(screen, "Open a backup…"), Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow), timeout=20_000)
    assert [found.name for found in tmp_path.glob("*put aside*")], "the damaged file is kept"


def test_a_foreign_and_a_missing_file_say_so(qtbot: QtBot, session: Session, tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear fern friends, this is a letter and no bank at all.", encoding="utf-8")
    session.start(letter)
    qtbot.waitUntil(lambda: isinstance(session.top, CannotOpen), timeout=20_000)
    assert "not a bank" in session.top.text.text()
    session.open(tmp_path / "gone.sporebank")
    qtbot.waitUntil(lambda: "There is no bank at" in session.top.text.text(), timeout=20_000)
    _button(session.top, "Make a new bank…").click()
    assert isinstance(session.top, FirstStart)


def test_a_locked_bank_opens_when_tried_again(qtbot: QtBot, session: Session, tmp_path: Path) -> None:
    holder = opening.create(tmp_path / "bank.sporebank", "Fern House", lambda: NOW)
    session.start(holder.path)
    qtbot.waitUntil(lambda: isinstance(session.top, CannotOpen), timeout=20_000)
    assert "open in another window" in session.top.text.text()
    holder.close()
    _button(session.top, "Try again").click()
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow), timeout=20_000)
    session.top.hide()
    session.raise_window()
    assert session.top.isVisible()


def test_a_second_start_raises_the_first(qtbot: QtBot, tmp_path: Path) -> None:
    name = str(tmp_path / "single")
    first = SingleWindow(name)
    assert first.is_first()
    with qtbot.waitSignal(first.raised) as raised:
        assert not SingleWindow(name).is_first(Path("/banks/other.sporebank"))
    assert raised.args == ["/banks/other.sporebank"]
    first.close()
    again = SingleWindow(name)
    assert again.is_first()
    again.close()


def test_a_bank_named_at_a_second_start_is_found_from_any_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert parse(["ferns.sporebank"]).bank == tmp_path.resolve() / "ferns.sporebank"
    assert parse([]).bank is None


class TestTell:
    def test_a_question_is_answered_by_key_and_turned_away_by_escape(
        self, qtbot: QtBot, theme: Theme, show: Show
    ) -> None:
        asked = Question("Cull 9 vials?", ("Cull them",), "They can be brought back.")
        show(asked)
        qtbot.keyClick(asked, Qt.Key.Key_Escape)
        assert asked.chosen == ""
        again = Question("Cull 9 vials?", ("Cull them",))
        show(again)
        qtbot.keyClick(again, Qt.Key.Key_Return)
        assert again.chosen == "Cull them"

    def test_a_fault_is_reported_with_details_to_copy(self, qtbot: QtBot, theme: Theme, show: Show) -> None:
        try:
            raise ValueError("the sum does not add up")
        except ValueError as failure:
            shown = BugReport(failure)
        show(shown)
        _button(shown, "Copy").click()
        copied = QGuiApplication.clipboard().text()
        assert "ValueError: the sum does not add up" in copied
        assert "sporebank" in copied

    def test_refusals_and_faults_take_different_doors(self, told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(sys, "excepthook", sys.excepthook)
        catch_everything(told)
        sys.excepthook(Refusal, Refusal("No."), None)
        sys.excepthook(ValueError, ValueError("broken"), None)
        assert [str(one) for one in told.errors] == ["No."]
        assert [str(one) for one in told.bugs] == ["broken"]

    def test_the_window_is_told_through_one_signal(self, qtbot: QtBot) -> None:
        tell = WindowTell()
        with qtbot.waitSignal(tell.noticed) as noticed:
            tell_failure(tell, Refusal("No."))
        assert noticed.args == ["No.", None, True]

    def test_a_refusal_is_said_above_the_dialog_that_hides_the_notice(
        self, qtbot: QtBot, theme: Theme, show: Show
    ) -> None:
        dialog, tell = QDialog(modal=True), WindowTell()
        noticed: list[str] = []
        seen: list[str] = []
        tell.noticed.connect(lambda text, *_: noticed.append(text))

        def look() -> None:
            front = QApplication.activeModalWidget()
            assert isinstance(front, Question)
            seen.append(front.findChild(QLabel).text())
            qtbot.keyClick(front, Qt.Key.Key_Return)

        show(dialog)
        QTimer.singleShot(0, look)
        tell_failure(tell, Refusal("The disk is full."))
        assert (seen, noticed) == (["The disk is full."], [])
        assert dialog.isVisible()
        dialog.close()
        tell_failure(tell, Refusal("The disk is still full."))
        assert noticed == ["The disk is still full."]
