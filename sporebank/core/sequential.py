"""Counting in groups until the counts tell: alive enough, below the mark, or go on.

A plan is a table of two lines. At or below the lower one spore is below the mark, at or above the upper one it is
alive enough, and between them more is counted, until the last row. Plans are published (resources/sequential.toml) or
made by the sequential probability ratio test of Wald 1945, Annals of Mathematical Statistics 16: 117-186.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from enum import StrEnum
from math import ceil, comb, floor, log

from sporebank.core.advice import percent
from sporebank.core.errors import Refusal

GROUP, MOST = 40, 400
STEP, ERROR = 0.10, 0.05
"""Our own choice for a keeper's mark: told from spore ten points better, wrong one time in twenty either way."""


class Verdict(StrEnum):
    """What the counts so far say."""

    ALIVE = "stop: alive enough"
    DEAD = "stop: below the mark"
    GO_ON = "go on"


@dataclass(frozen=True)
class Row:
    """Once so many are tested: `dead` or fewer germinated is below the mark, `alive` or more is alive enough.

    None where no count can tell yet.
    """

    tested: int
    dead: int | None
    alive: int | None


@dataclass(frozen=True)
class Plan:
    """Rows a group apart. At the last one nothing goes on: `turn` or more germinated is alive enough.

    The plan tells spore that is `mark` (0 to 1) alive from spore that is `better` alive.
    """

    mark: float
    better: float
    rows: tuple[Row, ...]
    turn: int
    source: str

    @property
    def group(self) -> int:
        """How many are counted at a time."""
        return self.rows[0].tested

    @property
    def most(self) -> int:
        """How many are counted at the most."""
        return self.rows[-1].tested


@dataclass(frozen=True)
class Chances:
    """What a plan makes of spore of a true share alive: the chance of either end, and the mean number tested."""

    alive: float
    dead: float
    tested: float


def boundaries(mark: float, better: float, wrong_alive: float, wrong_dead: float) -> tuple[float, float, float]:
    """Return slope, drop and rise: Wald's lines are at slope * tested - drop, and slope * tested + rise.

    Args:
        mark: the share alive, 0 to 1, that is not enough.
        better: the greater share that is enough.
        wrong_alive: the chance allowed that spore at the mark passes.
        wrong_dead: the chance allowed that spore at the better share fails.

    Raises:
        Refusal: the shares leave no room between them, or between them and 0 or 1.
    """
    if not 0 < mark < better < 1:
        raise Refusal("A mark lies above 0 % and below 100 %.", field="mark")
    gain, loss = log(better / mark), log((1 - mark) / (1 - better))
    unit = gain + loss
    return loss / unit, log((1 - wrong_alive) / wrong_dead) / unit, log((1 - wrong_dead) / wrong_alive) / unit


def wald(mark: float, better: float, wrong_alive: float, wrong_dead: float) -> Plan:
    """Return Wald's test as a plan, the lower line rounded down, the upper up; see `boundaries`.

    Cut short at the last row, it goes by the nearer line (Wald 1947, Sequential Analysis, from memory).
    """
    slope, drop, rise = boundaries(mark, better, wrong_alive, wrong_dead)
    rows = tuple(_row(tested, slope * tested - drop, slope * tested + rise) for tested in range(GROUP, MOST + 1, GROUP))
    return Plan(mark, better, rows, floor(slope * MOST) + 1, "the sequential test of Wald 1945")


def _row(tested: int, lower: float, upper: float) -> Row:
    dead, alive = floor(lower), ceil(upper)
    return Row(tested, dead if dead >= 0 else None, alive if alive <= tested else None)


def own(mark: float) -> Plan:
    """Return a plan for a keeper's own mark, 0 to 1; near 100 % it tells from half-way to all.

    Raises:
        Refusal: the mark is no share between 0 and 1.
    """
    return wald(mark, min(mark + STEP, (1 + mark) / 2), ERROR, ERROR)


def judge(plan: Plan, tested: int, germinated: int) -> Verdict:
    """Return what the counts so far say; between two rows the line from one to the other counts."""
    if tested >= plan.most:
        return Verdict.ALIVE if germinated * plan.most >= plan.turn * tested else Verdict.DEAD
    row = _between(plan, tested)
    if row.dead is not None and germinated <= row.dead:
        return Verdict.DEAD
    return Verdict.ALIVE if row.alive is not None and germinated >= row.alive else Verdict.GO_ON


def _between(plan: Plan, tested: int) -> Row:
    number, over = divmod(tested, plan.group)
    before = plan.rows[number - 1] if number else Row(0, None, None)
    if not over:
        return before
    after = plan.rows[number]
    dead, alive = _part(before.dead, after.dead, over / plan.group), _part(before.alive, after.alive, over / plan.group)
    return Row(tested, None if dead is None else floor(dead), None if alive is None else ceil(alive))


def _part(start: int | None, end: int | None, share: float) -> float | None:
    return None if start is None or end is None else start + (end - start) * share


def verdict(plan: Plan, tested: int, germinated: int) -> tuple[Verdict, str]:
    """Return what the counts so far say, and the sentence that tells a grower what to do."""
    found, seen, mark = judge(plan, tested, germinated), f"{germinated} of {tested}", percent(plan.mark)
    if found is Verdict.ALIVE:
        return found, f"Stop: alive enough. {seen} is clear of {mark}."
    if found is Verdict.GO_ON:
        return found, f"Go on: count {plan.group - tested % plan.group} more. {seen} does not yet tell it from {mark}."
    if germinated < plan.mark * tested:
        return found, f"Stop: below the mark. {seen} is short of {mark}."
    return found, f"Stop: not clear of the mark. {seen} is too near {mark} to count as above it."


def chances(plan: Plan, share: float) -> Chances:
    """Return what becomes of spore of which a share (0 to 1) is truly alive: exact, group by group."""
    group = [comb(plan.group, n) * share**n * (1 - share) ** (plan.group - n) for n in range(plan.group + 1)]
    ends = {Verdict.ALIVE: 0.0, Verdict.DEAD: 0.0}
    going, tested = {0: 1.0}, 0.0
    for row in plan.rows:
        tested += plan.group * sum(going.values())
        found = [(count, chance, judge(plan, row.tested, count)) for count, chance in _next(going, group).items()]
        for _, chance, end in found:
            if end is not Verdict.GO_ON:
                ends[end] += chance
        going = {count: chance for count, chance, end in found if end is Verdict.GO_ON}
    return Chances(ends[Verdict.ALIVE], ends[Verdict.DEAD], tested)


def _next(going: dict[int, float], group: list[float]) -> dict[int, float]:
    """Return the chances of every sum after one group more."""
    found: defaultdict[int, float] = defaultdict(float)
    for count, chance in going.items():
        for more, weight in enumerate(group):
            found[count + more] += chance * weight
    return found


def promise(plan: Plan) -> str:
    """Return in a sentence how often a plan is right, and how many it takes."""
    worse, better = chances(plan, plan.mark), chances(plan, plan.better)
    return (
        f"Spore that is {percent(plan.mark)} alive passes {worse.alive * 100:.0f} times in 100, spore that is "
        f"{percent(plan.better)} alive {better.alive * 100:.0f} times; "
        f"about {max(worse.tested, better.tested):.0f} are counted, never more than {plan.most}."
    )
