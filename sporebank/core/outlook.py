"""Reading a posterior: shares alive, the chance of being below a line, crossings, and when to test again."""

from __future__ import annotations

from datetime import date

import numpy as np

from sporebank.core.exposure import Spans
from sporebank.core.lookup import Floats
from sporebank.core.posterior import Posterior
from sporebank.core.records import Crossing, Share

HORIZON = 36_525
"""Days: nothing is foreseen beyond a hundred years."""

_POINTS = (0.05, 0.50, 0.95)
_STANDARD = 0.85  # regenerate at 85 % of the initial viability, FAO 2014, Genebank Standards 4.3.4 (from memory)
_LONGEST = 40 * 365.25  # days between tests, FAO 2014 4.3.3 (from memory)
_SHORTEST = 30.0  # our own choice


def shares(known: Posterior, loss: Floats) -> list[Share]:
    """Return the share alive of each batch after its loss in probits, (C, Z)."""
    from scipy.special import ndtr  # heavy, needed only here

    probits = _quantiles(known.k - loss[..., None], known.weight)
    return [Share(*row) for row in ndtr(probits).tolist()]


def chances_below(known: Posterior, loss: Floats, line: float) -> list[float]:
    """Return the chance that the share alive is below the line, for each batch."""
    width = np.maximum(known.k[..., 1:2] - known.k[..., :1], 1e-12)
    below = np.clip((_probit(line) - known.k + loss[..., None]) / width + 0.5, 0.0, 1.0)
    chances: list[float] = np.minimum(1.0, (known.weight * below).sum(axis=(1, 2))).tolist()
    return chances


def crossings(known: Posterior, spans: Spans, on: date, line: float) -> list[Crossing]:
    """Return the first days on which the chance of being below the line has reached 5, 50 and 95 %."""
    reached = _quantiles(spans.reach(known.z, known.k - _probit(line)), known.weight)
    latest = on.toordinal() + HORIZON
    return [Crossing(*(_day(day, latest) for day in row)) for row in reached.tolist()]


def intervals(known: Posterior, spans: Spans) -> list[float]:
    """Return the days from one test to the next, where spore lies now.

    A third of the time in which the share alive falls to 85 % of the initial one, by the means of the posterior;
    at most 40 years (FAO 2014, Genebank Standards 4.3.3, from memory).
    """
    from scipy.special import log_ndtr, ndtri_exp  # heavy, needed only here

    probit = known.mean_k()
    lost = probit - ndtri_exp(log_ndtr(probit) + np.log(_STANDARD))
    days = lost / spans.rates(known.mean_z()[:, None])[:, -1, 0] / 3
    clipped: list[float] = np.clip(days, _SHORTEST, _LONGEST).tolist()
    return clipped


def _probit(share: float) -> float:
    from scipy.special import ndtri  # heavy, needed only here

    return float(ndtri(share))


def _day(reached: float, latest: int) -> date | None:
    day = np.floor(reached) + 1
    return date.fromordinal(int(day)) if day <= latest else None


def _quantiles(values: Floats, weight: Floats) -> Floats:
    """Return the 5, 50 and 95 % points of weighted values (C, ...), as (C, 3).

    Half of a value's own weight lies below it; between two values the share of weight below goes evenly.
    """
    flat = values.reshape(len(values), -1)
    order = flat.argsort(axis=1)
    ordered = np.take_along_axis(flat, order, axis=1)
    own = np.take_along_axis(weight.reshape(flat.shape), order, axis=1)
    below = own.cumsum(axis=1) - own / 2
    rows = zip(below / own.sum(axis=1, keepdims=True), ordered, strict=True)
    return np.array([np.interp(_POINTS, share, at) for share, at in rows]).reshape(-1, len(_POINTS))
