"""What a test would tell: how much narrower the band would be after it."""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

from sporebank.core import sampling
from sporebank.core.records import Share

_BAND = 2 * NormalDist().inv_cdf(0.95)  # standard deviations from the 5 to the 95 % point


def width_after(share: Share, count: int, correlation: float = 0.0) -> float:
    """Return how wide the band is expected to be once so many spores are counted, as a share from 0 to 1.

    The share alive is taken as beta distributed; the variance expected after n of a binomial is then the one before
    times s / (s + n), with s = a + b (Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, from memory).
    Spores of one dish that are alike count as fewer (`sampling.worth`).
    """
    variance = ((share.high - share.low) / _BAND) ** 2
    mean = min(max(share.middle, 0.01), 0.99)
    strength = max(mean * (1 - mean) / max(variance, 1e-9) - 1, 0.5)
    return (share.high - share.low) * sqrt(strength / (strength + sampling.worth(count, correlation)))
