"""What every page is given: reading and doing through the lane, messages, today, and going elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import TYPE_CHECKING, TypeVar

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtWidgets import QDialog
from shiboken6 import isValid

from sporebank.core.records import Changed
from sporebank.jobs import undo
from sporebank.window.background import Background, Cancelled, Report
from sporebank.window.lane import Lane, Ticket
from sporebank.window.state import WindowState
from sporebank.window.tell import Offer, Tell, tell_failure

if TYPE_CHECKING:
    from sporebank.bank.bank import Bank

T = TypeVar("T")


class Context(QObject):
    """One open bank as the window meets it.

    Signals: `changed(Changed)` after every deed; `gone(page_key, focus)` asks the window for a page;
    `dialog_wanted(key, arguments)` asks the window for a dialog. The bank itself never leaves its lane.
    """

    changed = Signal(object)
    gone = Signal(str, object)
    dialog_wanted = Signal(str, object)
    _heard = Signal(object)

    def __init__(
        self,
        bank: Bank,
        lane: Lane,
        tell: Tell,
        today: Callable[[], date],
        state: WindowState,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._bank = bank
        self._lane = lane
        self.tell = tell
        self.today = today
        self.state = state
        self.name, self.tag, self.path = bank.name, bank.tag, bank.path
        self.background = Background(self)
        self._side_lane = Lane(self._failed, "long work")
        self._slow_lane = Lane(self._failed, "slow work")
        self._closed: list[QDialog] = []
        lane.on_failure = self._failed
        for one in (lane, self._side_lane, self._slow_lane):
            one.idle.connect(self._drop_closed)
        self._heard.connect(self.changed, Qt.ConnectionType.QueuedConnection)
        lane.submit(lambda: bank.subscribe(self._hear))

    def read(
        self,
        query: Callable[[Bank], T],
        then: Callable[[T], object],
        failed: Callable[[Exception], object] | None = None,
        *,
        background: bool = False,
    ) -> Ticket:
        """Ask the bank; `then` gets the records in the window's thread, unless the ticket is cancelled."""
        return self._lane.submit(lambda: self._bank.run(query), then=then, failed=failed, background=background)

    def do(
        self,
        job: Callable[[Bank], T],
        then: Callable[[T], object] | None = None,
        failed: Callable[[Exception], object] | None = None,
    ) -> Ticket:
        """Do a deed, also where the window is closed before its turn comes.

        Without `failed`, a Refusal is told as a sentence and anything else as a fault.
        """
        return self._lane.submit(lambda: self._bank.run(job), then=then, failed=failed, deed=True)

    def done(self, text: str) -> None:
        """Say that a deed is done, with *Undo* beside it."""
        self.tell.info(text, Offer("Undo", self.undo))

    def undo(self) -> None:
        """Take the last deed back and say so."""
        self.do(undo.undo, lambda title: self.tell.info(f"Taken back: {title}"))

    def redo(self) -> None:
        """Do again what was taken back and say so."""
        self.do(undo.redo, lambda title: self.tell.info(f"Done again: {title}"))

    def work(
        self,
        title: str,
        fn: Callable[[Report, Cancelled], T],
        then: Callable[[T], object] | None = None,
        failed: Callable[[Exception], object] | None = None,
        *,
        slow: bool = False,
        at_closing: str = "",
    ) -> None:
        """Do long work that needs no bank (a PDF, a file), on frozen records, beside the lane.

        Args:
            title: what it is called while it is under way.
            fn: does the work.
            then: gets what came of it.
            failed: gets why nothing came of it.
            slow: it may take minutes, and previews, papers and pictures do not wait for it.
            at_closing: what is said before the bank is closed while it is under way; "" where nothing is lost by that.
        """
        lane = self._slow_lane if slow else self._side_lane
        self.background.run(lane, title, fn, then, failed, at_closing)

    def go(self, page_key: str, **focus: object) -> None:
        """Ask the window to show a page, and the page to focus on something."""
        self.gone.emit(page_key, focus)

    def dialog(self, key: str, **arguments: object) -> None:
        """Ask the window for a dialog of `sporebank.window.dialogs.DIALOGS`."""
        self.dialog_wanted.emit(key, arguments)

    def let_go(self, dialog: QDialog) -> None:
        """Delete a dialog that is closed, as soon as nothing is under way any more that may answer to it."""
        self._closed.append(dialog)
        self._drop_closed()

    def _drop_closed(self) -> None:
        if self._lane.busy or self._side_lane.busy or self._slow_lane.busy:
            return
        closed, self._closed = self._closed, []
        for dialog in filter(isValid, closed):
            for timer in dialog.findChildren(QTimer):
                timer.stop()  # or it could still ask for something
            dialog.deleteLater()

    def shut(self) -> bool:
        """Stop long work, close the bank in its own thread, and say whether everything ended in time."""
        self.background.stop_all()
        beside_ended = [lane.shut() for lane in (self._side_lane, self._slow_lane)]
        return self._lane.shut(self._bank.close) and all(beside_ended)

    def _hear(self, changed: Changed) -> None:
        self._heard.emit(changed)

    def _failed(self, failure: Exception) -> None:
        tell_failure(self.tell, failure)
