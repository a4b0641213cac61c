"""A stocktake of ten boxes by a simulated scanner: 20 labels a second, key by key, through the window's own watcher."""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from PySide6.QtCore import QCoreApplication, QEvent, QEventLoop, Qt, QTimer  # noqa: E402 - the checkout is on the path only now
from PySide6.QtGui import QKeyEvent  # noqa: E402
from PySide6.QtWidgets import QApplication  # noqa: E402

from demo import photographs  # noqa: E402
from sporebank.bank import queries  # noqa: E402
from sporebank.bank.bank import Bank  # noqa: E402
from sporebank.bank.opening import open_bank  # noqa: E402
from sporebank.window.context import Context  # noqa: E402
from sporebank.window.dialogs.stocktake import StocktakeDialog  # noqa: E402
from sporebank.window.lane import Lane  # noqa: E402
from sporebank.window.main import MainWindow  # noqa: E402
from sporebank.window.state import WindowState  # noqa: E402
from sporebank.window.tell import WindowTell  # noqa: E402
from sporebank.window.theme import Theme  # noqa: E402
from tests.bench.large_bank import clock, large_bank  # noqa: E402

BOXES, PER_SECOND, TICK_MS = 10, 20, 2
KEYS_PER_LABEL = 11


def main() -> None:
    """Scan everything, print what came of it and the JSON line; a number of boxes may be given."""
    boxes = int(sys.argv[1]) if sys.argv[1:] else BOXES
    app = QApplication([])
    Theme(app, "light")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bank.sporebank"
        shutil.copy(large_bank(81 * boxes), path)
        lane, opened = Lane(_fail, "bank"), []
        lane.submit(lambda: open_bank(path, clock), then=opened.append)
        photographs._until(lambda: bool(opened))
        context = Context(
            opened[0], lane, WindowTell(), lambda: clock().date(), WindowState(Path(folder) / "window.ini")
        )
        window = MainWindow(context)
        window.show()
        dialog = StocktakeDialog(context, window)
        dialog.open()  # over the window, as the window itself opens it
        photographs.settle(context)
        texts = photographs._ask(context, _labels)
        lag_ms = _scan(dialog, texts)
        right = dialog.taken.counts().right if dialog.taken else 0
        dialog.close()
        window.close()
        context.shut()
    found = {"lost": 81 * boxes - right, "lag_ms": round(lag_ms, 1)}
    print(f"{81 * boxes} vials in {boxes} boxes, {PER_SECOND} a second: {found['lost']} lost")
    print(f"longest time the window was busy: {found['lag_ms']} ms")
    print(json.dumps(found))


def _fail(failure: Exception) -> None:
    raise failure


def _labels(bank: Bank) -> list[str]:
    """Return the code of each box, followed by those of its vials."""
    texts = []
    for place, _, _ in queries.places(bank):
        if place.rows:
            texts += [place.code, *(row.code for _, row in queries.box_vials(bank, place.id))]
    return texts


def _scan(dialog: StocktakeDialog, texts: list[str]) -> float:
    """Type the texts as a scanner does, and return the longest time in milliseconds in which no event was handled.

    It ends in twice the time that it should take; what was not typed by then is lost.
    """
    dialog.activateWindow()
    dialog.grid.setFocus()
    loop, keys = QEventLoop(), _keys(texts)
    ticks, last, longest = QTimer(interval=TICK_MS), time.perf_counter(), 0.0
    due = last
    ticks.setTimerType(Qt.TimerType.PreciseTimer)

    def tick() -> None:
        nonlocal last, longest, due
        now = time.perf_counter()
        longest, last = max(longest, now - last - TICK_MS / 1000), now
        while due <= now:
            key = next(keys, None)
            if key is None:
                ticks.stop()
                QTimer.singleShot(200, loop.quit)
                return
            due += 1 / PER_SECOND / KEYS_PER_LABEL
            _press(dialog, key, round(1000 * due))

    ticks.timeout.connect(tick)
    ticks.start()
    QTimer.singleShot(2 * 1000 * len(texts) // PER_SECOND + 1000, loop.quit)
    loop.exec()
    return 1000 * longest


def _keys(texts: list[str]) -> Iterator[str]:
    for text in texts:
        yield from text
        yield "\r"


def _press(dialog: StocktakeDialog, key: str, at_ms: int) -> None:
    code = Qt.Key.Key_Return if key == "\r" else Qt.Key(ord(key))
    target = QApplication.focusWidget() or dialog.grid
    for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
        event = QKeyEvent(kind, code, Qt.KeyboardModifier.NoModifier, key)
        event.setTimestamp(at_ms)  # as the system says when a key was typed, however long it then waits
        QCoreApplication.postEvent(target, event)


if __name__ == "__main__":
    main()
