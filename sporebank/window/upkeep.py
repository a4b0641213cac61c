"""What an open bank needs without being asked: figures of today, and a copy of the file once a day."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer

from sporebank.bank import backup
from sporebank.core.errors import Refusal
from sporebank.core.records import Changed
from sporebank.window.context import Context

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

Piece = Callable[["Bank"], None]
GONE = "Put it back there now, before the window is closed, or what is done from here on may be lost."
EVERY_MS = 10 * 60 * 1000


class Upkeep(QObject):
    """Looks after a bank from its opening on, behind the keeper's own work.

    Figures are computed piece by piece in the background of the lane, so that a deed of the keeper never waits longer
    than for one piece; when the last is done, every page that shows vials reads again.
    """

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._context = context
        self._pieces: list[Piece] = []
        context.read(_begin, self._take_up, background=True)
        context.read(lambda bank: (bank.today(), bank.settings.backups), lambda found: self._copy(*found))
        context.changed.connect(self._look_for_file)
        context.changed.connect(self._look_for_stale)
        self._clock = QTimer(self, interval=EVERY_MS)
        self._clock.timeout.connect(self._look_at_the_day)
        self._clock.start()

    def _look_at_the_day(self) -> None:
        if not self._pieces:
            self._look_again()

    def _look_again(self) -> None:
        self._context.read(_stale_pieces, self._take_up, background=True)

    def _look_for_stale(self, changed: Changed) -> None:
        """Begin anew after a deed that touches the figures of every vial."""
        if changed.kinds & {"setting", "keeping"}:
            self._look_again()

    def _take_up(self, pieces: list[Piece]) -> None:
        """Go on with these pieces of work in place of those that are left, which were cut for an earlier deed."""
        idle = not self._pieces
        self._pieces = pieces
        if idle and pieces:
            self._next(None)

    def _next(self, _: None) -> None:
        if self._pieces:
            self._context.read(self._pieces.pop(0), self._next, background=True)
        else:
            self._context.changed.emit(Changed(0, "Figures of today", {"vial": frozenset()}))

    def _look_for_file(self) -> None:
        """Say so when the file has been taken away: the system may keep what is written, but only until the end."""
        if not self._context.path.exists():
            self._context.tell.error(Refusal(f"The file of this bank is no longer at {self._context.path}. {GONE}"))

    def _copy(self, today: date, keep: int) -> None:
        path = self._context.path
        self._context.work("Making today's copy", lambda report, cancelled: backup.daily(path, today, keep))


def _begin(bank: Bank) -> list[Piece]:
    from sporebank.jobs import figures  # brings numpy, which the first paint need not wait for

    figures.keep_fresh(bank)
    return _stale_pieces(bank)


def _stale_pieces(bank: Bank) -> list[Piece]:
    from sporebank.jobs import figures

    return list(figures.chunks(bank)) if figures.stale(bank) else []
