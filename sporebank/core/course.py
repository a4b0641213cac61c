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


def course(first: date, last: date, probits: Floats, chances: Floats) -> Course:
    """Return the course of a batch from its probits (2, 3) and its chances (2) on two days."""
    from scipy.special import ndtri  # heavy, needed only here

    ends = np.column_stack([np.clip(probits, -60.0, 60.0), np.clip(ndtri(chances), -MOST, MOST)]).tolist()
    return Course(first, last, (tuple(ends[0]), tuple(ends[1])))


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
