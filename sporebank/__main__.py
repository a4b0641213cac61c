"""The only wiring: arguments, one window at a time, the look, and which bank is opened."""

from __future__ import annotations

import argparse
import shutil
import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sporebank import __version__

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

    from sporebank.window.single import SingleWindow


def main(arguments: Sequence[str] | None = None) -> int:
    """Start the window, or bring the one that is open to the front; return the exit code."""
    given = parse(arguments)
    from PySide6.QtWidgets import QApplication

    from sporebank.window.single import SingleWindow

    app = QApplication(sys.argv[:1])
    app.setApplicationName("sporebank")
    app.setApplicationVersion(__version__)
    app.setDesktopFileName("sporebank")
    single = SingleWindow(parent=app)
    if not single.is_first(given.bank):
        return 0
    return run(app, given.bank, _state_file(), single)


def run(app: QApplication, bank: Path | None, state: Path, single: SingleWindow | None = None) -> int:
    """Show the window over a bank (the last one when none is named) until it is closed; return the exit code."""
    from sporebank.window import fonts
    from sporebank.window.garbage import Garbage
    from sporebank.window.session import Session
    from sporebank.window.state import WindowState
    from sporebank.window.theme import Theme

    fonts.wear(app)
    Garbage(app)
    session = Session(Theme(app), WindowState(state), _now, _demo_bank, app)
    if single is not None:
        single.raised.connect(session.raise_window)
    session.start(bank)
    code = app.exec()
    return code if session.end() else 1


def parse(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="sporebank", description="A window over a bank of fern spore.")
    parser.add_argument("bank", nargs="?", type=_absolute, help="the bank to open; the last one when left out")
    parser.add_argument("--version", action="version", version=__version__)
    return parser.parse_args(arguments)


def _absolute(text: str) -> Path:
    """Return a path that means the same wherever it is read: the first start may run in another folder."""
    return Path(text).expanduser().resolve()


def _now() -> datetime:
    return datetime.now()  # noqa: DTZ005 - a bank keeps the wall clock of its keeper


def _state_file() -> Path:
    from platformdirs import user_state_path

    return user_state_path("sporebank", appauthor=False, ensure_exists=True) / "window.ini"


def _demo_bank() -> Path:
    """Put the demo bank beside the keeper's own banks, unless it is there, and return its path."""
    from sporebank.paths import resources
    from sporebank.window.opening_screen import default_folder

    target = default_folder() / "Demo fernery.sporebank"
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(resources() / "demo.sporebank", target)
    return target


if __name__ == "__main__":
    raise SystemExit(main())
