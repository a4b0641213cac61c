"""Whether the counts of one test agree with each other, or differ by more than chance.

Counts more alike than chance are accepted: dishes that were not counted blind come out so (common practice).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sporebank.core.records import Replicate

LEVEL = 0.025
"""Counts that chance alone brings less often than this are not credible; the published table was made for it."""

EXACT = "the exact chance of the range"
CHI_SQUARE = "a chi-square test of likeness"


@dataclass(frozen=True)
class ToleranceRow:
    """The greatest range allowed, in percent, where the average lies from `low` to `high` percent."""

    low: int
    high: int
    most: int


@dataclass(frozen=True)
class ToleranceTable:
    """The published table for four counts of 100."""

    rows: tuple[ToleranceRow, ...]
    source: str

    def most(self, average: int) -> int | None:
        """Return the greatest range allowed for an average in whole percent; None where the table has no row."""
        share = max(average, 100 - average, 51)  # an average of 50 has the row beside it
        return next((row.most for row in self.rows if row.low <= share <= row.high), None)


@dataclass(frozen=True)
class Agreement:
    """Whether counts are credible together, the sentence that says so, and how that was found."""

    credible: bool
    sentence: str
    how: str


def agreement(replicates: Sequence[Replicate], table: ToleranceTable) -> Agreement | None:
    """Return whether counts agree; None where there is but one, and nothing to compare it with."""
    if len(replicates) < 2:
        return None
    if len({each.sown for each in replicates}) > 1:
        return _told(_unlike(replicates), replicates, CHI_SQUARE)
    if len(replicates) == 4 and replicates[0].sown == 100:
        average = (sum(each.germinated for each in replicates) + 2) // 4
        most = table.most(average)
        if most is not None:
            return _by_table(replicates, average, most, table.source)
    return _told(_so_far_apart(replicates), replicates, EXACT)


def _by_table(replicates: Sequence[Replicate], average: int, most: int, source: str) -> Agreement:
    apart = _range(replicates)
    if apart <= most:
        return Agreement(True, f"The counts agree: {apart} apart, and up to {most} is chance.", source)
    said = f"The counts differ more than chance allows: {apart} apart, where {most} is the most at {average} %."
    return Agreement(False, said, source)


def _told(chance: float, replicates: Sequence[Replicate], how: str) -> Agreement:
    if chance >= LEVEL:
        return Agreement(True, "The counts agree: no further apart than chance brings them.", how)
    often = "fewer than 1" if chance < 0.01 else f"{chance * 100:.0f}"
    shares = [100 * each.germinated / each.sown for each in replicates]
    said = (
        f"The counts differ more than chance allows: {min(shares):.0f} to {max(shares):.0f} %. "
        f"Chance alone brings this in {often} of 100 tests."
    )
    return Agreement(False, said, how)


def _range(replicates: Sequence[Replicate]) -> int:
    counts = [each.germinated for each in replicates]
    return max(counts) - min(counts)


def _share(replicates: Sequence[Replicate]) -> float:
    return sum(each.germinated for each in replicates) / sum(each.sown for each in replicates)


def _so_far_apart(replicates: Sequence[Replicate]) -> float:
    apart = _range(replicates)
    return 1 - range_chance(replicates[0].sown, len(replicates), _share(replicates), apart - 1) if apart else 1.0


def range_chance(sown: int, counts: int, share: float, most: int) -> float:
    """Return the chance that so many binomial counts, each of so many sown, lie no further apart than `most`.

    P(R <= r) = sum over x of [F(x + r) - F(x - 1)]^k - [F(x + r) - F(x)]^k, x being the least of them.
    """
    import numpy as np  # heavy, needed only here
    from scipy.special import bdtr

    least = np.arange(sown + 1)
    below = bdtr(least, sown, share)
    under = np.concatenate(([0.0], below[:-1]))
    reach = below[np.minimum(least + most, sown)]
    return float(np.sum((reach - under) ** counts - (reach - below) ** counts))


def _unlike(replicates: Sequence[Replicate]) -> float:
    """Return the chance of counts at least so unlike, by the chi-square test of heterogeneity."""
    from scipy.special import chdtrc  # heavy, needed only here

    share = _share(replicates)
    if share in (0.0, 1.0):
        return 1.0
    squares = sum((each.germinated - each.sown * share) ** 2 / each.sown for each in replicates)
    return float(chdtrc(len(replicates) - 1, squares / (share * (1 - share))))
