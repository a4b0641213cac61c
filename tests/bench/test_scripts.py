"""The scripts that measure do run, and what they measure is a sound bank."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from sporebank.bank import queries
from sporebank.bank.opening import open_bank
from sporebank.core.records import VialFilter
from tests.bench.large_bank import build, clock
from tests.builders import sound

BENCH = Path(__file__).parent


def test_a_large_bank_is_what_its_own_deeds_would_have_left(tmp_path):
    build(tmp_path / "large.sporebank", 1_003)
    bank = open_bank(tmp_path / "large.sporebank", clock)
    sound(bank)
    assert queries.vial_counts(bank, VialFilter()).vials == 1_003
    bank.close()


@pytest.mark.parametrize(
    ("script", "part", "keys"),
    [
        (
            "vials.py",
            "1000",
            {"page_ms", "search_dryo_ms", "sort_taxon_ms", "counts_ms", "take_ms", "open_s", "peak_mb"},
        ),
        ("documents.py", "manifest", {"s", "pages", "kb", "peak_mb"}),
        ("labels.py", "ours", {"s", "preflight_s", "kb", "peak_mb"}),
        ("labels.py", "bare", {"s", "peak_mb"}),
        ("readrate.py", "cap", {"undamaged", "damaged", "worst", "cornered", "labels"}),
        (
            "sharing.py",
            "40",
            {"solve_s", "step_s", "turns_s", "worst_fair", "worst_turns", "total_fair", "total_turns"},
        ),
        ("orders.py", "20", {"import_s", "preview_s", "again_s", "lines", "peak_mb"}),
    ],
)
def test_a_script_runs_alone_and_its_last_line_is_json(script, part, keys, tmp_path):
    command = [sys.executable, str(BENCH / script), part]
    done = subprocess.run(command, cwd=tmp_path, check=True, stdout=subprocess.PIPE, text=True)
    found = json.loads(done.stdout.splitlines()[-1])
    assert keys <= found.keys()
    assert all(value >= 0 for value in found.values())
