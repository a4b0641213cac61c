"""Counting spores under the microscope: chambers, concentration and how sure a count is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from sporebank.core.errors import Refusal


@dataclass(frozen=True)
class Chamber:
    """A counting chamber: the depth, the area of one counted part, and how many such parts it has."""

    name: str
    depth_mm: float
    area_mm2: float
    parts: int
    basis: str

    @property
    def microlitres(self) -> float:
        """Volume over one counted part, in microlitres (cubic millimetres)."""
        return self.depth_mm * self.area_mm2


def per_microlitre(counts: Sequence[int], chamber: Chamber, dilution: float = 1.0) -> float:
    """Return spores per microlitre from the counts in parts of a chamber; `dilution` 5 means 1 in 5.

    C = N D / (A depth); the usual form per millilitre is 1000 times as much.

    Raises:
        Refusal: no counts, more counts than parts, negative counts, or a dilution below 1.
    """
    _check(counts, chamber, dilution)
    return sum(counts) * dilution / (len(counts) * chamber.microlitres)


def limits(count: int) -> tuple[float, float]:
    """Return the exact 95 % limits of a Poisson count (Garwood 1936, Biometrika 28: 437-442)."""
    from scipy.special import gammaincinv  # heavy, needed only while counting

    low = float(gammaincinv(count, 0.025)) if count else 0.0
    return low, float(gammaincinv(count + 1, 0.975))


def precision(count: int) -> str:
    """Return how sure a count is, in a sentence."""
    if not count:
        return "Nothing counted: there may be up to about 4 spores in what was looked at."
    low, high = limits(count)
    more = "" if count >= 100 else " Count about 100 in all to be surer."
    return f"{count} counted: give or take {100 / sqrt(count):.0f} %, likely {low:.0f} to {high:.0f}.{more}"


def purity(spores: int, other: int) -> int:
    """Return the percentage of spores among the particles counted, to the nearest whole percent.

    Raises:
        Refusal: nothing was counted.
    """
    if spores < 0 or other < 0:
        raise Refusal("A count cannot be below zero.", field="purity")
    if spores + other == 0:
        raise Refusal("Count at least one particle, better 100.", field="purity")
    return (200 * spores + spores + other) // (2 * (spores + other))


def _check(counts: Sequence[int], chamber: Chamber, dilution: float) -> None:
    if not counts:
        raise Refusal("Count at least one square of the chamber.", field="counts")
    if len(counts) > chamber.parts:
        raise Refusal(f"{chamber.name} has {chamber.parts} parts, not {len(counts)}.", field="counts")
    if min(counts) < 0:
        raise Refusal("A count cannot be below zero.", field="counts")
    if not dilution >= 1:
        raise Refusal("The dilution is 1 when nothing was added, 5 for one part in five.", field="dilution")
