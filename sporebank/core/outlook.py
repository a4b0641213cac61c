"""Reading a posterior: shares alive, the chance of being below a line, crossings, and when to test again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import numpy as np

from sporebank.core.exposure import Spans
from sporebank.core.lookup import Floats
from sporebank.core.posterior import Posterior
from sporebank.core.records import Crossing, Share

HORIZON = 36_525
"""Days: nothing is foreseen beyond a hundred years."""

POINTS = (0.05, 0.50, 0.95)
_HALVINGS = 20  # of some ten probits: to a hundred-thousandth
_DAY_HALVINGS = 18  # of some hundred years: to less than a day
_STANDARD = 0.85  # regenerate at 85 % of the initial viability, FAO 2014, Genebank Standards 4.3.4 (from memory)
_LONGEST = 40 * 365.25  # days between tests, FAO 2014 4.3.3 (from memory)
_SHORTEST = 30.0  # our own choice


def shares(known: Posterior, loss: Floats) -> list[Share]:
    """Return the share alive of each batch after its loss in probits, (C, Z)."""
    from scipy.special import ndtr  # heavy, needed only here

    return [Share(*row) for row in ndtr(probits(known, loss)).tolist()]


def probits(known: Posterior, loss: Floats) -> Floats:
    """Return the 5, 50 and 95 % points of v = K - loss for each batch, (C, 3)."""
    spread = known.edges - loss[..., None]
    low, high = (np.tile(end[:, None], len(POINTS)) for end in (spread.min(axis=(1, 2)), spread.max(axis=(1, 2))))
    return _rising(lambda v: known.below(v[:, None] + loss[..., None]), low, high, _HALVINGS)


def chances_below(known: Posterior, loss: Floats, line: float) -> list[float]:
    """Return the chance that the share alive is below the line, for each batch."""
    chances: list[float] = known.below(_probit(line) + loss[..., None])[:, 0].tolist()
    return chances


def crossings(known: Posterior, spans: Spans, on: date, line: float) -> list[Crossing]:
    """Return the first days on which the chance of being below the line has reached 5, 50 and 95 %."""
    rates, probit = spans.rates(known.z), _probit(line)
    first, latest = spans.starts[:, :1], on.toordinal() + HORIZON
    low, high = (np.tile(end, len(POINTS)) for end in (first - 1.0, np.full_like(first, latest + 1.0)))
    days = _rising(lambda day: known.below(probit + spans.losses(rates, day)), low, high, _DAY_HALVINGS)
    return [Crossing(*(_day(day, latest) for day in row)) for row in days.tolist()]


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
    day = int(np.floor(reached)) + 1
    return date.fromordinal(day) if day <= latest else None


def _rising(chance: Callable[[Floats], Floats], low: Floats, high: Floats, halvings: int) -> Floats:
    """Return where chances that rise from `low` to `high`, both (C, 3), reach 5, 50 and 95 %.

    By halving what lies between the two; the higher end at last.
    """
    for _ in range(halvings):
        middle = (low + high) / 2
        reached = chance(middle) >= POINTS
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    return high
