from __future__ import annotations

import threading
import weakref

import pytest
from PySide6.QtCore import QObject, QThread
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from sporebank.core.errors import Refusal, Stopped
from sporebank.window.background import Background
from sporebank.window.lane import Lane
from tests.window.conftest import Told


def _hold(lane: Lane) -> threading.Event:
    """Keep the lane busy until the event returned is set."""
    begun, gate = threading.Event(), threading.Event()

    def hold() -> None:
        begun.set()
        gate.wait()

    lane.submit(hold)
    begun.wait()
    return gate


def test_work_runs_in_one_other_thread_and_answers_here(qtbot: QtBot, lane: Lane) -> None:
    ran: list[int] = []
    answered: list[bool] = []
    for _ in range(3):
        lane.submit(
            lambda: ran.append(threading.get_ident()),
            then=lambda _: answered.append(QThread.currentThread().isMainThread()),
        )
    qtbot.waitUntil(lambda: len(answered) == 3)
    assert len(set(ran)) == 1
    assert ran[0] != threading.get_ident()
    assert answered == [True] * 3


def test_the_keeper_goes_before_the_background(qtbot: QtBot, lane: Lane) -> None:
    gate = _hold(lane)
    order: list[str] = []
    lane.submit(lambda: order.append("count"), background=True)
    lane.submit(lambda: order.append("first"))
    lane.submit(lambda: order.append("second"), then=lambda _: None)
    done: list[None] = []
    lane.submit(lambda: None, then=done.append, background=True)
    gate.set()
    qtbot.waitUntil(lambda: bool(done))
    assert order == ["first", "second", "count"]


def test_a_failure_goes_to_failed_and_without_it_to_the_door(qtbot: QtBot, lane: Lane, told: Told) -> None:
    def fail() -> None:
        raise Refusal("No.")

    failures: list[Exception] = []
    lane.submit(fail, failed=failures.append)
    lane.submit(fail)
    qtbot.waitUntil(lambda: bool(failures and told.bugs))
    assert str(failures[0]) == "No."
    assert len(told.bugs) == 1


def test_a_cancelled_ticket_gets_no_answer(qtbot: QtBot, lane: Lane) -> None:
    gate = threading.Event()
    answers: list[str] = []

    def slow() -> str:
        gate.wait()
        return "late"

    running = lane.submit(slow, then=answers.append)
    waiting = lane.submit(lambda: "never", then=answers.append)
    running.cancel()
    waiting.cancel()
    gate.set()
    lane.submit(lambda: "last", then=answers.append)
    qtbot.waitUntil(lambda: bool(answers))
    assert answers == ["last"]


def test_a_widget_that_is_gone_gets_no_answer(qtbot: QtBot, lane: Lane, told: Told) -> None:
    class Page(QObject):
        def hear(self, answer: int) -> None:
            self.setObjectName(str(answer))

    page = Page()
    gate = threading.Event()
    lane.submit(gate.wait, then=page.hear)
    page.deleteLater()
    destroyed: list[int] = []
    page.destroyed.connect(lambda: destroyed.append(1))
    qtbot.waitUntil(lambda: bool(destroyed))
    gate.set()
    done: list[int] = []
    lane.submit(lambda: 1, then=done.append)
    qtbot.waitUntil(lambda: bool(done))
    assert told.bugs == []


def test_a_lane_is_busy_until_the_last_answer_has_been_given_and_asked_no_more(qtbot: QtBot, lane: Lane) -> None:
    seen: list[bool] = []

    def answer(_: int) -> None:
        seen.append(lane.busy)
        if len(seen) < 3:
            lane.submit(lambda: 1, then=answer)

    with qtbot.waitSignal(lane.idle):
        lane.submit(lambda: 1, then=answer)
        lane.submit(lambda: 2).cancel()
        assert lane.busy
    assert seen == [True] * 3
    assert not lane.busy


def test_a_lane_is_idle_again_after_an_answer_that_failed(qtbot: QtBot, lane: Lane, told: Told) -> None:
    def fail() -> None:
        raise Refusal("No.")

    with qtbot.waitSignal(lane.idle):
        lane.submit(fail)
    assert len(told.bugs) == 1
    assert not lane.busy


def test_shutting_drops_what_waits_and_runs_the_last_deed_in_the_lane(told: Told) -> None:
    lane = Lane(told.bug)
    ran: list[str] = []
    gate = _hold(lane)
    lane.submit(lambda: ran.append("waiting"), background=True)
    threading.Timer(0.05, gate.set).start()
    assert lane.shut(lambda: ran.append(threading.current_thread().name))
    assert ran == ["lane"]
    lane.submit(lambda: ran.append("too late"))
    assert ran == ["lane"]


def test_a_deed_that_waits_is_done_before_the_lane_ends_and_answers_nobody(told: Told, qtbot: QtBot) -> None:
    lane = Lane(told.bug)
    ran: list[str] = []
    gate = _hold(lane)
    for number in (1, 2):
        lane.submit(lambda number=number: ran.append(f"deed {number}"), then=lambda _: ran.append("told"), deed=True)
        lane.submit(lambda: ran.append("reading"))
    threading.Timer(0.05, gate.set).start()
    assert lane.shut(lambda: ran.append("closed"))
    assert ran == ["deed 1", "deed 2", "closed"]
    qtbot.waitUntil(lambda: lane._last is not None and not lane._queue.qsize())
    QApplication.processEvents()
    assert ran == ["deed 1", "deed 2", "closed"]


def test_shutting_says_when_the_work_does_not_end(told: Told) -> None:
    lane = Lane(told.bug)
    gate = _hold(lane)
    assert not lane.shut(limit=0.05)
    gate.set()
    assert lane.shut()


class TestBackground:
    def test_progress_is_told_and_the_result_given(self, qtbot: QtBot, lane: Lane) -> None:
        background = Background()
        results: list[int] = []

        def job(report, cancelled) -> int:
            for step in range(3):
                report(step, 3, f"label {step}")
            return 3

        with qtbot.waitSignals([background.progress, background.ended]):
            background.run(lane, "Labels", job, results.append)
            assert background.busy
        qtbot.waitUntil(lambda: results == [3])
        assert not background.busy

    def test_it_is_shown_only_once_it_takes_a_while(self, qtbot: QtBot, lane: Lane) -> None:
        background = Background()
        gate = threading.Event()
        started: list[str] = []
        background.started.connect(started.append)
        with qtbot.waitSignal(background.ended):
            background.run(lane, "Quick", lambda report, cancelled: None)
        with qtbot.waitSignal(background.started):
            background.run(lane, "Slow", lambda report, cancelled: gate.wait())
        gate.set()
        qtbot.waitUntil(lambda: not background.busy)
        assert started == ["Slow"]

    def test_a_stopped_job_calls_nothing_back(self, qtbot: QtBot, lane: Lane, told: Told) -> None:
        background = Background()
        begun = threading.Event()
        answers: list[object] = []

        def job(report, cancelled) -> None:
            begun.set()
            while not cancelled():
                threading.Event().wait(0.005)
            raise Stopped

        background.run(lane, "Endless", job, answers.append, answers.append)
        begun.wait()
        with qtbot.waitSignal(background.ended):
            background.stop()
        assert answers == []
        assert told.bugs == []

    def test_of_two_jobs_the_first_is_told_of_and_stopped_then_the_other(
        self, qtbot: QtBot, lane: Lane, told: Told
    ) -> None:
        background, beside = Background(), Lane(told.bug, "beside")
        spoken, gate = threading.Event(), threading.Event()
        shown: list[str] = []
        steps: list[tuple[int, int, str]] = []
        background.started.connect(shown.append)
        background.progress.connect(lambda *step: steps.append(step))

        def first(report, cancelled) -> None:
            report(1, 2, "one")
            while not cancelled():
                threading.Event().wait(0.005)
            raise Stopped

        def second(report, cancelled) -> bool:
            report(1, 9, "not told")
            spoken.set()
            gate.wait()
            report(2, 9, "told")
            return bool(cancelled())

        stopped: list[bool] = []
        background.run(lane, "First", first)
        background.run(beside, "Second", second, stopped.append, at_closing="It would be lost.")
        assert spoken.wait(20)
        qtbot.waitUntil(lambda: shown == ["First"])
        assert (background.title, background.at_closing) == ("First", "It would be lost.")
        background.stop()
        qtbot.waitUntil(lambda: shown == ["First", "Second"])
        gate.set()
        qtbot.waitUntil(lambda: not background.busy)
        assert steps == [(1, 2, "one"), (0, 0, ""), (2, 9, "told")]
        assert stopped == [False]
        assert (background.title, background.at_closing) == ("", "")
        assert beside.shut()

    def test_a_failure_is_told(self, qtbot: QtBot, lane: Lane, told: Told) -> None:
        background = Background()

        def job(report, cancelled) -> None:
            raise ValueError("broken")

        background.run(lane, "Bad", job)
        qtbot.waitUntil(lambda: bool(told.bugs))
        with pytest.raises(ValueError, match="broken"):
            raise told.bugs[0]


def test_what_work_held_on_to_dies_in_the_thread_that_made_it(lane: Lane, qtbot: QtBot) -> None:
    """A widget that dies in the lane takes the program with it."""

    class Listener(QObject):
        def hear(self, _: object) -> None:
            heard.append(1)

    heard: list[int] = []
    died: list[threading.Thread] = []
    for _ in range(20):
        listener = Listener()
        weakref.finalize(listener, lambda: died.append(threading.current_thread()))
        lane.submit(lambda: 1, then=listener.hear)
        del listener
        count = len(heard)
        qtbot.waitUntil(lambda count=count: len(heard) > count)  # type: ignore[misc]  # the default binds this round's count
    lane.submit(lambda: 2, then=heard.append)
    qtbot.waitUntil(lambda: heard[-1] == 2)
    qtbot.waitUntil(lambda: len(died) == 20)
    assert set(died) == {threading.main_thread()}
