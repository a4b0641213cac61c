"""What batches of one taxon tell of each other: how fast its spore ages, learnt from sisters and lent to all.

A batch lies at z in the spread of its class (see `ageing`): z = a T + e, where T is the taxon's own place in that
spread, standard normal, and e the batch's deviation from it, of spread b, with a^2 + b^2 = 1. So far a batch of no
known kin has the class's prior. The tests of each batch give a likelihood over z, K integrated out; seen through e it
becomes a likelihood over T. The prior lent to a batch comes from all its sisters but never from itself, whose tests
enter by themselves.

Now and then a batch is odd (badly dried, misnamed). e is therefore a mixture: a small share of batches deviates five
times as far, so that one odd batch does not drag the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sporebank.core.lookup import Floats

#: The places in the spread on which likelihoods and lent priors are tabled.
Z = np.linspace(-6.0, 6.0, 121)
_STEP = float(Z[1] - Z[0])
_ODD, _ODDLY = 0.05, 5.0
_USUAL = 1 / np.sqrt(1 - _ODD + _ODD * _ODDLY**2)  # so that the mixture has the spread b as a whole
STANDARD: Floats = -(Z**2) / 2
"""The log prior of a batch without kin, but for a constant."""


@dataclass(frozen=True, eq=False)
class Lent:
    """A log prior over `Z` lent to a batch, and what it rests on: tested sisters and their spores."""

    log_density: Floats
    sisters: int = 0
    spores: int = 0


NOTHING_LENT = Lent(STANDARD)


def lend(log_likelihood: Floats, share: float, spores: list[int]) -> tuple[list[Lent], Lent]:
    """Return the prior lent to each of B tested sisters by the others, and the one lent to an untested batch.

    Args:
        log_likelihood: of each sister's tests over `Z`, (B, 121), but for a constant.
        share: the share of the variance of z that lies between taxa, a^2, from 0 to below 1.
        spores: how many spores each sister's tests looked at.
    """
    kernel = _kernel(share)
    scaled = log_likelihood - log_likelihood.max(axis=1, keepdims=True)
    through = np.log(np.exp(scaled) @ kernel.T * _STEP + 1e-300)
    total = STANDARD + through.sum(axis=0)
    without = _mix(total - through, kernel)
    count, looked_at = len(spores), sum(spores)
    lent = [
        Lent(prior, count - 1, looked_at - own) if count > 1 else NOTHING_LENT
        for prior, own in zip(without, spores, strict=True)
    ]
    return lent, Lent(_mix(total[None], kernel)[0], count, looked_at)


@lru_cache(maxsize=8)
def _kernel(share: float) -> Floats:
    """Return the density of z (columns) given T (rows), both over `Z`, of a batch that may be odd."""
    away = Z[None, :] - np.sqrt(share) * Z[:, None]
    spread = _USUAL * np.sqrt(1 - share)
    usual, odd = _normal(away, spread), _normal(away, _ODDLY * spread)
    density: Floats = (1 - _ODD) * usual + _ODD * odd
    return density


def _normal(away: Floats, spread: float) -> Floats:
    density: Floats = np.exp(-((away / spread) ** 2) / 2) / (spread * np.sqrt(2 * np.pi))
    return density


def _mix(log_weight: Floats, kernel: Floats) -> Floats:
    """Return the log density of z where T has these log weights, each row by itself, (B, 121)."""
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    mixed: Floats = np.log(weight @ kernel / weight.sum(axis=1, keepdims=True) + 1e-300)
    return mixed
