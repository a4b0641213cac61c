"""Start the demo: make the environment, build the demo bank, and open the window on it.

Without a display, or with `--headless`, walk the four main jobs instead, and leave their papers and a picture of every
page in a folder (`--out`). The standard library alone until the environment exists.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from demo import environment  # noqa: E402 - the checkout is on the path only now


def main() -> int:
    """Make the environment and go on inside it; return the exit code."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--headless", action="store_true", help="walk the jobs and write papers and pictures")
    parser.add_argument("--out", type=Path, default=ROOT / "demo" / "out", help="where the files go (demo/out)")
    given = parser.parse_args()
    out = given.out.resolve()
    headless = given.headless or not _display()
    python = environment.ensure(shown=not headless)
    if headless and not given.headless:
        environment.say("There is no display, so the demo walks by itself.")
    module = "demo.walk" if headless else "demo.window"
    return subprocess.run([str(python), "-m", module, str(out)], cwd=ROOT, check=False).returncode


def _display() -> bool:
    if sys.platform != "linux":
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


if __name__ == "__main__":
    raise SystemExit(main())
