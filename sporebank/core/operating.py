"""How sure a plan of counting is: its operating characteristic, as a curve and in words."""

from __future__ import annotations

from dataclasses import dataclass

from sporebank.core.advice import percent
from sporebank.core.sequential import Chances, Plan, chances


@dataclass(frozen=True)
class Operating:
    """What a plan makes of spore of every true share alive, from 0 to 1, and of the two shares it tells apart."""

    plan: Plan
    shares: tuple[float, ...]
    found: tuple[Chances, ...]
    at_mark: Chances
    at_better: Chances

    @property
    def passing(self) -> tuple[float, ...]:
        """The chance of “stop: alive enough” at each share."""
        return tuple(each.alive for each in self.found)

    @property
    def counted(self) -> tuple[float, ...]:
        """The mean number counted at each share."""
        return tuple(each.tested for each in self.found)


def operating(plan: Plan, points: int = 101) -> Operating:
    """Return how sure a plan is, exactly, at shares evenly apart."""
    shares = tuple(number / (points - 1) for number in range(points))
    found = tuple(chances(plan, share) for share in shares)
    return Operating(plan, shares, found, chances(plan, plan.mark), chances(plan, plan.better))


def wrongly_passes(found: Operating) -> str:
    """Return how often spore right at the mark passes all the same."""
    return f"{percent(found.plan.mark)}: {percent(found.at_mark.alive)} pass wrongly"


def wrongly_fails(found: Operating) -> str:
    """Return how often spore that is alive enough fails all the same."""
    return f"{percent(found.plan.better)}: {percent(found.at_better.dead)} fail wrongly"


def meaning(found: Operating) -> str:
    """Return what the curves mean to who counts."""
    plan, most = found.plan, max(found.counted)
    where = found.shares[found.counted.index(most)]
    return (
        f"Of 100 batches that are {percent(plan.mark)} alive, {_times(found.at_mark.alive)} would pass wrongly; "
        f"of 100 that are {percent(plan.better)} alive, {_times(found.at_better.dead)} would fail wrongly. "
        f"Spore far from the mark is told after {plan.group} or a few more; most, about {most:.0f} spores, are counted "
        f"where {percent(where)} is alive. This holds where spores differ by chance alone; dishes that differ make it "
        f"less sure."
    )


def _times(chance: float) -> str:
    return f"{100 * chance:.0f}"
