"""From the start to the end: which screen is shown, opening banks in the lane, and leaving cleanly."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QApplication, QWidget

from sporebank.bank import backup, opening
from sporebank.bank.bank import Bank
from sporebank.core.errors import Refusal
from sporebank.window.context import Context
from sporebank.window.lane import Lane
from sporebank.window.later import Later
from sporebank.window.main import MainWindow
from sporebank.window.state import WindowState
from sporebank.window.tell import WindowTell, catch_everything, tell_failure
from sporebank.window.theme import Theme
from sporebank.window.upkeep import Upkeep

if TYPE_CHECKING:
    from sporebank.window import opening_screen
else:
    opening_screen = Later("sporebank.window.opening_screen")

LAST = "bank/last"


class Session(QObject):
    """Shows one top window at a time: the first start, a bank, or why a bank cannot be opened."""

    def __init__(
        self,
        theme: Theme,
        state: WindowState,
        clock: Callable[[], datetime],
        make_demo: Callable[[], Path],
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._state = state
        self._clock = clock
        self._make_demo = make_demo
        self._lane: Lane | None = None
        self._context: Context | None = None
        self.top: QWidget | None = None
        catch_everything(WindowTell())

    def start(self, path: Path | None) -> None:
        """Open a bank, the last one when none is given, or show the first start."""
        last = self._state.get(LAST, "")
        if path is None and last:
            path = Path(last)
        if path is None:
            self.show_first_start()
        else:
            self.open(path)

    def show_first_start(self) -> None:
        """Ask for a name and a place."""
        screen = opening_screen.FirstStart()
        screen.create_wanted.connect(
            lambda name, path: self._open(lambda: opening.create(path, name, self._clock), screen.refuse)
        )
        screen.open_wanted.connect(self.open)
        screen.demo_wanted.connect(
            lambda: self._open(lambda: opening.open_bank(self._make_demo(), self._clock), screen.refuse)
        )
        self._show(screen)

    def open(self, path: Path) -> None:
        """Open a bank, or show why it cannot be opened."""
        self._open(lambda: opening.open_bank(path, self._clock), partial(self._cannot_open, path))

    def raise_window(self, path: str = "") -> None:
        """Come forward, as a second start asked, and open the bank that it named, unless a dialog waits."""
        if self.top is not None:
            self.top.showNormal() if self.top.isMinimized() else self.top.show()
            self.top.raise_()
            self.top.activateWindow()
        if path and not self._shows(Path(path)) and QApplication.activeModalWidget() is None:
            self._change_to(Path(path))

    def _change_to(self, path: Path) -> None:
        """Open another bank in the place of this one, unless the keeper goes on writing here."""
        if not isinstance(self.top, MainWindow) or self.top.may_close():
            self.open(path)

    def _shows(self, path: Path) -> bool:
        return self._context is not None and self._context.path.resolve() == path.resolve()

    def end(self) -> bool:
        """Close the bank and say whether everything ended in time."""
        ended = True
        if self._context is not None:
            ended = self._context.shut()
        elif self._lane is not None:
            ended = self._lane.shut()
        self._context, self._lane = None, None
        return ended

    def _open(self, opener: Callable[[], Bank], failed: Callable[[Refusal], object]) -> None:
        self.end()
        self._lane = Lane(self._on_failure, "bank")

        def gone_wrong(failure: Exception) -> None:
            if isinstance(failure, Refusal):
                failed(failure)
            else:
                self._on_failure(failure)

        self._lane.submit(opener, then=self._opened, failed=gone_wrong)

    def _opened(self, bank: Bank) -> None:
        assert self._lane is not None
        tell = WindowTell()
        self._context = Context(bank, self._lane, tell, bank.today, self._state)
        self._context.changed.connect(lambda changed: self._dress() if "setting" in changed.kinds else None)
        self._theme.choose(bank.settings.appearance)  # before there is a window that would be dressed twice
        self._state.put(LAST, str(bank.path))
        window = MainWindow(self._context)
        tell.set_window(window)
        catch_everything(tell)
        window.closing.connect(self.end)
        window.another_wanted.connect(lambda: opening_screen.ask_for_bank(window, self._change_to))
        self._show(window)
        Upkeep(self._context)

    def _dress(self) -> None:
        if self._context is not None:
            self._context.read(lambda bank: bank.settings.appearance, self._theme.choose)

    def _cannot_open(self, path: Path, failure: Refusal) -> None:
        screen = opening_screen.CannotOpen(path, failure, backup.folder(path))
        screen.again_wanted.connect(lambda: self.open(path))
        screen.open_wanted.connect(self.open)
        screen.backup_wanted.connect(partial(self.open_backup, path))
        screen.first_wanted.connect(self.show_first_start)
        self._show(screen)

    def open_backup(self, path: Path, kept: Path) -> None:
        """Put a copy in the place of a bank that cannot be opened, which is put aside, and open it."""

        def restore_and_open() -> Bank:
            backup.restore(kept, path)
            return opening.open_bank(path, self._clock)

        self._open(restore_and_open, partial(self._cannot_open, path))

    def _show(self, screen: QWidget) -> None:
        before, self.top = self.top, screen
        screen.show()
        if before is not None:
            before.blockSignals(True)
            before.close()
            before.deleteLater()

    def _on_failure(self, failure: Exception) -> None:
        tell_failure(WindowTell(self.top), failure)
