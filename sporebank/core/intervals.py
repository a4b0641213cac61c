"""Intervals for a share seen in a count: x of n."""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

Interval = tuple[float, float]


def wilson(x: int, n: int, level: float = 0.95) -> Interval:
    """Return the score interval of Wilson 1927, J. Amer. Statist. Assoc. 22: 209-212; n is at least 1."""
    z = NormalDist().inv_cdf((1 + level) / 2)
    centre = (x + z * z / 2) / (n + z * z)
    half = z / (n + z * z) * sqrt(x * (n - x) / n + z * z / 4)
    return (0.0 if x == 0 else centre - half, 1.0 if x == n else centre + half)


def exact(x: int, n: int, level: float = 0.95) -> Interval:
    """Return the exact interval of Clopper & Pearson 1934, Biometrika 26: 404-413; n is at least 1."""
    from scipy.special import betaincinv  # heavy, needed only here

    tail = (1 - level) / 2
    low = 0.0 if x == 0 else float(betaincinv(x, n - x + 1, tail))
    return low, 1.0 if x == n else float(betaincinv(x + 1, n - x, 1 - tail))
