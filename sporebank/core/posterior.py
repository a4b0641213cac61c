"""What tests teach about a batch: a grid over (K, z), exact to the grid, in log space, without sampling.

K is the probit of fresh spore, z the place of the batch in the spread of its keeping (see `ageing`). K is normal
around the table's initial probit, z is standard normal, and a test of n spores on a day with x germinated has
the binomial likelihood of x with chance Phi(K - loss(z)). For every z, K has a log-concave density: the grid in K
is laid around its mode, so that sharp evidence is met by a fine grid. The range of z is found in a coarse pass.

Where the day of collection is only partly known, the days in a room before the last possible one are taken as
spread evenly, and enter by their mean and variance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sporebank.core.ageing import StorageTable
from sporebank.core.exposure import Floats, Path, Spans

_COARSE = np.linspace(-6.0, 6.0, 49)
_FINE = np.linspace(0.0, 1.0, 121)
_NODES = np.linspace(-4.5, 4.5, 13)
_DEEP = 12.5  # natural log below the peak at which z is let go: five standard deviations of a normal
_NEWTON = 10


@dataclass(frozen=True)
class Trial:
    """A test as the likelihood sees it: the path of the spore until the day, x of n germinated."""

    path: Path
    day: int
    germinated: int
    sown: int


@dataclass(frozen=True)
class Facts:
    """All that is known of one batch: a room path, the days of doubt about its collection, its trials."""

    room: Path
    doubt: int
    trials: tuple[Trial, ...]


@dataclass(frozen=True)
class Posterior:
    """Grids of C batches: z (C, Z), K and weight (C, Z, N); the weights of a batch add up to 1."""

    z: Floats
    k: Floats
    weight: Floats

    def mean_z(self) -> Floats:
        """Return the mean of z, (C)."""
        mean: Floats = (self.weight * self.z[..., None]).sum(axis=(1, 2))
        return mean

    def mean_k(self) -> Floats:
        """Return the mean of K, (C)."""
        mean: Floats = (self.weight * self.k).sum(axis=(1, 2))
        return mean

    def take(self, rows: Sequence[int]) -> Posterior:
        """Return the grids of these batches, in this order, which may repeat some."""
        picked = list(rows)
        return Posterior(self.z[picked], self.k[picked], self.weight[picked])


def fit(facts: Sequence[Facts], storage: StorageTable) -> Posterior:
    """Return the posterior of each batch."""
    batches = _Batches(facts, storage)
    coarse = np.broadcast_to(_COARSE, (len(facts), len(_COARSE)))
    z = _around_the_peak(coarse, batches.columns(coarse)[2])
    centre, width, _ = batches.columns(z)
    k = centre[..., None] + width[..., None] * _NODES
    log_weight = batches.log_density(z, k) + np.log(width)[..., None]
    weight = np.exp(log_weight - log_weight.max(axis=(1, 2), keepdims=True))
    return Posterior(z, k, weight / weight.sum(axis=(1, 2), keepdims=True))


def _around_the_peak(z: Floats, log_density: Floats) -> Floats:
    """Return a fine grid over the part of the coarse one that matters, a step wider at either end."""
    matters = log_density > log_density.max(axis=1, keepdims=True) - _DEEP
    first = np.maximum(matters.argmax(axis=1) - 1, 0)
    last = np.minimum(z.shape[1] - matters[:, ::-1].argmax(axis=1), z.shape[1] - 1)
    low, high = _COARSE[first][:, None], _COARSE[last][:, None]
    grid: Floats = low + (high - low) * _FINE
    return grid


class _Batches:
    """The prior and the likelihood of C batches with T trials at most."""

    def __init__(self, facts: Sequence[Facts], storage: StorageTable) -> None:
        self._storage = storage
        self._room = Spans([each.room for each in facts])
        self._doubt = np.array([each.doubt for each in facts], dtype=float)[:, None]
        self._size = (len(facts), max(len(each.trials) for each in facts))
        padded = [self._padded(each) for each in facts]
        self._spans = Spans([trial.path for row in padded for trial in row])
        self._days = np.array([trial.day for row in padded for trial in row], dtype=float)
        self._alive = self._counts([trial.germinated for row in padded for trial in row])
        self._dead = self._counts([trial.sown - trial.germinated for row in padded for trial in row])

    def _padded(self, facts: Facts) -> list[Trial]:
        missing = self._size[1] - len(facts.trials)
        return [*facts.trials, *[Trial(facts.room, facts.room.starts[0], 0, 0)] * missing]

    def _counts(self, counts: list[int]) -> Floats:
        return np.array(counts, dtype=float).reshape(self._size)[:, :, None]

    def _prior(self, z: Floats) -> tuple[Floats, Floats]:
        """Return mean and standard deviation of K given z."""
        lost = self._doubt * self._room.rates(z)[:, 0]
        return self._storage.initial - lost / 2, np.sqrt(self._storage.initial_spread**2 + lost**2 / 12)

    def _losses(self, z: Floats) -> Floats:
        """Return the probits lost until each trial, (C, T, Z)."""
        return self._spans.loss(np.repeat(z, self._size[1], axis=0), self._days).reshape(*self._size, z.shape[1])

    def columns(self, z: Floats) -> tuple[Floats, Floats, Floats]:
        """Return, for each z, the mode of K, its width, and the log density of z in the normal approximation."""
        mean, spread = self._prior(z)
        losses = self._losses(z)
        k = mean.copy()
        for _ in range(_NEWTON):
            slope, bend = self._slope_and_bend(k[:, None] - losses)
            slope, bend = slope - (k - mean) / spread**2, bend + 1 / spread**2
            k = k + slope / bend
        width = 1 / np.sqrt(bend)
        return k, width, self.log_density(z, k[..., None])[..., 0] + np.log(width)

    def _slope_and_bend(self, v: Floats) -> tuple[Floats, Floats]:
        """Return the first and the negative second derivative of the log likelihood by K, (C, Z)."""
        alive, dead = _mills(v), _mills(-v)
        slope = self._alive * alive - self._dead * dead
        bend = self._alive * np.clip(alive * (alive + v), 0, 1) + self._dead * np.clip(dead * (dead - v), 0, 1)
        return slope.sum(axis=1), bend.sum(axis=1)

    def log_density(self, z: Floats, k: Floats) -> Floats:
        """Return the log of prior times likelihood on the grid (C, Z, N), but for a constant."""
        from scipy.special import log_ndtr  # heavy, needed only here

        mean, spread = (part[..., None] for part in self._prior(z))
        v = k[:, None] - self._losses(z)[..., None]
        likelihood = (self._alive[..., None] * log_ndtr(v) + self._dead[..., None] * log_ndtr(-v)).sum(axis=1)
        density: Floats = likelihood - ((k - mean) / spread) ** 2 / 2 - np.log(spread) - z[..., None] ** 2 / 2
        return density


def _mills(v: Floats) -> Floats:
    """Return phi(v) / Phi(v), which is about -v far below zero."""
    from scipy.special import log_ndtr  # heavy, needed only here

    near = np.maximum(v, -30.0)
    ratio: Floats = np.exp(-(near**2) / 2 - 0.5 * np.log(2 * np.pi) - log_ndtr(near))
    return np.where(v < -30.0, -v, ratio)
