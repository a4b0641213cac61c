"""What a test says: the log likelihood of its counts as a table over v, the probit of the share alive.

Replicates of one test differ by more than chance alone: spores of a dish share its water, its light and the hand that
counted it. So x of n germinated is beta-binomial around the share alive, with an intra-class correlation rho between
the spores of one replicate (Skellam 1948, from memory); rho = 0 is the binomial. Replicates more alike than chance are
taken as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from sporebank.core.lookup import Floats, Tables, cubics

Counts = tuple[tuple[int, int], ...]
"""Germinated and sown of each replicate."""

_LIMIT, _STEP = 9.0, 0.03
_V = np.arange(-_LIMIT, _LIMIT + _STEP / 2, _STEP)


def tables(counts: Sequence[Counts], rho: float) -> Tables:
    """Return the log likelihoods of many tests side by side, each over v and but for a constant."""
    found = np.zeros((len(counts), len(_V), 4))
    for test, replicates in zip(found, counts, strict=True):
        for germinated, sown in replicates:
            test += _cubics(germinated, sown, rho)
    return Tables(found, -_LIMIT, _STEP)


@lru_cache(maxsize=2_000)
def _cubics(germinated: int, sown: int, rho: float) -> Floats:
    """Return what one replicate says between the steps of v; twenty kilobytes."""
    found: Floats = cubics(_replicate(germinated, sown, rho)[None])[0]
    return found


def _replicate(germinated: int, sown: int, rho: float) -> Floats:
    """Return the log likelihood of one replicate over v, but for a constant.

    Raises:
        ValueError: it is no count.
    """
    if not 0 <= germinated <= sown:
        raise ValueError(f"{germinated} of {sown} is no count")
    from scipy.special import log_ndtr, loggamma  # heavy, needed only here

    if rho == 0 or sown <= 1:
        binomial: Floats = germinated * log_ndtr(_V) + (sown - germinated) * log_ndtr(-_V)
        return binomial
    spread = (1 - rho) / rho
    alive, dead = np.exp(log_ndtr(_V)) * spread, np.exp(log_ndtr(-_V)) * spread
    return np.asarray(_rising(loggamma, alive, germinated) + _rising(loggamma, dead, sown - germinated), dtype=float)


def _rising(loggamma: np.ufunc, start: Floats, steps: int) -> Floats:
    """Return the log of start (start + 1) ... (start + steps - 1), also where start is next to nothing."""
    if steps == 0:
        return np.zeros_like(start)
    floor = np.maximum(start, 1e-300)
    rest: Floats = np.log(floor) + loggamma(floor + steps) - loggamma(floor + 1.0)
    return rest
