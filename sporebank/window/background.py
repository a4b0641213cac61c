"""Long work off the window's thread, with progress once it takes a while, and a way to stop it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from PySide6.QtCore import QObject, QTimer, Signal

from sporebank.core.errors import Stopped
from sporebank.window.lane import Lane, Ticket

T = TypeVar("T")
Report = Callable[[int, int, str], None]  # done, total, what is being done
Cancelled = Callable[[], bool]

SHOWN_AFTER_MS = 600


@dataclass(eq=False)
class _Job:
    title: str
    at_closing: str
    wish: Ticket = field(default_factory=Ticket)


class Background(QObject):
    """Runs long jobs, on each lane one at a time; of several, the one begun first is told of, and can be stopped.

    Signals: `started(title)` once it has taken `SHOWN_AFTER_MS`, or when the one told of before has ended;
    `progress(done, total, text)`; `ended` when none is left. A job checks `cancelled()` between its steps and raises
    `Stopped`.
    """

    started = Signal(str)
    progress = Signal(int, int, str)
    ended = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._running: list[_Job] = []
        self._delay = QTimer(self, singleShot=True, interval=SHOWN_AFTER_MS)
        self._delay.timeout.connect(self._show)

    @property
    def busy(self) -> bool:
        """Whether a job is under way."""
        return bool(self._running)

    @property
    def title(self) -> str:
        """What the job that is told of is called, or ""."""
        return self._running[0].title if self._running else ""

    @property
    def at_closing(self) -> str:
        """The sentences of the jobs under way that are not to be dropped without a word, or ""."""
        return " ".join(job.at_closing for job in self._running if job.at_closing)

    def run(
        self,
        lane: Lane,
        title: str,
        fn: Callable[[Report, Cancelled], T],
        then: Callable[[T], object] | None = None,
        failed: Callable[[Exception], object] | None = None,
        at_closing: str = "",
    ) -> None:
        """Run `fn(report, cancelled)` on a lane; nothing is called back when it was stopped."""
        job = _Job(title, at_closing)

        def report(done: int, total: int, text: str) -> None:
            if self._running[:1] == [job]:
                self.progress.emit(done, total, text)

        def done(result: T) -> None:
            self._end(job)
            if then is not None:
                then(result)

        def gone_wrong(failure: Exception) -> None:
            self._end(job)
            if not isinstance(failure, Stopped):
                (failed or lane.on_failure)(failure)

        if not self._running:
            self._delay.start()
        self._running.append(job)
        lane.submit(lambda: fn(report, lambda: job.wish.cancelled), then=done, failed=gone_wrong)

    def stop(self) -> None:
        """Ask the job that is told of to leave off."""
        for job in self._running[:1]:
            job.wish.cancel()

    def stop_all(self) -> None:
        """Ask every job to leave off."""
        for job in self._running:
            job.wish.cancel()

    def _show(self) -> None:
        self.started.emit(self.title)

    def _end(self, job: _Job) -> None:
        told_of = self._running[0] is job
        self._running.remove(job)
        if not self._running:
            self._delay.stop()
            self.ended.emit()
        elif told_of and not self._delay.isActive():
            self._show()
            self.progress.emit(0, 0, "")  # how far the next has come is known when it next tells
