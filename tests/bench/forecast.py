"""The figures of a bank of 12,500 tested batches in 100,000 vials: all anew, on to the next day, after one new test.

Each is also given as a ratio to evaluating the bare normal distribution on the same number of points: the points of
every batch's grid for the whole, the four numbers of every vial for the day.
"""

from __future__ import annotations

import gc
import json
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402 - the checkout is on the path only now
from scipy.special import ndtr  # noqa: E402

from sporebank.bank import figures  # noqa: E402
from sporebank.bank.bank import Bank  # noqa: E402
from sporebank.bank.opening import open_bank  # noqa: E402
from sporebank.core.posterior import POINTS  # noqa: E402
from sporebank.core.records import Replicate  # noqa: E402
from sporebank.jobs import figures as work  # noqa: E402
from sporebank.jobs.testing import TestForm, record_test  # noqa: E402
from tests.bench.large_bank import TODAY, clock, large_bank  # noqa: E402

VIALS, PER_BATCH = 100_000, 8


def main() -> None:
    """Measure, print a table and the JSON line; a number of vials may be given."""
    vials = int(sys.argv[1]) if sys.argv[1:] else VIALS
    gc.disable()  # as in the program, whose window collects garbage for all of it: see window/garbage.py
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bank.sporebank"
        shutil.copy(large_bank(vials, PER_BATCH, tested=True), path)
        full_s, pieces_ms = _day(path, 0, work.refresh_all)
        daily_s, day_ms = _day(path, 1, _bring_up_to_date)
        weekly_s, _ = _day(path, 7, _bring_up_to_date)
        test_ms = _one_test(path)
    batches = -(-vials // PER_BATCH)
    found = {
        "full_s": full_s,
        "full_ratio": full_s / _bare(batches * POINTS),
        "daily_s": daily_s,
        "daily_ratio": daily_s / _bare(vials * 4),
        "weekly_s": weekly_s,
        "one_test_ms": test_ms,
        "piece_ms": max(pieces_ms, day_ms),
    }
    print(f"{batches:,} batches in {vials:,} vials")
    for name, value in found.items():
        print(f"{name:14}{value:12.2f}")
    print(json.dumps({name: round(value, 3) for name, value in found.items()}))


def _day(path: Path, later: int, job: Callable[[Bank], float]) -> tuple[float, float]:
    """Return the seconds that a job takes on a day, and the milliseconds of its longest piece."""
    bank = open_bank(path, lambda: clock() + timedelta(days=later))
    try:
        start = time.perf_counter()
        longest = job(bank)
        return time.perf_counter() - start, 1000 * (longest or 0.0)
    finally:
        bank.close()


def _bring_up_to_date(bank: Bank) -> float:
    longest = 0.0
    for piece in work.chunks(bank):
        start = time.perf_counter()
        piece(bank)
        longest = max(longest, time.perf_counter() - start)
    assert not work.stale(bank)
    return longest


def _one_test(path: Path) -> float:
    """Return the milliseconds from a test to the figures of all it touches, the median of eleven."""
    bank = open_bank(path, lambda: clock() + timedelta(days=7))
    try:
        work.keep_fresh(bank)
        taken = [_timed(lambda batch=batch: _record(bank, batch)) for batch in figures.all_batches(bank)[5::997][:11]]
        return 1000 * float(np.median(taken))
    finally:
        bank.close()


def _record(bank: Bank, batch_id: int) -> None:
    day = TODAY + timedelta(days=5)
    record_test(
        bank, TestForm(batch_id=batch_id, vial_id=None, sown_on=day, counted_on=day, replicates=(Replicate(100, 61),))
    )


def _timed(job: Callable[[], object]) -> float:
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def _bare(points: int) -> float:
    """Return the seconds that the bare normal distribution takes on so many points."""
    at = np.linspace(-4.0, 4.0, points)
    return min(_timed(lambda: ndtr(at)) for _ in range(5))


if __name__ == "__main__":
    main()
