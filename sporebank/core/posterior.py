"""What tests teach about a batch: a grid over (K, z), exact to the grid, in log space, without sampling.

K is the probit of fresh spore, z the place of the batch in the spread of its keeping (see `ageing`). K is normal
around the table's initial probit, z is standard normal or as its kin lend it (see `relatives`), and a test has the
likelihood of its counts at v = K - loss(z) (see `likelihood`). For every z, the grid in K is laid around the mode of
its density, so that sharp evidence is met by a fine grid. The range of z is found in a coarse pass.

Where a temperature was not known for a while, it has a deviate u of its own, even from -1 to 1 (see `ageing`). The
rows of the grid then go evenly through z and u at once, as a lattice.

Where the day of collection is only partly known, every day it may have been is as likely as another; K is then
the probit on the last of them, and its prior is smeared by what a room may have cost before (see `smear`). No grid
goes below a probit of -9, where nothing lives: what lies below is put on its first point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sporebank.core import smear
from sporebank.core.exposure import Path, Spans
from sporebank.core.likelihood import Counts, tables
from sporebank.core.lookup import Floats, Tables, tabled
from sporebank.core.relatives import Lent, Z
from sporebank.core.storage import StorageTable

np.empty(4_000_000)  # 32 MB, never touched: once a piece as large has been freed, glibc keeps what arrays free for the
# next (mallopt(3), M_MMAP_THRESHOLD) and no longer fetches it from the system page by page at every step

_COARSE = np.linspace(-6.0, 6.0, 33)
_ROWS, _NODES = 61, 19
_UNSURE_ROWS, _UNSURE_NODES = 610, 9  # many rows fill the gaps between the nodes of each
_SOME_U = np.array([-1.0, 0.0, 1.0])
_REMEMBER = 1_000  # grids, ten kilobytes each
_GOLDEN, _SILVER = (5**0.5 - 1) / 2, 2**0.5 - 1
POINTS = _ROWS * _NODES
"""How many points the grid of a batch has."""
_REACH = 4.5  # standard deviations of K either side of its mode
_FLOOR = -9.0  # of K: the share alive is 1e-19
_NARROW = 1e-12  # of K: no row is taken to be less wide
_DEEP = 12.5  # natural log below the peak at which z is let go: five standard deviations of a normal
_SEARCH = np.linspace(0.0, 1.0, 9)
_CLIMB, _TOUCH = 4, 2  # Newton's steps from the search, and from between the modes already found


@dataclass(frozen=True)
class Trial:
    """A test as the likelihood sees it: the path of the spore until the day, and the counts."""

    path: Path
    day: int
    counts: Counts


@dataclass(frozen=True)
class Facts:
    """All that is known of one batch: its first path, days of doubt about its collection, and its trials.

    `unsure` says that a temperature was not known in one of these paths, or in one that the posterior is asked about.
    """

    first: Path
    doubt: int
    trials: tuple[Trial, ...]
    unsure: bool = False

    def __hash__(self) -> int:
        """Return the hash of all of it, which is worked out once, as grids are looked up often."""
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash((self.first, self.doubt, self.trials, self.unsure))


@dataclass(frozen=True)
class Posterior:
    """Grids of C batches: z and u (C, Z), K and weight (C, Z, N); the weights of a batch add up to 1."""

    z: Floats
    u: Floats
    k: Floats
    weight: Floats

    @cached_property
    def edges(self) -> Floats:
        """Return the lower end in K of the first cell and the upper end of the last, (C, Z, 2).

        Weight that is spread over its cell lies further from the mean of its row than it should, by a twelfth of the
        square of the cell (Sheppard 1898, from memory); the row is drawn together by as much.
        """
        cell = self.k[..., 1] - self.k[..., 0]
        whole = np.maximum(self.weight.sum(axis=2), 1e-300)
        mean = (self.weight * self.k).sum(axis=2) / whole
        variance = (self.weight * (self.k - mean[..., None]) ** 2).sum(axis=2) / whole
        drawn = np.sqrt(variance / (variance + cell**2 / 12))
        ends = np.stack([self.k[..., 0] - cell / 2, self.k[..., -1] + cell / 2], axis=-1)
        together: Floats = mean[..., None] + (ends - mean[..., None]) * drawn[..., None]
        return together

    @cached_property
    def _rows(self) -> tuple[Floats, Floats, NDArray[np.intp]]:
        """The lower end of each row, how many cells go into one of K there, and its first line: each (C, 1, Z)."""
        low, high = np.moveaxis(self.edges[:, None], -1, 0)
        cells = self.k.shape[2]
        first = np.arange(self.z.size, dtype=np.intp).reshape(low.shape) * (cells + 1)
        return low.copy(), cells / np.maximum(high - low, _NARROW), first

    @cached_property
    def _lines(self) -> Floats:
        """The weight of a row below a place counted in cells, as a line for each cell and the end: (C Z (N + 1), 2)."""
        within = np.concatenate([self.weight, np.zeros_like(self.weight[..., :1])], axis=2)
        before = within.cumsum(axis=2) - within
        return np.stack([before - within * np.arange(within.shape[2]), within], axis=-1).reshape(-1, 2)

    def below(self, k: Floats) -> Floats:
        """Return the weight of each batch that lies below k, (C, Q, Z), which is given for each z: (C, Q).

        The weight of a point of the grid is spread evenly over its cell.
        """
        low, cells, first = self._rows
        place = k - low
        place *= cells
        np.clip(place, 0.0, self.k.shape[2], out=place)
        at = place.astype(np.intp)
        at += first
        line = self._lines.take(at, axis=0)
        place *= line[..., 1]
        place += line[..., 0]
        found: Floats = np.minimum(place.sum(axis=2), 1.0)
        return found

    def mean_z(self) -> Floats:
        """Return the mean of z, (C)."""
        mean: Floats = (self.weight * self.z[..., None]).sum(axis=(1, 2))
        return mean

    def mean_u(self) -> Floats:
        """Return the mean of u, (C)."""
        mean: Floats = (self.weight * self.u[..., None]).sum(axis=(1, 2))
        return mean

    def mean_k(self) -> Floats:
        """Return the mean of K, (C)."""
        mean: Floats = (self.weight * self.k).sum(axis=(1, 2))
        return mean

    def take(self, rows: Sequence[int]) -> Posterior:
        """Return the grids of these batches, in this order, which may repeat some."""
        picked = list(rows)
        return Posterior(self.z[picked], self.u[picked], self.k[picked], self.weight[picked])


@dataclass(frozen=True)
class Grid:
    """What the tests of one batch say, before its kin are asked: z and u (Z), K and log weight (Z, N)."""

    z: Floats
    u: Floats
    k: Floats
    log_weight: Floats


_REMEMBERED: dict[tuple[Facts, tuple[float, float, float]], Grid] = {}


def fit(facts: Sequence[Facts], lent: Sequence[Lent], storage: StorageTable) -> Posterior:
    """Return the posterior of each batch, given what its kin lend; all of them must be unsure alike."""
    found = grids(facts, storage)
    z, u = (np.array([getattr(each, name) for each in found]) for name in "zu")
    prior = tabled(np.array([each.log_density for each in lent]), float(Z[0]), float(Z[1] - Z[0])).at(z)
    log_weight = np.array([each.log_weight for each in found]) + prior[..., None]
    weight = np.exp(log_weight - log_weight.max(axis=(1, 2), keepdims=True))
    return Posterior(z, u, np.array([each.k for each in found]), weight / weight.sum(axis=(1, 2), keepdims=True))


def over_z(facts: Sequence[Facts], storage: StorageTable) -> Floats:
    """Return the log likelihood of each batch's tests over `relatives.Z`, (C, 121); K and u are integrated out.

    All of the batches must be unsure alike.
    """
    found = grids(facts, storage)
    log_weight = np.array([each.log_weight for each in found])
    top = log_weight.max(axis=2)
    summed = top + np.log(np.exp(log_weight - top[..., None]).sum(axis=2))
    if facts[0].unsure:
        return np.array([_gathered(each.z, row) for each, row in zip(found, summed, strict=True)])
    low, high = (np.array([each.z[end] for each in found])[:, None] for end in (0, -1))
    within = tabled(summed, 0.0, 1.0).at((Z - low) * ((_ROWS - 1) / (high - low)))
    beyond: Floats = np.maximum(low - Z, Z - high).clip(0.0)  # where a grid does not reach, it matters no more
    return within - beyond * _DEEP


def _gathered(z: Floats, log_density: Floats) -> Floats:
    """Return the log density over `relatives.Z` of rows that lie closer than its steps, each with a u of its own."""
    density = np.exp(log_density - log_density.max())
    place = (z - Z[0]) / (Z[1] - Z[0])
    below = np.clip(place.astype(np.int32), 0, len(Z) - 2)
    part = place - below
    found = np.bincount(below, (1 - part) * density, len(Z)) + np.bincount(below + 1, part * density, len(Z))
    gathered: Floats = np.log(found + 1e-300)
    return gathered


def grids(facts: Sequence[Facts], storage: StorageTable) -> list[Grid]:
    """Return the grid of each batch; those last asked for are remembered, as a batch and its kin ask for the same."""
    prior = (storage.initial, storage.initial_spread, storage.correlation)
    keys = [(each, prior) for each in facts]
    found = {key: known for key in keys if (known := _REMEMBERED.get(key)) is not None}
    missing = [key for key in dict.fromkeys(keys) if key not in found]
    for unsure, work_out in ((False, _work_out), (True, _work_out_unsure)):
        alike = [key for key in missing if key[0].unsure is unsure]
        found |= zip(alike, work_out([each for each, _ in alike], storage), strict=True)
    _REMEMBERED.update(found)
    for key in list(_REMEMBERED)[: max(len(_REMEMBERED) - _REMEMBER, 0)]:
        del _REMEMBERED[key]
    return [found[key] for key in keys]


def _work_out(facts: Sequence[Facts], storage: StorageTable) -> list[Grid]:
    if not facts:
        return []
    batches = Batches(facts, storage)
    coarse = np.broadcast_to(_COARSE, (len(facts), len(_COARSE)))
    mode, log_density = batches.at(coarse, np.zeros_like(coarse)).modes()
    z = _around_the_peak(log_density - _COARSE**2 / 2, _ROWS)
    u = np.zeros_like(z)
    return _grids(z, u, batches.at(z, u), _on(_COARSE, mode).at(z), _NODES)


def _work_out_unsure(facts: Sequence[Facts], storage: StorageTable) -> list[Grid]:
    if not facts:
        return []
    batches = Batches(facts, storage)
    size = (len(facts), len(_SOME_U) * len(_COARSE))
    some = batches.at(
        np.broadcast_to(np.tile(_COARSE, len(_SOME_U)), size),
        np.broadcast_to(np.repeat(_SOME_U, len(_COARSE)), size),
    )
    likeliest = some.modes()[1].reshape(len(facts), len(_SOME_U), len(_COARSE)).max(axis=1)
    z = _around_the_peak(likeliest - _COARSE**2 / 2, _UNSURE_ROWS)
    u = np.broadcast_to(2 * (np.arange(_UNSURE_ROWS) * _SILVER % 1.0) - 1, z.shape)
    rows = batches.at(z, u)
    return _grids(z, u, rows, rows.modes()[0], _UNSURE_NODES)


def _grids(z: Floats, u: Floats, rows: Rows, near: Floats, nodes: int) -> list[Grid]:
    k, span = rows.grid(near, nodes)
    cell = span / (nodes - 1)
    log_weight = rows.log_density(k) + np.log(cell)[..., None]
    if rows.smeared.any():
        beyond = rows.log_mass_below((k[..., 0] - cell / 2)[..., None])
        log_weight[..., 0] = np.logaddexp(log_weight[..., 0], beyond[..., 0])
    return [Grid(*each) for each in zip(z, u, k, log_weight, strict=True)]


def _staggered(rows: int, nodes: int) -> Floats:
    """Return the nodes in K of each row of z, (Z, N), every row shifted by its own part of a step.

    Where tests tie K to z, rows that lined up would leave gaps between the values of v. Parts by the golden ratio
    fill the step evenly (Weyl 1916, from memory).
    """
    part = np.arange(rows) * _GOLDEN % 1.0 - 0.5
    staggered: Floats = (np.arange(nodes) + part[:, None]) / (nodes - 1)
    return staggered


def _on(grid: Floats, values: Floats) -> Tables:
    """Return what is known on a grid in z, (C, Z), as functions of z."""
    return tabled(values, float(grid[0]), float(grid[1] - grid[0]))


def _around_the_peak(log_density: Floats, rows: int) -> Floats:
    """Return a fine grid over the part of the coarse one that matters, a step wider at either end."""
    matters = log_density > log_density.max(axis=1, keepdims=True) - _DEEP
    first = np.maximum(matters.argmax(axis=1) - 1, 0)
    last = np.minimum(len(_COARSE) - matters[:, ::-1].argmax(axis=1), len(_COARSE) - 1)
    low, high = _COARSE[first][:, None], _COARSE[last][:, None]
    grid: Floats = low + (high - low) * np.linspace(0.0, 1.0, rows)
    return grid


class Batches:
    """C batches with T trials at most."""

    def __init__(self, facts: Sequence[Facts], storage: StorageTable) -> None:
        self._storage = storage
        self._first = Spans([each.first for each in facts])
        self._doubt = np.array([each.doubt for each in facts], dtype=float)
        most = max(len(each.trials) for each in facts)
        trials = list(zip(*(_padded(each, most) for each in facts), strict=True))
        self._spans = [Spans([trial.path for trial in each]) for each in trials]
        self._days = [np.array([trial.day for trial in each], dtype=float) for each in trials]
        self._tables = [tables([trial.counts for trial in each], storage.correlation) for each in trials]

    def at(self, z: Floats, u: Floats) -> Rows:
        """Return what is known of K for each z and u, both (C, Z)."""
        smeared = self._first.rates(z, u)[:, 0] * self._doubt[:, None]
        losses = [spans.loss(z, u, day) for spans, day in zip(self._spans, self._days, strict=True)]
        return Rows(self._storage.initial, self._storage.initial_spread, smeared, tuple(losses), tuple(self._tables))


def _padded(facts: Facts, most: int) -> list[Trial]:
    missing = most - len(facts.trials)
    return [*facts.trials, *[Trial(facts.first, facts.first.starts[0], ())] * missing]


@dataclass(frozen=True)
class Rows:
    """The prior and the likelihood of K for each z and u of C batches.

    `mean`, `spread` and `smeared` (C, Z) are of the prior, `losses` are the probits lost until each trial, (C, Z),
    and `likelihoods` what each trial says over v.
    """

    mean: float
    spread: float
    smeared: Floats
    losses: tuple[Floats, ...]
    likelihoods: tuple[Tables, ...]

    def modes(self) -> tuple[Floats, Floats]:
        """Return the mode of K for each z and u, and the log density of both in the normal approximation."""
        k, width = self._climb(*self._search(), _CLIMB)
        return k, self.log_density(k[..., None])[..., 0] + np.log(width)

    def grid(self, near: Floats, nodes: int) -> tuple[Floats, Floats]:
        """Return the grid in K for each z, (C, Z, N), and the length it spans, (C, Z); `near` is about its mode."""
        low, high = self._reach(near)
        return low[..., None] + (high - low)[..., None] * _staggered(near.shape[1], nodes), high - low

    def log_density(self, k: Floats) -> Floats:
        """Return the log of prior times likelihood on the grid (C, Z, N), but for a constant."""
        prior = smear.log_density(k, self.mean, self.spread, self.smeared[..., None])
        return self._log_likelihood(k) + prior

    def log_mass_below(self, k: Floats) -> Floats:
        """Return the log of what lies below the grid, at k (C, Z, 1), as far as the prior is smeared.

        To the same constant as the density; nothing lives there, so every test says the same of all of it.
        """
        prior = smear.log_mass_below(k, self.mean, self.spread, self.smeared[..., None])
        return self._log_likelihood(k) + prior

    def _log_likelihood(self, k: Floats) -> Floats:
        found = np.zeros_like(k)
        for loss, likelihood in zip(self.losses, self.likelihoods, strict=True):
            found += likelihood.at(k - loss[..., None])
        return found

    def _climb(self, k: Floats, stride: Floats | float, steps: int) -> tuple[Floats, Floats]:
        """Return the mode of K for each z and its width, from a place near it, by Newton's steps."""
        for _ in range(steps):
            slope, bend = self._slope_and_bend(k)
            k = np.maximum(k + np.clip(slope / bend, -stride, stride), _FLOOR)
        return k, 1 / np.sqrt(bend)

    def _slope_and_bend(self, k: Floats) -> tuple[Floats, Floats]:
        """Return the first and the negative second derivative of the log density by K, (C, Z)."""
        slope, bend = np.zeros_like(k), np.zeros_like(k)
        for loss, likelihood in zip(self.losses, self.likelihoods, strict=True):
            slope_here, bend_here = likelihood.slope_and_bend(k - loss)
            slope += slope_here
            bend += bend_here
        prior_slope, prior_bend = smear.slope_and_bend(k, self.mean, self.spread, self.smeared)
        return slope + prior_slope, np.maximum(bend, 0.0) + prior_bend

    def _search(self) -> tuple[Floats, Floats | float]:
        """Return the likeliest K on a wide grid for each z, from which the mode is found, and the grid's stride."""
        low = np.maximum(self.mean - self.smeared - _REACH * self.spread, _FLOOR)
        high = np.full_like(low, self.mean + _REACH * self.spread)
        if not self.losses:
            return np.maximum(self.mean - self.smeared / 2, _FLOOR), high - low
        k = low[..., None] + (high - low)[..., None] * _SEARCH
        best = self.log_density(k).argmax(axis=2)[..., None]
        return np.take_along_axis(k, best, axis=2)[..., 0], (high - low) * _SEARCH[1]

    def _reach(self, near: Floats) -> tuple[Floats, Floats]:
        """Return the ends of the grid in K for each z: around its mode, and no wider than the prior."""
        mean, most = self.mean, _REACH * self.spread
        centre, width = self._climb(near, self.spread, _TOUCH)
        low = np.maximum(centre - _REACH * width, np.minimum(mean - self.smeared, centre) - most)
        high = np.minimum(centre + _REACH * width, np.maximum(mean, centre) + most)
        return np.maximum(low, _FLOOR), high
