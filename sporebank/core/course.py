"""How figures go on from one day to another without a new forecast: in probits they run almost straight.

v = K - days / sigma is a straight line for every (K, sigma), so the points of its spread bend only as slower spore
comes to stand for what faster spore stood for. Over a short stretch the bend is nothing; `outlook.stretches` says how
short.
"""

from __future__ import annotations

from datetime import date

import numpy as np

from sporebank.core.lookup import Floats
from sporebank.core.records import Course

#: Chances nearer to 0 or 1 than this many standard deviations are taken for it.
MOST = 8.0


def courses(first: date, lasts: Floats, probits: Floats, chances: Floats) -> list[Course]:
    """Return the course of each batch, from a day to its last (C), from its probits (C, 2, 3) and chances (C, 2)."""
    from scipy.special import ndtri  # heavy, needed only here

    beyond = np.clip(ndtri(chances), -MOST, MOST)[..., None]
    ends = np.concatenate([np.clip(probits, -60.0, 60.0), beyond], axis=2).tolist()
    days = [date.fromordinal(int(day)) for day in lasts.tolist()]
    return [Course(first, day, (tuple(start), tuple(end))) for day, (start, end) in zip(days, ends, strict=True)]


def between(first: Floats, last: Floats, ends: Floats, day: int) -> Floats:
    """Return low, middle, high and the chance below on a day, (R, 4), from R courses.

    Args:
        first, last: the ordinals of the two days of each, (R).
        ends: their probits, (R, 2, 4).
        day: an ordinal, which should lie between the two.
    """
    from scipy.special import ndtr  # heavy, needed only here

    part = ((day - first) / (last - first))[:, None]
    found: Floats = ndtr(ends[:, 0] + part * (ends[:, 1] - ends[:, 0]))
    return found
