"""How many spores to count so that a share is known as closely as wanted."""

from __future__ import annotations

from bisect import bisect_left
from math import sqrt
from statistics import NormalDist

from sporebank.core.errors import Refusal

MOST = 100_000
"""More than anyone counts."""


def half_width(count: int, share: float, level: float = 0.95) -> float:
    """Return half the width of the interval of Wilson 1927 for a share (0 to 1) seen in so many spores."""
    z = NormalDist().inv_cdf((1 + level) / 2)
    return z / (count + z * z) * sqrt(count * share * (1 - share) + z * z / 4)


def needed(wanted: float, share: float, level: float = 0.95) -> int:
    """Return the least number to count for an interval no wider than `wanted` either way, at an expected share.

    Raises:
        Refusal: it is no width that a count can give.
    """
    if not 0 <= share <= 1:
        raise Refusal("An expected share lies from 0 to 100 %.", field="share")
    if not 0 < wanted < 0.5 or half_width(MOST, share, level) > wanted:
        raise Refusal("Choose how closely from 1 to 49 %.", field="wanted")
    return 1 + bisect_left(range(1, MOST + 1), -wanted, key=lambda count: -half_width(count, share, level))


def words(wanted: float, share: float) -> str:
    """Return how many to count in a sentence: `Count 381 in all: about 50 % is then known to 5 % either way.`"""
    known = f"about {share * 100:.0f} % is then known to {wanted * 100:g} % either way."
    return f"Count {needed(wanted, share)} in all: {known}"
