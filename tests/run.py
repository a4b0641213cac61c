"""Run every check: lint, types, tests, coverage. It makes the environment first where there is none."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from demo import environment  # noqa: E402 - the checkout is on the path only now

#: Branch coverage asked for, in percent: of the whole, and of the layer that holds the arithmetic.
WHOLE, CORE = 90.0, 98.0


def main() -> int:
    """Run the checks in turn and return the exit code of the first that fails, 0 when all pass."""
    python = str(environment.ensure())
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "coverage.json"
        measure = ["--cov", "--cov-branch", f"--cov-report=json:{report}", "--cov-report="]
        spread = ["-n", "auto", "--dist", "worksteal"]  # a worker a core; `-n 0` after it runs all in one process
        checks = (
            ("lint", [python, "-m", "ruff", "check", "."]),
            ("format", [python, "-m", "ruff", "format", "--check", "."]),
            ("types", [python, "-m", "mypy"]),
            ("tests", [python, "-m", "pytest", *spread, *measure, *sys.argv[1:]]),
        )
        quiet = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "COVERAGE_FILE": str(Path(folder) / "coverage")}
        for name, command in checks:
            environment.say(f"== {name}")
            done = subprocess.run(command, cwd=ROOT, env=quiet, check=False)
            if done.returncode:
                environment.say(f"The check “{name}” failed; see above.")
                return done.returncode
        return 0 if sys.argv[1:] else _covered(report)


def _covered(report: Path) -> int:
    """Print the coverage and return 1 where it is less than asked for."""
    measured = json.loads(report.read_text(encoding="utf-8"))
    core = [one["summary"] for path, one in measured["files"].items() if "core" in Path(path).parts]
    whole = float(measured["totals"]["percent_covered"])
    branches, hit = (sum(one[key] for one in core) for key in ("num_branches", "covered_branches"))
    of_core = 100.0 * hit / branches
    environment.say(f"== coverage: {whole:.1f} % of the whole, {of_core:.1f} % of the branches of core")
    if whole < WHOLE or of_core < CORE:
        environment.say(f"At least {WHOLE} % of the whole and {CORE} % of the branches of core are asked for.")
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
