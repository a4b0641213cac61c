"""Open the window on the demo bank, built anew where there is none; called by start.py inside the environment."""

from __future__ import annotations

import sys
from pathlib import Path

from demo.story import build
from sporebank.__main__ import main


def open_window(folder: Path) -> int:
    """Build the demo bank in a folder where there is none, and open the window on it."""
    bank = folder / "demo.sporebank"
    if not bank.exists():
        print("Building the demo bank (about ten seconds) ...", flush=True)
        folder.mkdir(parents=True, exist_ok=True)
        build(bank)
    print(f"Opening {bank}; delete the file to start afresh.", flush=True)
    return main([str(bank)])


if __name__ == "__main__":
    raise SystemExit(open_window(Path(sys.argv[1])))
