"""Pictures of every page of the window, light and dark, as a person would see them on a small laptop."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import QCoreApplication, QEventLoop, QMessageLogContext, QtMsgType, qInstallMessageHandler
from PySide6.QtWidgets import QApplication, QCheckBox

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.opening import open_bank
from sporebank.core.layout import Kind
from sporebank.core.records import RequestState, State, VialFilter
from sporebank.jobs import figures
from sporebank.window import fonts
from sporebank.window.context import Context
from sporebank.window.dialogs import dialog_class
from sporebank.window.dialogs.labels import LabelsDialog
from sporebank.window.lane import Lane
from sporebank.window.main import MainWindow
from sporebank.window.pages import PAGES
from sporebank.window.state import WindowState
from sporebank.window.tell import WindowTell
from sporebank.window.theme import Theme

T = TypeVar("T")

SIZE = (1366, 768)
LIMIT_S = 30.0
EXCHANGE_TABS = ("Donations", "Orders", "Sharing out", "Parcels")


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
        scene = _ask(context, _scene)
        for mode in ("light", "dark"):
            theme.choose(mode)
            for spec in PAGES:
                _photograph(context, window, spec.key, scene.get(spec.key, {}), out / f"page-{spec.key}-{mode}.png")
            for tab in EXCHANGE_TABS:
                name = f"page-exchange-{tab.lower().replace(' ', '-')}-{mode}.png"
                _photograph(context, window, "exchange", {"tab": tab}, out / name)
            _photograph_labels(context, window, out / f"dialog-labels-{mode}.png")
            _photograph_chart(context, window, scene["sow"]["vial_id"], out / f"dialog-chart-{mode}.png")
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


Focus = dict[str, object]


def _scene(bank: Bank) -> dict[str, Focus]:
    """Return what each page is turned to: a vial much tested, a full box, a request that is filled."""
    fading = queries.vials(bank, VialFilter(state=State.FADING), "taxon", descending=False, offset=0, limit=200)
    tests = queries.tests_of(bank, [row.batch_id for row in fading])
    vial = max(fading, key=lambda row: len(tests[row.batch_id]))
    box = next(place.id for place, path, _ in queries.places(bank) if path.endswith("Fridge 1 / Box 4"))
    filled = queries.requests(bank, RequestState.FILLED)[0]
    return {
        "vials": {"code": vial.code},
        "store": {"clone_id": vial.clone_id},
        "test": {"batch_id": vial.batch_id},
        "sow": {"vial_id": vial.id},
        "share": {"request_id": filled.id},
        "places": {"place_id": box},
    }


def _ask(context: Context, query: Callable[[Bank], T]) -> T:
    answers: list[T] = []
    context.read(query, answers.append)
    _until(lambda: bool(answers))
    return answers[0]


def _photograph(context: Context, window: MainWindow, key: str, focus: Focus, target: Path) -> None:
    window.show_page(key)
    settle(context)
    if focus:
        context.go(key, **focus)
    settle(context)
    window.grab().save(str(target))


def _photograph_chart(context: Context, window: MainWindow, vial_id: object, target: Path) -> None:
    dialog = dialog_class("chart")(context, window, vial_id=vial_id)
    sisters = dialog.findChild(QCheckBox)
    assert isinstance(sisters, QCheckBox)
    dialog.show()
    settle(context)
    sisters.click()
    settle(context)
    dialog.grab().save(str(target))
    dialog.close()


def _photograph_labels(context: Context, window: MainWindow, target: Path) -> None:
    ids = _ask(context, lambda bank: [row.id for row in queries.vials(bank, VialFilter(), "place", False, 0, 60)])
    dialog = LabelsDialog(
        context,
        window,
        title="Vial labels",
        kind=Kind.VIAL,
        find=lambda bank: ids,
        file_name="vial-labels.pdf",
    )
    dialog.show()
    settle(context)
    dialog.grab().save(str(target))
    dialog.close()


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
