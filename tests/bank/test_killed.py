"""Killed at any moment, a bank opens, is sound, and has every deed that it said was kept."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

import pytest

from sporebank.bank.opening import open_bank
from sporebank.bank.sql import rows
from sporebank.jobs import figures
from tests.builders import EVERY_FIGURE, Clock, fridge, new_bank, sound

ROOT = Path(__file__).resolve().parents[2]
DEEDS = 200


@pytest.fixture
def path(tmp_path):
    bank = new_bank(tmp_path)
    fridge(bank, boxes=6)
    bank.close()
    return bank.path


def work_and_die(path: Path, seed: int, lines: int, extra: int) -> list[int]:
    """Let a keeper work, kill it so many lines on and a wink later, and return the deeds it said were kept."""
    command = [sys.executable, "-m", "tests.bank.kept_busy", str(path), str(seed)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE) as keeper:
        said = [keeper.stdout.readline() for _ in range(lines)]
        sum(range(extra))  # a wink, so that the kill meets the keeper anywhere in the next deed
        keeper.kill()
        rest, _ = keeper.communicate()
    whole = b"".join(said) + rest[: rest.rfind(b"\n") + 1]
    return [int(line) for line in whole.split()]


def test_killed_at_random_moments_of_200_deeds_no_deed_is_lost(path):
    chance, said, rounds = random.Random(20260314), [], 0
    while len(said) < DEEDS:
        rounds += 1
        new = work_and_die(path, rounds, chance.randint(3, 30), chance.randrange(600_000))
        assert new, "the keeper did not get to work"
        said += new
        bank = open_bank(path, Clock())
        kept = {row[0] for row in rows(bank, "SELECT id FROM event")}
        assert set(said) <= kept
        sound(bank)
        follow(bank)
        bank.close()
    assert rounds > 2
    assert len(set(said)) == len(said)


def follow(bank):
    """The figures are known to be stale, or they are those that computing anew gives."""
    everything = f"{EVERY_FIGURE} JOIN vial ON vial.id = vial_id WHERE void = 0 AND culled_on IS NULL"
    before, stale = rows(bank, f"{everything} ORDER BY vial_id"), figures.stale(bank)
    figures.refresh_all(bank)
    assert stale or rows(bank, f"{everything} ORDER BY vial_id") == before
    assert not figures.stale(bank)
