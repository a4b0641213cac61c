"""Make the Python environment that the demo and the checks run in; the standard library alone."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HOME = ROOT / ".venv"
_STAMP = HOME / "made-for"

#: What Qt needs from the system on Debian and its kin: the first line for any window, the second for one on X11.
_SYSTEM = (
    "libegl1", "libgl1", "libglib2.0-0", "libfontconfig1", "libxkbcommon0", "libdbus-1-3",
    "libxcb-cursor0", "libxkbcommon-x11-0", "libxcb-icccm4", "libxcb-image0", "libxcb-keysyms1", "libxcb-randr0",
    "libxcb-render-util0", "libxcb-shape0", "libxcb-xinerama0", "libxcb-xkb1",
)  # fmt: skip


def say(text: str) -> None:
    """Tell the person at the terminal what happens."""
    print(text, flush=True)


def python() -> Path:
    """Return the environment's own Python."""
    return HOME / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def ensure(*, shown: bool = False) -> Path:
    """Make the environment, or leave it as it is where it already fits, and return its Python.

    With `shown`, a window must be able to open on the display too.
    """
    if sys.version_info < (3, 11):
        raise SystemExit(f"Python 3.11 or newer is needed; this is {sys.version.split()[0]}. Run it with a newer one.")
    wanted = _wanted()
    if not (python().exists() and _STAMP.exists() and _STAMP.read_text(encoding="utf-8") == wanted):
        _make(wanted)
    _ensure_system(shown=shown)
    return python()


def _wanted() -> str:
    """Return what the environment depends on, as a digest."""
    text = (ROOT / "pyproject.toml").read_bytes() + sys.version.encode() + str(ROOT).encode()
    return hashlib.sha256(text).hexdigest()


def _make(wanted: str) -> None:
    say(f"Making the environment in {HOME} (a minute or two, about 900 MB) ...")
    try:
        venv.EnvBuilder(with_pip=True, clear=True).create(HOME)
    except (subprocess.CalledProcessError, OSError) as error:
        raise SystemExit(
            f"The environment could not be made ({error}).\n"
            "On Debian and Ubuntu this command brings what is missing:  sudo apt-get install python3-venv"
        ) from error
    pip = [str(python()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    done = subprocess.run([*pip, "--editable", f"{ROOT}[test]"], check=False)
    if done.returncode:
        raise SystemExit("The packages could not be installed; see above. Is there a network? Then run this again.")
    _STAMP.write_text(wanted, encoding="utf-8")


def _qt_loads(*, shown: bool) -> bool:
    """Return whether Qt can open a window on the display, or without one where nothing is to be shown."""
    trial = "import PySide6.QtSvg, PySide6.QtNetwork; from PySide6.QtWidgets import QApplication; QApplication([])"
    surroundings = os.environ if shown else {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    test = [str(python()), "-c", trial]
    return subprocess.run(test, check=False, capture_output=True, env=surroundings).returncode == 0


def _ensure_system(*, shown: bool) -> None:
    """Install the system libraries of Qt where they are missing and that is allowed, else print the command."""
    if sys.platform != "linux" or _qt_loads(shown=shown):
        return
    command = ["apt-get", "install", "--yes", "--no-install-recommends", *_SYSTEM]
    may = shutil.which("apt-get") is not None and os.geteuid() == 0
    if may:
        say("Installing the system libraries that Qt needs ...")
        subprocess.run(["apt-get", "update", "--quiet"], check=False, stdout=subprocess.DEVNULL)
        quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        subprocess.run(command, check=False, stdout=subprocess.DEVNULL, env=quiet)
        if _qt_loads(shown=shown):
            return
    raise SystemExit(
        "Qt lacks libraries of the system. On Debian and Ubuntu this command brings them:\n"
        f"  sudo {' '.join(command)}\nOn other systems install the libraries of the same names, then run this again."
    )
