"""Does the 90 % band hold the truth in 90 of 100? Taxa are drawn from the model itself, and from worlds unlike it.

    python tests/bench/calibration.py [--taxa 2000]

Last line: {"coverage90": ..., "coverage90_worst_class": ..., "width_ratio_untested": ...}. The ratio is the mean width
of the band of untested batches with tested sisters, pooled over unpooled.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from scipy.special import ndtr

from sporebank.core.dates import PartDate
from sporebank.core.records import Replicate, SporeClass, Stay
from sporebank.core.viability import (
    NOTHING_LENT,
    Case,
    Evidence,
    History,
    Sister,
    forecast_many,
    kin_many,
)
from sporebank.formats.tables import load_storage

STORAGE = load_storage()
TODAY = date(2026, 3, 14)
SEED = 7


@dataclass(frozen=True)
class World:
    """How taxa are drawn: the correlation of replicates, whether sigma is skewed, and the class they truly have."""

    correlation: float = STORAGE.correlation
    skewed: bool = False
    wrong_class: bool = False


@dataclass(frozen=True)
class Batch:
    """One simulated batch with the share truly alive today."""

    sister: Sister
    stays: tuple[Stay, ...]
    truth: float


def draw_taxon(chance: np.random.Generator, world: World) -> list[Batch]:
    """Draw a taxon of 1 to 6 batches with 0 to 4 tests each."""
    spore_class = SporeClass(chance.choice(list(SporeClass)))
    true_class = (
        SporeClass(chance.choice(list(SporeClass))) if world.wrong_class and chance.random() < 0.2 else spore_class
    )
    taxon = deviate(chance, world)
    return [draw_batch(chance, world, spore_class, true_class, taxon) for _ in range(chance.integers(1, 7))]


def deviate(chance: np.random.Generator, world: World) -> float:
    """Return a standard deviate, skewed with the same mean and variance where the world is."""
    return float(chance.gamma(2.0) - 2.0) / np.sqrt(2.0) if world.skewed else float(chance.standard_normal())


def draw_batch(chance: np.random.Generator, world: World, said: SporeClass, true: SporeClass, taxon: float) -> Batch:
    """Draw a batch of a taxon, kept in a fridge; its age suits how long such spore lives."""
    row = STORAGE.rows[true].fridge
    away = (3.0 if chance.random() < 0.05 else 1.0) / np.sqrt(1.4)
    between = STORAGE.between_taxa
    z = np.sqrt(between) * taxon + np.sqrt(1 - between) * away * deviate(chance, world)
    fresh = chance.normal(STORAGE.initial, STORAGE.initial_spread)
    sigma = row.days * 10 ** (row.spread * z)
    age = int(min(7000, max(2, chance.uniform(0.1, 3.0) * STORAGE.rows[said].fridge.days)))
    collected = TODAY - timedelta(days=age)
    stays = (Stay(collected, 4.0, None),)
    tests = tuple(
        draw_test(chance, world, fresh, sigma, collected, int(chance.integers(1, age + 1)), stays)
        for _ in range(chance.integers(0, 5))
    )
    truth = float(ndtr(fresh - age / sigma))
    return Batch(Sister(tests, PartDate.of(collected), said), stays, truth)


def draw_test(
    chance: np.random.Generator,
    world: World,
    fresh: float,
    sigma: float,
    collected: date,
    day: int,
    stays: tuple[Stay, ...],
) -> Evidence:
    """Draw the counts of a test from the truth of its day."""
    alive, sown = float(ndtr(fresh - day / sigma)), int(chance.choice((50, 100)))
    spread = (1 - world.correlation) / world.correlation
    shares = chance.beta(
        np.maximum(alive * spread, 1e-9), np.maximum((1 - alive) * spread, 1e-9), chance.integers(2, 5)
    )
    counts = chance.binomial(sown, np.clip(shares, 0, 1))
    return Evidence(collected + timedelta(days=day), tuple(Replicate(sown, int(count)) for count in counts), stays)


def foresee(taxa: list[list[Batch]], pooled: bool) -> list[list[tuple[float, float]]]:
    """Return the band of every batch."""
    lent = kin_many([dict(enumerate(one.sister for one in taxon)) for taxon in taxa], STORAGE)
    cases = [
        Case(
            one.sister.evidence,
            History(one.sister.collected, one.stays),
            one.sister.spore_class,
            tested.get(number, untested) if pooled else NOTHING_LENT,
        )
        for taxon, (tested, untested) in zip(taxa, lent, strict=True)
        for number, one in enumerate(taxon)
    ]
    found = iter(forecast_many(cases, STORAGE, TODAY))
    return [[(share.low, share.high) for share in (next(found).share for _ in taxon)] for taxon in taxa]


def covered(taxa: list[list[Batch]], bands: list[list[tuple[float, float]]]) -> dict[str, float]:
    """Return the share of batches whose truth lies in its band, overall and per class."""
    hits = defaultdict(list)
    for taxon, ranges in zip(taxa, bands, strict=True):
        for one, (low, high) in zip(taxon, ranges, strict=True):
            hit = low <= one.truth <= high
            hits["all"].append(hit)
            hits[one.sister.spore_class.value].append(hit)
    return {key: float(np.mean(values)) for key, values in hits.items()}


def widths_untested(taxa: list[list[Batch]], bands: list[list[tuple[float, float]]]) -> float:
    """Return the mean width of the bands of untested batches with tested sisters."""
    return float(
        np.mean(
            [
                high - low
                for taxon, ranges in zip(taxa, bands, strict=True)
                if any(one.sister.evidence for one in taxon)
                for one, (low, high) in zip(taxon, ranges, strict=True)
                if not one.sister.evidence
            ]
        )
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--taxa", type=int, default=2000)
    count = parser.parse_args().taxa
    worlds = {
        "the model's own": World(),
        "replicates 5 times as unlike": replace(World(), correlation=5 * STORAGE.correlation),
        "a wrong class for every fifth": World(wrong_class=True),
        "a skewed sigma": World(skewed=True),
    }
    figures = {}
    for name, world in worlds.items():
        chance = np.random.default_rng(SEED)
        taxa = [draw_taxon(chance, world) for _ in range(count)]
        bands = foresee(taxa, pooled=True)
        share = covered(taxa, bands)
        classes = {key: value for key, value in share.items() if key != "all"}
        worst = max(classes, key=lambda key: abs(classes[key] - 0.9))
        print(f"{name:32s} {share['all']:6.1%} of {sum(map(len, taxa)):,} batches; worst: {worst} {classes[worst]:.1%}")
        if not figures:
            ratio = widths_untested(taxa, bands) / widths_untested(taxa, foresee(taxa, pooled=False))
            print(f"{'untested with tested sisters':32s} band {ratio:.3f} as wide as without them")
            figures = {
                "coverage90": round(share["all"], 4),
                "coverage90_worst_class": round(classes[worst], 4),
                "width_ratio_untested": round(ratio, 4),
            }
    print(json.dumps(figures))


if __name__ == "__main__":
    main()
