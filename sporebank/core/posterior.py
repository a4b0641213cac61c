"""What tests teach about a batch: a grid over (K, z), exact to the grid, in log space, without sampling.

K is the probit of fresh spore, z the place of the batch in the spread of its keeping (see `ageing`). K is normal
around the table's initial probit, z is standard normal or as its kin lend it (see `relatives`), and a test has the
likelihood of its counts at v = K - loss(z) (see `likelihood`). For every z, the grid in K is laid around the mode of
its density, so that sharp evidence is met by a fine grid. The range of z is found in a coarse pass.

Where the day of collection is only partly known, every day it may have been is as likely as another; K is then
the probit on the last of them, and its prior is smeared by what a room may have cost before (see `smear`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sporebank.core import smear
from sporebank.core.exposure import Path, Spans
from sporebank.core.likelihood import Counts, tables
from sporebank.core.lookup import Floats, Tables
from sporebank.core.relatives import NOTHING_LENT, Lent, Z
from sporebank.core.storage import StorageTable

_COARSE = np.linspace(-6.0, 6.0, 49)
_FINE = np.linspace(0.0, 1.0, 61)
_NODES = np.linspace(0.0, 1.0, 25)
_GOLDEN = (5**0.5 - 1) / 2
_REACH = 4.5  # standard deviations of K either side of its mode
_DEEP = 12.5  # natural log below the peak at which z is let go: five standard deviations of a normal
_SEARCH = np.linspace(0.0, 1.0, 25)
_NEWTON = 6


@dataclass(frozen=True)
class Trial:
    """A test as the likelihood sees it: the path of the spore until the day, and the counts."""

    path: Path
    day: int
    counts: Counts


@dataclass(frozen=True)
class Facts:
    """All that is known of one batch: its first path, days of doubt about its collection, its trials, what kin lend."""

    first: Path
    doubt: int
    trials: tuple[Trial, ...]
    lent: Lent = NOTHING_LENT


@dataclass(frozen=True)
class Posterior:
    """Grids of C batches: z (C, Z), K and weight (C, Z, N); the weights of a batch add up to 1."""

    z: Floats
    k: Floats
    weight: Floats

    @cached_property
    def edges(self) -> Floats:
        """Return the lower end in K of the first cell and the upper end of the last, (C, Z, 2)."""
        half = (self.k[..., 1] - self.k[..., 0]) / 2
        ends: Floats = np.stack([self.k[..., 0] - half, self.k[..., -1] + half], axis=-1)
        return ends

    @cached_property
    def _below_cells(self) -> Floats:
        """The weight of each batch below the cells of a row, and in all of it, (C Z, N + 1) in one line."""
        summed = np.zeros((*self.z.shape, self.k.shape[2] + 1))
        np.cumsum(self.weight, axis=2, out=summed[..., 1:])
        return summed.ravel()

    def below(self, k: Floats) -> Floats:
        """Return the weight of each batch that lies below k, (C, Z, Q), which is given for each z: (C, Q).

        The weight of a point of the grid is spread evenly over its cell.
        """
        cells = self.k.shape[2]
        low, high = self.edges[..., :1], self.edges[..., 1:]
        x = np.clip((k - low) * (cells / (high - low)), 0.0, cells)
        whole = np.minimum(x.astype(np.int64), cells - 1)
        at = whole + (np.arange(self.z.size) * (cells + 1)).reshape(*self.z.shape, 1)
        before = self._below_cells.take(at)
        found: Floats = (before + (x - whole) * (self._below_cells.take(at + 1) - before)).sum(axis=1)
        return np.minimum(found, 1.0)

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
    batches = Batches(facts, storage)
    coarse = np.broadcast_to(_COARSE, (len(facts), len(_COARSE)))
    mode, _, log_density = batches.columns(coarse)
    z = _around_the_peak(coarse, log_density)
    k, step = batches.grid(z, Tables(mode, _COARSE[0], _COARSE[1] - _COARSE[0]).at(z))
    log_weight = batches.log_density(z, k) + np.log(step)[..., None]
    weight = np.exp(log_weight - log_weight.max(axis=(1, 2), keepdims=True))
    return Posterior(z, k, weight / weight.sum(axis=(1, 2), keepdims=True))


def over_z(facts: Sequence[Facts], storage: StorageTable) -> Floats:
    """Return the log likelihood of each batch's tests over `relatives.Z`, K integrated out, (C, 121)."""
    batches = Batches(facts, storage)
    z = np.broadcast_to(Z, (len(facts), len(Z)))
    k, step = batches.grid(z)
    log_weight = batches.log_density(z, k) + np.log(step)[..., None]
    top = log_weight.max(axis=2)
    summed: Floats = top + np.log(np.exp(log_weight - top[..., None]).sum(axis=2))
    return summed - batches.log_lent(z)


def _staggered(rows: int) -> Floats:
    """Return the nodes in K of each row of z, (Z, N), every row shifted by its own part of a step.

    Where tests tie K to z, rows that lined up would leave gaps between the values of v. Parts by the golden ratio
    fill the step evenly (Weyl 1916, from memory).
    """
    part = np.arange(rows) * _GOLDEN % 1.0 - 0.5
    nodes: Floats = _NODES + part[:, None] * _NODES[1]
    return nodes


def _around_the_peak(z: Floats, log_density: Floats) -> Floats:
    """Return a fine grid over the part of the coarse one that matters, a step wider at either end."""
    matters = log_density > log_density.max(axis=1, keepdims=True) - _DEEP
    first = np.maximum(matters.argmax(axis=1) - 1, 0)
    last = np.minimum(z.shape[1] - matters[:, ::-1].argmax(axis=1), z.shape[1] - 1)
    low, high = _COARSE[first][:, None], _COARSE[last][:, None]
    grid: Floats = low + (high - low) * _FINE
    return grid


class Batches:
    """The prior and the likelihood of C batches with T trials at most."""

    def __init__(self, facts: Sequence[Facts], storage: StorageTable) -> None:
        self._storage = storage
        self._first = Spans([each.first for each in facts])
        self._doubt = np.array([each.doubt for each in facts], dtype=float)
        self._size = (len(facts), max(len(each.trials) for each in facts))
        padded = [self._padded(each) for each in facts]
        self._spans = Spans([trial.path for row in padded for trial in row])
        self._days = np.array([trial.day for row in padded for trial in row], dtype=float)
        self._tables = tables([trial.counts for row in padded for trial in row], storage.correlation)
        self._lent = Tables(np.array([each.lent.log_density for each in facts]), float(Z[0]), float(Z[1] - Z[0]))

    def _padded(self, facts: Facts) -> list[Trial]:
        missing = self._size[1] - len(facts.trials)
        return [*facts.trials, *[Trial(facts.first, facts.first.starts[0], ())] * missing]

    def log_lent(self, z: Floats) -> Floats:
        """Return the log prior of z, (C, Z), but for a constant."""
        return self._lent.at(z)

    def grid(self, z: Floats, near: Floats | None = None) -> tuple[Floats, Floats]:
        """Return the grid in K for each z, (C, Z, N), and the length it spans, (C, Z); `near` is about its mode."""
        low, high = self.reach(z, near)
        return low[..., None] + (high - low)[..., None] * _staggered(z.shape[1]), high - low

    def _smear(self, z: Floats) -> tuple[float, float, Floats]:
        """Return mean, spread and smear of the prior of K given z."""
        lost = self._first.loss(z, self._first.starts[:, 0] + self._doubt)
        return self._storage.initial, self._storage.initial_spread, lost

    def _losses(self, z: Floats) -> Floats:
        """Return the probits lost until each trial, (C, T, Z)."""
        return self._spans.loss(np.repeat(z, self._size[1], axis=0), self._days).reshape(*self._size, z.shape[1])

    def columns(self, z: Floats, near: Floats | None = None) -> tuple[Floats, Floats, Floats]:
        """Return, for each z, the mode of K, its width, and the log density of z in the normal approximation."""
        losses, prior = self._losses(z), self._smear(z)
        k, stride = self._search(z) if near is None else (near, prior[1])
        for _ in range(_NEWTON):
            slope, bend = self._slope_and_bend(k[:, None] - losses)
            prior_slope, prior_bend = smear.slope_and_bend(k, *prior)
            k = k + np.clip((slope + prior_slope) / (bend + prior_bend), -stride, stride)
        width = 1 / np.sqrt(bend + prior_bend)
        return k, width, self.log_density(z, k[..., None])[..., 0] + np.log(width)

    def _search(self, z: Floats) -> tuple[Floats, Floats | float]:
        """Return the likeliest K on a wide grid for each z, from which the mode is found, and the grid's stride."""
        mean, spread, smeared = self._smear(z)
        low, high = mean - smeared - _REACH * spread, np.full_like(smeared, mean + _REACH * spread)
        if not self._size[1]:
            return mean - smeared / 2, high - low
        k = low[..., None] + (high - low)[..., None] * _SEARCH
        best = self.log_density(z, k).argmax(axis=2)[..., None]
        return np.take_along_axis(k, best, axis=2)[..., 0], (high - low) * _SEARCH[1]

    def reach(self, z: Floats, near: Floats | None) -> tuple[Floats, Floats]:
        """Return the ends of the grid in K for each z: around its mode, and no wider than the prior."""
        centre, width, _ = self.columns(z, near)
        mean, spread, smeared = self._smear(z)
        low = np.maximum(centre - _REACH * width, np.minimum(mean - smeared, centre) - _REACH * spread)
        high = np.minimum(centre + _REACH * width, np.maximum(mean, centre) + _REACH * spread)
        return low, high

    def _slope_and_bend(self, v: Floats) -> tuple[Floats, Floats]:
        """Return the first and the negative second derivative of the log likelihood by K, (C, Z)."""
        flat = v.reshape(-1, v.shape[-1])
        slope, bend = (part.reshape(v.shape) for part in self._tables.slope_and_bend(flat))
        return slope.sum(axis=1), np.maximum(bend.sum(axis=1), 0.0)

    def log_density(self, z: Floats, k: Floats) -> Floats:
        """Return the log of prior times likelihood on the grid (C, Z, N), but for a constant."""
        mean, spread, smeared = self._smear(z)
        v = k[:, None] - self._losses(z)[..., None]
        likelihood = self._tables.at(v.reshape(-1, *v.shape[2:])).reshape(v.shape).sum(axis=1)
        prior = smear.log_density(k, mean, spread, smeared[..., None])
        density: Floats = likelihood + prior + self.log_lent(z)[..., None]
        return density
