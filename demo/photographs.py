"""Pictures of every page of the window, light and dark, as a person would see them on a small laptop."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QCoreApplication, QEventLoop, QMessageLogContext, QtMsgType, qInstallMessageHandler
from PySide6.QtWidgets import QApplication, QTableView

from sporebank.bank.bank import Bank
from sporebank.bank.opening import open_bank
from sporebank.jobs import figures
from sporebank.window import fonts
from sporebank.window.context import Context
from sporebank.window.lane import Lane
from sporebank.window.main import MainWindow
from sporebank.window.pages import PAGES
from sporebank.window.state import WindowState
from sporebank.window.tell import WindowTell
from sporebank.window.theme import Theme

SIZE = (1366, 768)
LIMIT_S = 30.0


def take(path: Path, out: Path) -> None:
    """Open the window on a bank without a display and leave `page-NAME-light.png` and `-dark.png` in `out`."""
    qInstallMessageHandler(_pass_on)
    app = QApplication.instance() or QApplication([])
    assert isinstance(app, QApplication)
    fonts.wear(app)
    theme = Theme(app, "light")
    failures: list[Exception] = []
    lane = Lane(failures.append, "bank")
    opened: list[Bank] = []
    lane.submit(lambda: _open(path), then=opened.append)
    _until(lambda: bool(opened or failures))
    with tempfile.TemporaryDirectory() as folder:
        state = WindowState(Path(folder) / "window.ini")
        context = Context(opened[0], lane, WindowTell(), lambda: opened[0].today(), state)
        window = MainWindow(context)
        window.resize(*SIZE)
        window.show()
        for mode in ("light", "dark"):
            theme.choose(mode)
            for spec in PAGES:
                _photograph(context, window, spec.key, out / f"page-{spec.key}-{mode}.png")
        window.close()
        context.shut()
    if failures:
        raise failures[0]


def _pass_on(kind: QtMsgType, where: QMessageLogContext, message: str) -> None:
    """Pass Qt's messages on, but for the one by which a missing display says that it is missing."""
    if "propagateSizeHints" not in message:
        print(message, file=sys.stderr)


def _open(path: Path) -> Bank:
    bank = open_bank(path)
    figures.keep_fresh(bank)
    return bank


def _photograph(context: Context, window: MainWindow, key: str, target: Path) -> None:
    window.show_page(key)
    settle(context)
    table = window.page().findChild(QTableView)
    if table is not None and table.model() is not None and table.model().rowCount() > 2:
        table.selectRow(2)
    settle(context)
    window.grab().save(str(target))


def settle(context: Context) -> None:
    """Let everything asked of the lanes so far be answered, and the window be drawn."""
    for _ in range(4):
        answers: list[int] = []
        context.read(lambda bank: bank.revision, answers.append, background=True)
        _until(lambda answers=answers: bool(answers))  # type: ignore[misc]  # the default binds this round's list
        _until(lambda: not context.background.busy)
        _events(0.12)


def _until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + LIMIT_S
    while not true():
        if time.monotonic() > end:
            raise TimeoutError("The window did not answer in time.")
        QCoreApplication.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 20)


def _events(seconds: float) -> None:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        QCoreApplication.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 20)
