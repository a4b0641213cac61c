"""The one lane for the database: a single worker thread, the keeper's work before the background's."""

from __future__ import annotations

import itertools
import queue
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Any, TypeVar

import shiboken6
from PySide6.QtCore import QObject, Qt, Signal, Slot

T = TypeVar("T")


class _Rank(IntEnum):
    KEEPER = 0
    BACKGROUND = 1
    END = 2


class Ticket:
    """Stands for one piece of work; `cancel` drops it, or its answer when it already runs."""

    def __init__(self) -> None:
        self._cancelled = threading.Event()

    def cancel(self) -> None:
        """Ask for no answer any more."""
        self._cancelled.set()

    @property
    def cancelled(self) -> bool:
        """Whether nobody waits for it any more."""
        return self._cancelled.is_set()


@dataclass(order=True)
class _Work:
    rank: _Rank
    number: int
    run: Callable[[], Any] = field(compare=False)
    then: Callable[[Any], object] | None = field(compare=False)
    failed: Callable[[Exception], object] | None = field(compare=False)
    ticket: Ticket = field(compare=False)
    deed: bool = field(compare=False)


class Lane(QObject):
    """Runs functions one after the other in its own thread and answers in the thread that made it.

    `failed` of a piece of work is asked first; without one, failures go to `on_failure`.
    Signals: `idle` when the last answer has been given and nothing waits.
    """

    idle = Signal()
    _answered = Signal(object)

    def __init__(self, on_failure: Callable[[Exception], object], name: str = "lane") -> None:
        super().__init__()
        self.on_failure = on_failure
        self._numbers = itertools.count()
        self._queue: queue.PriorityQueue[_Work] = queue.PriorityQueue()
        self._open = True
        self._unanswered = 0
        self._last: _Outcome | None = None
        self._answered.connect(self._deliver, Qt.ConnectionType.QueuedConnection)
        self._thread = threading.Thread(target=self._work, name=name, daemon=True)
        self._thread.start()

    @property
    def busy(self) -> bool:
        """Whether an answer is still to come, or being given."""
        return self._unanswered > 0

    def submit(
        self,
        fn: Callable[[], T],
        *,
        then: Callable[[T], object] | None = None,
        failed: Callable[[Exception], object] | None = None,
        background: bool = False,
        deed: bool = False,
    ) -> Ticket:
        """Queue a function; `then` gets its result and `failed` its exception, in the asking thread.

        A deed is done also where the lane is shut before its turn comes.
        """
        ticket = Ticket()
        if self._open:
            self._unanswered += 1
            rank = _Rank.BACKGROUND if background else _Rank.KEEPER
            self._queue.put(_Work(rank, next(self._numbers), fn, then, failed, ticket, deed))
        return ticket

    def shut(self, last: Callable[[], object] | None = None, limit: float = 10.0) -> bool:
        """Drop what waits but deeds, run `last` in the lane's thread, and wait up to `limit` seconds for its end.

        Nothing is answered any more: those who asked are going.
        """
        self._open = False
        self._drop_waiting()
        self._queue.put(_Work(_Rank.END, next(self._numbers), last or _nothing, None, None, Ticket(), deed=True))
        self._thread.join(limit)
        return not self._thread.is_alive()

    def _drop_waiting(self) -> None:
        waiting: list[_Work] = []
        with suppress(queue.Empty):
            while True:
                waiting.append(self._queue.get_nowait())
        for work in waiting:
            if work.deed:
                self._queue.put(work)

    def _work(self) -> None:
        while True:
            work = self._queue.get()
            self._answered.emit(_Outcome(work) if work.ticket.cancelled else _outcome(work))
            if work.rank is _Rank.END:
                return

    @Slot(object)
    def _deliver(self, outcome: _Outcome) -> None:
        self._last = outcome  # the lane has let go of the one before: nothing of it dies there
        try:
            if self._open:
                _answer(outcome, self.on_failure)
        finally:
            self._unanswered -= 1
            if not self._unanswered:
                self.idle.emit()


@dataclass(frozen=True)
class _Outcome:
    work: _Work
    result: Any = None
    failure: Exception | None = None


def _outcome(work: _Work) -> _Outcome:
    try:
        return _Outcome(work, result=work.run())
    except Exception as failure:
        return _Outcome(work, failure=failure)


def _answer(outcome: _Outcome, otherwise: Callable[[Exception], object]) -> None:
    work = outcome.work
    if work.ticket.cancelled:
        return
    if outcome.failure is not None:
        _call(work.failed or otherwise, outcome.failure)
    elif work.then is not None:
        _call(work.then, outcome.result)


def _call(answer: Callable[[Any], object], value: object) -> None:
    """Call a function, unless it belongs to a widget that is gone by now."""
    owner = getattr(answer, "__self__", None)
    if not isinstance(owner, QObject) or shiboken6.isValid(owner):
        answer(value)


def _nothing() -> None:
    """Do nothing: the last deed of a lane that holds nothing."""
