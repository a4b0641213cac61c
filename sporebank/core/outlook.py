"""Reading a posterior: shares alive, the chance of being below a line, crossings, and when to test again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

import numpy as np

from sporebank.core.exposure import Spans
from sporebank.core.lookup import Floats
from sporebank.core.posterior import Posterior
from sporebank.core.records import Crossing, Share

HORIZON = 36_525
"""Days: nothing is foreseen beyond a hundred years."""

POINTS = (0.05, 0.50, 0.95)
_HALVINGS, _DAY_HALVINGS = 12, 18  # of some ten probits, and of some hundred years
_BEND, _STAGGER = 0.1, 0.4
_SHORT_STRETCH, _LONG_STRETCH = 2.0, 90.0
_STANDARD = 0.85  # regenerate at 85 % of the initial viability, FAO 2014, Genebank Standards 4.3.4 (from memory)
_LONGEST = 40 * 365.25  # days between tests, FAO 2014 4.3.3 (from memory)
SHORTEST = 30.0
"""Days from one test to the next at least: our own choice."""


def shares(probits: Floats) -> list[Share]:
    """Return the share alive of each batch from its three points, (C, 3)."""
    from scipy.special import ndtr  # heavy, needed only here

    return [Share(*row) for row in ndtr(probits).tolist()]


def probits(known: Posterior, loss: Floats) -> Floats:
    """Return the 5, 50 and 95 % points of v = K - loss for each batch, (C, 3)."""
    spread = known.edges - loss[..., None]
    low, high = (np.tile(end[:, None], len(POINTS)) for end in (spread.min(axis=(1, 2)), spread.max(axis=(1, 2))))
    return _rising(lambda v: known.below(v[..., None] + loss[:, None]), low, high, POINTS, _HALVINGS)


def chances_below(known: Posterior, loss: Floats, line: float) -> Floats:
    """Return the chance that the share alive is below the line, for each batch, (C)."""
    return known.below(_probit(line) + loss[:, None])[:, 0]


def crossings(known: Posterior, spans: Spans, on: date, line: float) -> list[Crossing]:
    """Return the first days on which the chance of being below the line has reached 5, 50 and 95 %."""
    return [Crossing(*row) for row in days_reached(known, spans, on, line, POINTS)]


def days_reached(
    known: Posterior, spans: Spans, on: date, line: float, points: Sequence[float]
) -> list[list[date | None]]:
    """Return, for each batch, the first days on which the chance of being below the line has reached these points."""
    rates, probit = spans.rates(known.z, known.u), _probit(line)
    first, latest = spans.starts[:, :1], on.toordinal() + HORIZON
    low, high = (np.tile(end, len(points)) for end in (first - 1.0, np.full_like(first, latest + 1.0)))
    days = _rising(lambda day: known.below(probit + spans.losses(rates, day)), low, high, points, _DAY_HALVINGS)
    return [[_day(day, latest) for day in row] for row in days.tolist()]


def stretches(known: Posterior, spans: Spans) -> Floats:
    """Return for how many days figures may be read from a straight line in probits, for each batch.

    While a tenth of a probit is lost at the mean pace, and between 2 and 90 days; somewhat less for some than for
    others, so that not everything worked out on one day has to be worked out anew on one day.
    """
    days = _BEND / _mean_rates(known, spans)
    part = 1 - (known.mean_k() * 1000 % 1) * _STAGGER
    return np.round(np.clip(days, _SHORT_STRETCH, _LONG_STRETCH) * part).clip(1)


def intervals(known: Posterior, spans: Spans) -> list[float]:
    """Return the days from one test to the next, where spore lies now.

    A third of the time in which the share alive falls to 85 % of the initial one, by the means of the posterior;
    at most 40 years (FAO 2014, Genebank Standards 4.3.3, from memory).
    """
    from scipy.special import log_ndtr, ndtri_exp  # heavy, needed only here

    probit = known.mean_k()
    lost = probit - ndtri_exp(log_ndtr(probit) + np.log(_STANDARD))
    days = lost / _mean_rates(known, spans) / 3
    clipped: list[float] = np.clip(days, SHORTEST, _LONGEST).tolist()
    return clipped


def _mean_rates(known: Posterior, spans: Spans) -> Floats:
    """Return the probits lost in a day where spore lies now, by the means of the posterior, (C)."""
    rates: Floats = spans.rates(known.mean_z()[:, None], known.mean_u()[:, None])[:, -1, 0]
    return rates


def _probit(share: float) -> float:
    from scipy.special import ndtri  # heavy, needed only here

    return float(ndtri(share))


def _day(reached: float, latest: int) -> date | None:
    day = int(np.floor(reached)) + 1
    return date.fromordinal(day) if day <= min(latest, date.max.toordinal()) else None


def _rising(
    chance: Callable[[Floats], Floats], low: Floats, high: Floats, points: Sequence[float], halvings: int
) -> Floats:
    """Return where chances that rise from `low` to `high`, both (C, Q), reach the Q points.

    By halving what lies between the two, and at last by a straight line.
    """
    below, above = np.zeros_like(low), np.ones_like(high)
    for _ in range(halvings):
        middle = (low + high) / 2
        here = chance(middle)
        reached = here >= points
        low, below = np.where(reached, low, middle), np.where(reached, below, here)
        high, above = np.where(reached, middle, high), np.where(reached, here, above)
    return low + (high - low) * np.clip((points - below) / np.maximum(above - below, 1e-12), 0.0, 1.0)
