"""The window comes up without what only charts, forecasts, papers, deeds and other pages need."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from sporebank.paths import resources
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

OPENED = """
import json, sys
from pathlib import Path
from PySide6.QtCore import QEvent, QObject, QTimer
from PySide6.QtWidgets import QApplication, QTableView
from sporebank.__main__ import run

painted, figured = [], []

class Watch(QObject):
    def eventFilter(self, watched, event):
        table = watched.parent() if event.type() == QEvent.Type.Paint and isinstance(watched, QObject) else None
        if isinstance(table, QTableView) and watched is table.viewport() and table.model().rowCount() and not painted:
            painted.append(sorted(name for name in sys.modules if name.partition(".")[0] in {"sporebank", *heavy}))
            look.start()
        return False

def done():
    if "sporebank.jobs.figures" in sys.modules:
        app.quit()

heavy, app = json.loads(sys.argv[1]), QApplication([])
watch, look = Watch(), QTimer(interval=20)
look.timeout.connect(done)
app.installEventFilter(watch)
code = run(app, Path(sys.argv[2]), Path(sys.argv[3]) / "window.ini")
print(json.dumps(painted[0]))
sys.exit(code)
"""

FIRST = {
    "sporebank.documents": set(),
    "sporebank.formats": set(),
    "sporebank.jobs": {"labels", "today", "undo"},
    "sporebank.window.dialogs": set(),
    "sporebank.window.pages": {"today"},
}
"""What the first page needs of these packages, and all that is imported of them before its rows are painted."""
LATER = ("opening_screen", "bank_copy", "chart_file", "widgets.plot", "widgets.decline", "exchange_tab", "vial_panel")


def _start(script: str, *arguments: str) -> Any:
    """Run a script in a new process and return what its last line says."""
    quiet = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", script, json.dumps(HEAVY), *arguments]
    done = subprocess.run(command, env=quiet, cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def test_the_first_rows_wait_for_nothing_that_only_another_page_or_a_deed_needs(tmp_path: Path) -> None:
    """The demo bank, opened as a keeper opens it; figures are computed once its rows are there."""
    path = tmp_path / "demo.sporebank"
    shutil.copyfile(resources() / "demo.sporebank", path)
    loaded = _start(OPENED, str(path), str(tmp_path))
    assert [name for name in loaded if name.partition(".")[0] in HEAVY] == []
    for package, needed in FIRST.items():
        inside = {name.removeprefix(f"{package}.") for name in loaded if name.startswith(f"{package}.")}
        assert inside <= needed, package
    assert {f"sporebank.window.{name}" for name in LATER}.isdisjoint(loaded)


def test_numbers_and_plots_are_loaded_after_the_first_rows(tmp_path: Path) -> None:
    bank = new_bank(tmp_path, clock=Clock())
    fridge(bank)
    counted(bank, stored(bank).batch_id, 60)
    path = bank.path
    bank.close()
    found = _start(SCRIPT, str(path), str(tmp_path))
    assert found["first"] == []
    assert {"numpy", "pyqtgraph"} <= set(found["chart"])
    assert "reportlab" not in found["chart"]
