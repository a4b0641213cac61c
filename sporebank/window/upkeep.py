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
from sporebank.window.later import Later
from sporebank.window.tell import tell_failure

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank
    from sporebank.jobs import figures
else:
    figures = Later("sporebank.jobs.figures")

Piece = Callable[["Bank"], None]
GONE = "Put it back there now, before the window is closed, or what is done from here on may be lost."
NOT_BROUGHT_ON = "How alive each vial is could not be worked out anew."
EVERY_MS = 10 * 60 * 1000
REST_MS = 300
"""How long the first page has the machine to itself once it is read: what computes figures brings numpy."""
DONE = Changed(0, "Figures of today", {"vial": frozenset()})


class Upkeep(QObject):
    """Looks after a bank from its opening on, behind the keeper's own work.

    Figures are computed piece by piece in the background of the lane, so that a deed of the keeper never waits longer
    than for one piece; when the last is done, every page that shows vials reads again.
    """

    def __init__(self, context: Context) -> None:
        super().__init__(context)
        self._context = context
        self._pieces: list[Piece] = []
        self._told = ""
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._begin)
        context.read(lambda bank: None, lambda _: self._rest.start(), background=True)
        context.changed.connect(self._look_for_file)
        context.changed.connect(self._look_for_stale)
        self._clock = QTimer(self, interval=EVERY_MS)
        self._clock.timeout.connect(lambda: self._look_for_stale(DONE))
        self._clock.start()

    def _begin(self) -> None:
        self._context.read(_first_pieces, self._take_up, background=True)
        self._context.read(lambda bank: (bank.today(), bank.settings.backups), lambda found: self._copy(*found))

    def _look_for_stale(self, _: Changed) -> None:
        """Look after every deed, and after the last piece, whether a deed has left figures for later."""
        if not self._pieces:
            self._context.read(_stale_pieces, self._take_up, background=True)

    def _take_up(self, pieces: list[Piece]) -> None:
        if pieces and not self._pieces:
            self._pieces = pieces
            self._next(None)

    def _next(self, _: None) -> None:
        if self._pieces:
            self._context.read(self._pieces.pop(0), self._next, self._stop, background=True)
        else:
            self._told = ""
            self._context.changed.emit(DONE)

    def _stop(self, failure: Exception) -> None:
        """Give the pieces up after a failure; the next deed or the clock begins anew."""
        self._pieces = []
        if isinstance(failure, Refusal):
            failure = Refusal(f"{NOT_BROUGHT_ON} {failure}")
        if str(failure) != self._told:  # else it would be said after every deed
            self._told = str(failure)
            tell_failure(self._context.tell, failure)

    def _look_for_file(self) -> None:
        """Say so when the file has been taken away: the system may keep what is written, but only until the end."""
        if not self._context.path.exists():
            self._context.tell.error(Refusal(f"The file of this bank is no longer at {self._context.path}. {GONE}"))

    def _copy(self, today: date, keep: int) -> None:
        path = self._context.path
        self._context.work(
            "Making today's copy",
            lambda report, cancelled: backup.daily(path, today, keep, report, cancelled),
            slow=True,
        )


def _first_pieces(bank: Bank) -> list[Piece]:
    figures.keep_fresh(bank)
    return _stale_pieces(bank)


def _stale_pieces(bank: Bank) -> list[Piece]:
    return list(figures.chunks(bank)) if figures.stale(bank) else []
