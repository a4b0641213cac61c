"""How many spores to count so that a share is known as closely as wanted."""

from __future__ import annotations

from bisect import bisect_left
from math import sqrt
from statistics import NormalDist

from sporebank.core.errors import Refusal

MOST = 100_000
"""More than anyone counts."""
DISH = 100
"""The spores of one replicate; common practice, no source."""


def half_width(count: float, share: float, level: float = 0.95) -> float:
    """Return half the width of the interval of Wilson 1927 for a share (0 to 1) seen in so many spores."""
    z = NormalDist().inv_cdf((1 + level) / 2)
    return z / (count + z * z) * sqrt(count * share * (1 - share) + z * z / 4)


def worth(count: int, correlation: float) -> float:
    """Return how many spores that differ by chance alone tell as much as so many, counted 100 to a dish.

    The spores of one dish are alike: n of them tell as much as n / (1 + (n - 1) correlation), the design effect of
    Kish 1965, Survey Sampling (from memory).
    """
    return count / (1 + (min(count, DISH) - 1) * correlation)


def needed(wanted: float, share: float, correlation: float = 0.0, level: float = 0.95) -> int:
    """Return the least number to count for an interval no wider than `wanted` either way, at an expected share.

    Args:
        wanted: half the width of the interval.
        share: the share expected, from 0 to 1.
        correlation: that between the spores of one dish, as `worth` takes it.
        level: the confidence.

    Raises:
        Refusal: it is no width that a count can give.
    """
    if not 0 <= share <= 1:
        raise Refusal("An expected share lies from 0 to 100 %.", field="share")

    def width(count: int) -> float:
        return half_width(worth(count, correlation), share, level)

    if not 0 < wanted < 0.5 or width(MOST) > wanted:
        raise Refusal("Choose how closely from 1 to 49 %.", field="wanted")
    return 1 + bisect_left(range(1, MOST + 1), -wanted, key=lambda count: -width(count))


def words(wanted: float, share: float, correlation: float) -> str:
    """Return in a sentence how many to count, 100 to a dish."""
    count = needed(wanted, share, correlation)
    dishes = "" if count <= DISH else f", {DISH} to a dish"
    return f"Count {count:,} in all{dishes}: about {share * 100:.0f} % is then known to {wanted * 100:g} % either way."
