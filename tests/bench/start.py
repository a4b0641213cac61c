"""From the start of a process to the first painted rows of the demo bank, beside a bare window with an empty table.

    python tests/bench/start.py [--runs 5]

Last line: {"start_ratio": median of the pairs, "bank_ms": median, "bare_ms": median}.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT))
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
LIMIT_S = 60


def child_bare() -> None:
    """Show an empty table in a plain window and leave once it is painted."""
    from PySide6.QtCore import QEvent, QObject, QTimer
    from PySide6.QtGui import QStandardItemModel
    from PySide6.QtWidgets import QApplication, QMainWindow, QTableView

    class Watch(QObject):
        def eventFilter(self, watched, event):
            if event.type() == QEvent.Type.Paint and watched is table.viewport():
                QTimer.singleShot(0, app.quit)
            return False

    app = QApplication([])
    window, table = QMainWindow(), QTableView()
    table.setModel(QStandardItemModel(0, 8))
    window.setCentralWidget(table)
    window.resize(1280, 760)
    watch = Watch()
    table.viewport().installEventFilter(watch)
    window.show()
    app.exec()


def child_bank(path: str, folder: str) -> None:
    """Open the window on a bank as a keeper would and leave once a table has painted rows."""
    from PySide6.QtCore import QEvent, QObject, QTimer
    from PySide6.QtWidgets import QApplication, QTableView

    from sporebank.__main__ import run

    class Watch(QObject):
        def eventFilter(self, watched, event):
            if event.type() == QEvent.Type.Paint:
                table = watched.parent() if isinstance(watched, QObject) else None
                if isinstance(table, QTableView) and watched is table.viewport() and table.model().rowCount():
                    QTimer.singleShot(0, app.quit)
            return False

    app = QApplication([])
    watch = Watch()
    app.installEventFilter(watch)
    raise SystemExit(run(app, Path(path), Path(folder) / "window.ini"))


def once(*arguments: str) -> float:
    """Return the seconds from starting a child to its end, which follows the paint at once."""
    began = time.perf_counter()
    command = [sys.executable, __file__, *arguments]
    subprocess.run(command, check=True, timeout=LIMIT_S, stderr=subprocess.DEVNULL)
    return time.perf_counter() - began


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=5)
    runs = parser.parse_args().runs
    from demo.story import build

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "demo.sporebank"
        print("Building the demo bank ...")
        build(path)
        pairs = []
        for number in range(runs + 1):
            bare, bank = once("--bare"), once("--bank", str(path), folder)
            if number:  # the first pair warms the disk
                pairs.append((bare, bank))
                print(
                    f"  bare window {bare * 1000:6.0f} ms   demo bank {bank * 1000:6.0f} ms   ratio {bank / bare:5.2f}"
                )
    figures = {
        "start_ratio": round(statistics.median(bank / bare for bare, bank in pairs), 3),
        "bank_ms": round(1000 * statistics.median(bank for _, bank in pairs)),
        "bare_ms": round(1000 * statistics.median(bare for bare, _ in pairs)),
    }
    print(json.dumps(figures))


if __name__ == "__main__":
    if sys.argv[1:2] == ["--bare"]:
        child_bare()
    elif sys.argv[1:2] == ["--bank"]:
        child_bank(sys.argv[2], sys.argv[3])
    else:
        main()
