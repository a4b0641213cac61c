import sys
from datetime import date, datetime, timedelta
from threading import Event, Timer

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from sporebank.bank import backup, opening, queries
from sporebank.core.records import State, VialFilter
from sporebank.core.settings import Settings
from sporebank.jobs import figures, undo, vials
from sporebank.jobs.settings import change_settings
from sporebank.window.main import MainWindow
from sporebank.window.session import Session
from sporebank.window.upkeep import Upkeep
from tests import builders


class Clock:
    def __init__(self):
        self.day = date(2026, 3, 14)

    def __call__(self):
        return datetime(self.day.year, self.day.month, self.day.day, 10)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def session(qtbot, theme, state, clock, monkeypatch):
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    made = Session(theme, state, clock, lambda: None)
    yield made
    assert made.end()
    qtbot.addWidget(made.top)


@pytest.fixture
def kept(tmp_path, clock):
    """A bank with a batch of which no figures were ever computed."""
    bank = opening.create(tmp_path / "ferns.sporebank", "Ferns", clock)
    builders.fridge(bank)
    builders.stored(bank)
    bank.close()
    return bank.path


def ask(qtbot, session, query):
    answers = []
    session._context.read(query, answers.append)
    qtbot.waitUntil(lambda: bool(answers))
    return answers[0]


def states(bank):
    return {row.state for row in queries.vials(bank, VialFilter(), "code", False, 0, 10)}


def test_figures_and_a_copy_follow_the_opening(qtbot, session, kept, clock):
    session.open(kept)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    qtbot.waitUntil(lambda: not ask(qtbot, session, figures.stale))
    assert ask(qtbot, session, states) == {State.ALIVE}
    target = backup.folder(kept) / "ferns 2026-03-14.sporebank-copy"
    qtbot.waitUntil(target.exists)


def test_a_new_day_is_noticed_while_the_window_is_open(qtbot, session, kept, clock):
    session.open(kept)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    qtbot.waitUntil(lambda: not ask(qtbot, session, figures.stale))
    clock.day += timedelta(days=1)
    assert ask(qtbot, session, figures.stale)
    session._context.findChild(Upkeep)._clock.timeout.emit()
    qtbot.waitUntil(lambda: not ask(qtbot, session, figures.stale))


def test_figures_follow_a_setting_its_undo_and_two_in_a_row(qtbot, session, kept):
    """Behind the keeper's work; what is changed while they are computed is not overlooked."""
    session.open(kept)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    qtbot.waitUntil(lambda: not ask(qtbot, session, figures.stale))

    def settled(expected):
        qtbot.waitUntil(lambda: not ask(qtbot, session, figures.stale))
        assert ask(qtbot, session, states) == {expected}

    assert ask(qtbot, session, states) == {State.ALIVE}
    session._context.do(lambda bank: change_settings(bank, Settings(alive_line=0.98, cull_line=0.95)))
    settled(State.SPENT)
    session._context.do(undo.undo)
    settled(State.ALIVE)
    for settings in (Settings(alive_line=0.98, cull_line=0.95), Settings(alive_line=0.98)):
        session._context.do(lambda bank, settings=settings: change_settings(bank, settings))
    settled(State.FADING)


def test_a_second_start_with_another_bank_opens_it(qtbot, session, kept, tmp_path, clock):
    opening.create(tmp_path / "other.sporebank", "Other", clock).close()
    session.open(kept)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    session.raise_window(str(kept))
    assert session._context.path == kept
    session.raise_window(str(tmp_path / "other.sporebank"))
    qtbot.waitUntil(lambda: session._context is not None and session._context.name == "Other")
    assert isinstance(session.top, MainWindow)


def test_a_file_taken_away_while_it_is_open_is_said_after_the_next_deed(qtbot, session, kept):
    session.open(kept)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    kept.rename(kept.with_name("elsewhere.sporebank"))
    session._context.do(lambda bank: vials.note(bank, [1], "cap is cracked"))
    notice = session.top.notice
    qtbot.waitUntil(lambda: "no longer at" in notice.label.text())
    assert notice.property("bad")


def test_figures_that_cannot_be_kept_are_said_and_follow_once_they_can(qtbot, session, kept, clock):
    session.open(kept)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    qtbot.waitUntil(lambda: not ask(qtbot, session, figures.stale))
    clock.day += timedelta(days=1)
    ask(qtbot, session, lambda bank: bank.database.execute_sql("PRAGMA query_only = 1").fetchall())
    upkeep = session._context.findChild(Upkeep)
    upkeep._clock.timeout.emit()
    notice = session.top.notice
    qtbot.waitUntil(lambda: "How alive each vial is could not be worked out anew. The" in notice.label.text())
    assert "may not be written to" in notice.label.text()
    notice.hide()
    upkeep._clock.timeout.emit()
    qtbot.waitUntil(lambda: not upkeep._pieces)
    ask(qtbot, session, figures.stale)
    assert not notice.isVisible()  # it is not said over and over
    ask(qtbot, session, lambda bank: bank.database.execute_sql("PRAGMA query_only = 0").fetchall())
    upkeep._clock.timeout.emit()
    qtbot.waitUntil(lambda: not ask(qtbot, session, figures.stale))


def test_a_deed_is_not_lost_by_closing_the_window_before_its_turn(qtbot, session, kept, clock):
    session.open(kept)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    qtbot.waitUntil(lambda: not ask(qtbot, session, figures.stale))
    gate = Event()
    session._context.read(
        lambda _: gate.wait(20), lambda _: None, background=True
    )  # the bank is busy with something else
    session._context.do(lambda bank: vials.note(bank, [1], "cap is cracked"))
    Timer(0.05, gate.set).start()
    session.top.close()
    bank = opening.open_bank(kept, clock)
    assert queries.vials_by_id(bank, [1])[0].note == "cap is cracked"
    bank.close()


def test_a_second_start_opens_no_other_bank_behind_a_dialog(qtbot, session, kept, tmp_path, clock):
    opening.create(tmp_path / "other.sporebank", "Other", clock).close()
    session.open(kept)
    qtbot.waitUntil(lambda: isinstance(session.top, MainWindow))
    seen = []

    def meanwhile():
        session.raise_window(str(tmp_path / "other.sporebank"))
        seen.append(session._context.path)
        QApplication.activeModalWidget().reject()

    QTimer.singleShot(0, meanwhile)
    session.top.show_help()
    assert seen == [kept]
