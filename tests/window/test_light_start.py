"""The window comes up without what only charts, forecasts and papers need."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from tests.builders import Clock, counted, fridge, new_bank, stored

ROOT = Path(__file__).resolve().parent.parent.parent
HEAVY = ("numpy", "scipy", "pyqtgraph", "reportlab", "pypdfium2", "zxingcpp", "PIL")

SCRIPT = """
import json, sys, time
from pathlib import Path
from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication, QTableView
from sporebank.bank import opening
from sporebank.window import fonts
from sporebank.window.context import Context
from sporebank.window.lane import Lane
from sporebank.window.main import MainWindow
from sporebank.window.state import WindowState
from sporebank.window.tell import WindowTell
from sporebank.window.theme import Theme

heavy, bank_file, folder = json.loads(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3])
app = QApplication([])
fonts.wear(app)
Theme(app, "light")
failures, opened, painted = [], [], []
loaded = lambda: [name for name in heavy if name in sys.modules]

class Watch(QObject):
    def eventFilter(self, watched, event):
        table = watched.parent() if event.type() == QEvent.Type.Paint and isinstance(watched, QObject) else None
        if isinstance(table, QTableView) and watched is table.viewport() and table.model().rowCount() and not painted:
            painted.append(loaded())
        return False

def until(true):
    end = time.monotonic() + 60
    while not true() and not failures and time.monotonic() < end:
        app.processEvents()
    assert not failures, failures
    assert true()

watch = Watch()
app.installEventFilter(watch)
lane = Lane(failures.append, "bank")
lane.submit(lambda: opening.open_bank(bank_file), then=opened.append)
until(lambda: opened)
context = Context(opened[0], lane, WindowTell(), opened[0].today, WindowState(folder / "window.ini"))
window = MainWindow(context)
window.resize(1280, 760)
window.show()
window.show_page("vials")
until(lambda: painted)
page = window.page()
page.table.selectRow(0)
until(lambda: "pyqtgraph" in sys.modules)
print(json.dumps({"first": painted[0], "chart": loaded()}))
window.close()
context.shut()
"""


def test_numbers_and_plots_are_loaded_after_the_first_rows(tmp_path: Path) -> None:
    bank = new_bank(tmp_path, clock=Clock())
    fridge(bank)
    counted(bank, stored(bank).batch_id, 60)
    path = bank.path
    bank.close()
    command = [sys.executable, "-c", SCRIPT, json.dumps(HEAVY), str(path), str(tmp_path)]
    quiet = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, env=quiet, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout.splitlines()[-1])
    assert found["first"] == []
    assert {"numpy", "pyqtgraph"} <= set(found["chart"])
    assert "reportlab" not in found["chart"]
