"""What spore went through: the pace of ageing from day to day, and the probits lost under it.

Losses of successive stays add up, whatever their order: v = K - sum of days / sigma.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property, lru_cache

import numpy as np

from sporebank.core.ageing import ROOM, Pace, modelled, pace
from sporebank.core.dates import PartDate
from sporebank.core.lookup import Floats
from sporebank.core.records import Stay
from sporebank.core.storage import ClassRow

_NEVER = 1e7
_LN_10 = float(np.log(10.0))
_MOST_LOST = 60.0  # probits; nothing is left long before, and the likelihood stays finite


@dataclass(frozen=True)
class Path:
    """Ordinals of the days from which spore aged at a pace; the last pace goes on."""

    starts: tuple[int, ...]
    paces: tuple[Pace, ...]

    def __hash__(self) -> int:
        """Return the hash of all of it, which is worked out once, as grids are looked up often."""
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash((self.starts, self.paces))

    @cached_property
    def unsure(self) -> bool:
        """Return whether the temperature was not known for a while."""
        return any(pace.doubt for pace in self.paces)


def settled(collected: PartDate, days: Iterable[date]) -> date:
    """Return the last day on which spore can have been collected that was stored or tested on these days."""
    first, last = collected.first(), collected.last()
    return first if first == last else max(first, min([last, *days]))


@lru_cache(maxsize=4096)
def path(since: date, stays: tuple[Stay, ...], row: ClassRow, before: float | None = ROOM) -> Path | None:
    """Return the path of spore collected on a day, kept at `before` degrees Celsius until its first stay.

    None where a stay is too cold to be modelled.
    """
    if not all(modelled(stay.temperature) for stay in stays):
        return None
    first = since.toordinal()
    spans = {first: pace(row, before)}
    for stay in sorted(stays, key=lambda stay: stay.since):
        spans[max(first, stay.since.toordinal())] = pace(row, stay.temperature)
    return Path(tuple(spans), tuple(spans.values()))


@lru_cache(maxsize=4096)
def first_path(since: date, row: ClassRow, before: float | None = ROOM) -> Path:
    """Return the path of spore that stayed where it lay at first."""
    return Path((since.toordinal(),), (pace(row, before),))


class Spans:
    """Paths side by side as arrays: R paths, of S spans at most."""

    def __init__(self, paths: Sequence[Path]) -> None:
        longest = max((len(each.starts) for each in paths), default=1)
        missing = [longest - len(each.starts) for each in paths]
        rows = [(*each.starts, *[_NEVER] * more) for each, more in zip(paths, missing, strict=True)]
        paces = [(*each.paces, *[each.paces[-1]] * more) for each, more in zip(paths, missing, strict=True)]
        self.starts: Floats = np.array(rows, dtype=float).reshape(-1, longest)
        lines = [[(p.median, p.spread, p.cap, p.cap_spread, p.doubt) for p in row] for row in paces]
        self._lines: Floats = np.array(lines, dtype=float).reshape(-1, longest, 5)
        self._unsure = any(path.unsure for path in paths)

    @cached_property
    def _lengths(self) -> Floats:
        ends = np.full((len(self.starts), 1), np.inf)
        return np.diff(self.starts, axis=1, append=ends)

    def rates(self, z: Floats, u: Floats) -> Floats:
        """Return probits lost in a day, (R, S, Z), for batches at z (R, Z) in the spread, and at u (R, Z) unknown."""
        median, spread, cap, cap_spread, doubt = (self._lines[:, :, part, None] for part in range(5))
        across = z[:, None, :]
        plain = median + spread * across
        if self._unsure:
            plain = plain + doubt * u[:, None, :]
        found: Floats = np.exp(np.minimum(plain, cap + cap_spread * across) * -_LN_10)  # much faster than a power
        return found

    def loss(self, z: Floats, u: Floats, day: Floats) -> Floats:
        """Return the probits lost until a day (R), as (R, Z)."""
        return self.losses(self.rates(z, u), day[:, None])[:, 0]

    def losses(self, rates: Floats, days: Floats) -> Floats:
        """Return the probits lost at these `rates` until several days (R, Q), as (R, Q, Z)."""
        spent = np.clip(days[..., None] - self.starts[:, None], 0.0, self._lengths[:, None])
        lost: Floats = spent @ rates
        return np.minimum(lost, _MOST_LOST, out=lost)
