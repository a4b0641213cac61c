"""Long work off the window's thread, with progress once it takes a while, and a way to stop it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from PySide6.QtCore import QObject, QTimer, Signal

from sporebank.core.errors import Stopped
from sporebank.window.lane import Lane, Ticket

T = TypeVar("T")
Report = Callable[[int, int, str], None]  # done, total, what is being done
Cancelled = Callable[[], bool]

SHOWN_AFTER_MS = 600


class Background(QObject):
    """Runs one long job at a time on a lane.

    Signals: `started(title)` once it has taken `SHOWN_AFTER_MS`; `progress(done, total, text)`;
    `ended` always, in the end. A job checks `cancelled()` between its steps and raises `Stopped`.
    """

    started = Signal(str)
    progress = Signal(int, int, str)
    ended = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._running: list[tuple[str, Ticket]] = []
        self._delay = QTimer(self, singleShot=True, interval=SHOWN_AFTER_MS)
        self._delay.timeout.connect(self._show)

    @property
    def busy(self) -> bool:
        """Whether a job is under way."""
        return bool(self._running)

    def run(
        self,
        lane: Lane,
        title: str,
        fn: Callable[[Report, Cancelled], T],
        then: Callable[[T], object] | None = None,
        failed: Callable[[Exception], object] | None = None,
    ) -> None:
        """Run `fn(report, cancelled)` on a lane; nothing is called back when it was stopped."""
        wish = Ticket()
        entry = (title, wish)

        def done(result: T) -> None:
            self._end(entry)
            if then is not None:
                then(result)

        def gone_wrong(failure: Exception) -> None:
            self._end(entry)
            if not isinstance(failure, Stopped):
                (failed or lane.on_failure)(failure)

        self._running.append(entry)
        self._delay.start()
        lane.submit(lambda: fn(self.progress.emit, lambda: wish.cancelled), then=done, failed=gone_wrong)

    def stop(self) -> None:
        """Ask every running job to leave off."""
        for _, wish in self._running:
            wish.cancel()

    def _show(self) -> None:
        if self._running:
            self.started.emit(self._running[0][0])

    def _end(self, entry: tuple[str, Ticket]) -> None:
        self._running.remove(entry)
        if not self._running:
            self._delay.stop()
            self.ended.emit()
