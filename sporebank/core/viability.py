"""How alive spore is and until when: probit ageing over the stays, updated by the tests.

v = K - sum of days / sigma over the stays, share alive = Phi(v). The seed viability equation of Ellis & Roberts
1980 (Annals of Botany 45: 13-30, from memory) gives the form; sigma comes from resources/storage.toml for each
class of spore and store, because no published constants for ferns were at hand.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from itertools import groupby
from typing import TypeVar

import numpy as np

from sporebank.core import forecast_words, outlook
from sporebank.core.ageing import FRIDGE, ROOM, modelled
from sporebank.core.course import courses
from sporebank.core.dates import PartDate
from sporebank.core.exposure import Path, Spans, first_path, path, settled
from sporebank.core.likelihood import Counts
from sporebank.core.lookup import Floats
from sporebank.core.outlook import HORIZON
from sporebank.core.posterior import Facts, Posterior, Trial, fit, over_z
from sporebank.core.records import (
    Before,
    Contribution,
    Forecast,
    Mishap,
    MishapKind,
    Replicate,
    Share,
    SporeClass,
    Stay,
)
from sporebank.core.relatives import NOTHING_LENT, Lent, lend
from sporebank.core.storage import ClassRow, StorageTable

__all__ = [
    "GENEBANK", "NOTHING_LENT", "Case", "Curve", "Evidence", "History", "Lent", "Posterior", "Sister", "StorageTable",
    "TestRule", "contributions", "curve", "forecast", "forecast_many", "kin", "kin_many", "posterior", "settled_by",
    "telling", "unsettled",
]  # fmt: skip

K = TypeVar("K", bound=Hashable)
T = TypeVar("T")

_FIRST_TEST = 365  # days after storing, FAO 2014, Genebank Standards 4.3.1
_UNMODELLED = 5 * 365.0  # days between tests where nothing is modelled, FAO 2014 4.3.3 (from memory)
_CELSIUS = {Before.ROOM: ROOM, Before.FRIDGE: FRIDGE, Before.UNKNOWN: None}
_SPENT = 0.95
_DOUBT = 0.05  # probits
_CHUNK = 128


@dataclass(frozen=True)
class Evidence:
    """A test: sown on a day, its counts, and the stays until then of the vial it was taken from.

    `befell` is what had befallen that vial before, `counted` the day of the count.
    """

    on: date
    replicates: tuple[Replicate, ...]
    stays: tuple[Stay, ...] = ()
    befell: tuple[Mishap, ...] = ()
    counted: date | None = None

    @cached_property
    def counts(self) -> Counts:
        """Germinated and sown of each replicate."""
        return tuple((each.germinated, each.sown) for each in self.replicates)

    @cached_property
    def lain(self) -> tuple[Stay, ...]:
        """The stays that had begun when it was sown."""
        return tuple(stay for stay in self.stays if stay.since <= self.on)

    @property
    def sown(self) -> int:
        """Spores looked at."""
        return sum(each.sown for each in self.replicates)

    @property
    def germinated(self) -> int:
        """Spores that germinated."""
        return sum(each.germinated for each in self.replicates)


@dataclass(frozen=True)
class History:
    """When spore was collected, where it lay before its first stay, where since, and what befell it, oldest first."""

    collected: PartDate
    stays: tuple[Stay, ...] = ()
    before: Before = Before.ROOM
    mishaps: tuple[Mishap, ...] = ()


@dataclass(frozen=True)
class Case:
    """A vial to be forecast: the tests that speak for it, its history, its class of spore, and what its kin lend."""

    evidence: tuple[Evidence, ...]
    history: History
    spore_class: SporeClass
    lent: Lent = NOTHING_LENT


@dataclass(frozen=True)
class Sister:
    """A batch as its kin see it."""

    evidence: tuple[Evidence, ...]
    collected: PartDate
    spore_class: SporeClass
    before: Before = Before.ROOM


@dataclass(frozen=True)
class TestRule:
    """When spore is tested next.

    With a chance, on the first day on which the share alive is below the line with that chance. Without, by the rule of
    genebanks: after a third of the time in which it is foreseen to fall to 85 % of what it was at first, at most 40
    years (FAO 2014, Genebank Standards 4.3.3, from memory). Either way within a year of storing where it was never
    tested. A test older than `age` days does not settle that spore is spent.
    """

    __test__ = False  # pytest must not take it for a test of ours

    chance: float | None = None
    age: int = 365


GENEBANK = TestRule()


@dataclass(frozen=True)
class Curve:
    """Shares alive over time, as 5, 50 and 95 % points on each of the dates."""

    dates: tuple[date, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]


def posterior(
    evidence: Sequence[Evidence], collected: PartDate, spore_class: SporeClass, storage: StorageTable
) -> Posterior:
    """Return what the tests say of one batch, as a grid over (K, z)."""
    case = Case(tuple(evidence), History(collected), spore_class)
    return fit([_facts(case, storage.rows[spore_class])], [NOTHING_LENT], storage)


def kin(sisters: Mapping[K, Sister], storage: StorageTable) -> tuple[dict[K, Lent], Lent]:
    """Return what batches of one taxon lend: to each that has tests, and to any that has none."""
    return kin_many([sisters], storage)[0]


def kin_many(families: Sequence[Mapping[K, Sister]], storage: StorageTable) -> list[tuple[dict[K, Lent], Lent]]:
    """Return what `kin` returns for each family, all worked out together."""
    facts = [
        {key: each for key, sister in family.items() if (each := _sister_facts(sister, storage)).trials}
        for family in families
    ]
    tested = [each for family in facts for each in family.values()]
    likelihoods: dict[int, Floats] = {}
    for part in _parts(tested, lambda facts: facts):
        likelihoods |= zip(map(id, part), over_z(part, storage), strict=True)
    return [_lend(family, likelihoods, storage) for family in facts]


def _lend(
    tested: Mapping[K, Facts], likelihoods: Mapping[int, Floats], storage: StorageTable
) -> tuple[dict[K, Lent], Lent]:
    if not tested:
        return {}, NOTHING_LENT
    spores = [sum(sown for trial in each.trials for _, sown in trial.counts) for each in tested.values()]
    over = np.array([likelihoods[id(each)] for each in tested.values()])
    lent, untested = lend(over, storage.between_taxa, spores)
    return dict(zip(tested, lent, strict=True)), untested


def _sister_facts(sister: Sister, storage: StorageTable) -> Facts:
    return _facts(_as_case(sister), storage.rows[sister.spore_class])


def _as_case(sister: Sister) -> Case:
    return Case(sister.evidence, History(sister.collected, before=sister.before), sister.spore_class)


def forecast(
    evidence: Sequence[Evidence],
    history: History,
    spore_class: SporeClass,
    storage: StorageTable,
    on: date,
    *,
    line: float = 0.20,
    lent: Lent = NOTHING_LENT,
    rule: TestRule = GENEBANK,
) -> Forecast:
    """Return how alive spore is on a day, and when its share alive falls below the line (0 to 1)."""
    return forecast_many([Case(tuple(evidence), history, spore_class, lent)], storage, on, line=line, rule=rule)[0]


def forecast_many(
    cases: Sequence[Case], storage: StorageTable, on: date, *, line: float = 0.20, rule: TestRule = GENEBANK
) -> list[Forecast]:
    """Return the forecast of each case; equal cases, as vials that lay side by side, are worked out once."""
    numbered: dict[Case, int] = {}
    by_id = {id(case): case for case in cases}  # to compare in full only what is not the very same
    numbers = {key: numbered.setdefault(case, len(numbered)) for key, case in by_id.items()}
    distinct = list(numbered)
    paths = [_history_path(case, storage.rows[case.spore_class]) for case in distinct]
    found: dict[int, Forecast] = {n: _unmodelled(distinct[n], on) for n, way in enumerate(paths) if way is None}
    tasks = {n: _task(distinct[n], way, storage) for n, way in enumerate(paths) if way is not None}
    for part in _parts(tasks, lambda number: tasks[number].facts):
        found |= zip(part, _forecasts([tasks[number] for number in part], storage, on, line, rule), strict=True)
    return [found[numbers[id(case)]] for case in cases]


@dataclass(frozen=True)
class _Task:
    """A case, the path of its spore, and the facts that its posterior is made from."""

    case: Case
    way: Path
    facts: Facts


def _task(case: Case, way: Path, storage: StorageTable) -> _Task:
    facts = _facts(case, storage.rows[case.spore_class])
    return _Task(case, way, replace(facts, unsure=True) if way.unsure else facts)


def _parts(each: Iterable[T], facts: Callable[[T], Facts]) -> Iterator[list[T]]:
    """Yield what is worked out together: of like shape, so that it wastes no room, and unsure alike."""
    by_shape = sorted(each, key=lambda one: (facts(one).unsure, facts(one).doubt > 0, len(facts(one).trials)))
    for _, group in groupby(by_shape, key=lambda one: facts(one).unsure):
        alike = list(group)
        for start in range(0, len(alike), _CHUNK):
            yield alike[start : start + _CHUNK]


def curve(
    evidence: Sequence[Evidence],
    history: History,
    spore_class: SporeClass,
    storage: StorageTable,
    on: date,
    *,
    line: float = 0.20,
    lent: Lent = NOTHING_LENT,
    points: int = 81,
) -> Curve | None:
    """Return the share alive from collecting until well past the line, or None where it is not modelled."""
    case = Case(tuple(evidence), history, spore_class, lent)
    way = _history_path(case, storage.rows[spore_class])
    if way is None:
        return None
    known = _fit([_task(case, way, storage)], storage)
    crossing = outlook.crossings(known, Spans([way]), on, line)[0]
    days = np.linspace(way.starts[0], _last_day(way.starts[0], on, crossing.likely), points).round()
    known = known.take([0] * points)
    loss = Spans([way] * points).loss(known.z, known.u, days)
    shares = outlook.shares(outlook.probits(known, loss))
    return Curve(
        tuple(date.fromordinal(int(day)) for day in days),
        tuple(share.low for share in shares),
        tuple(share.middle for share in shares),
        tuple(share.high for share in shares),
    )


def _last_day(first: int, on: date, likely: date | None) -> int:
    """Return where a chart ends: well past the likely crossing, and past the day itself."""
    today = on.toordinal()
    past = first + 8 * (likely.toordinal() - first) // 5 if likely else today + HORIZON
    return min(today + HORIZON, max(past, today + 180, first + 180))


def _days_after(case: Case) -> Iterator[date]:
    """Yield the days by which the spore must have been collected."""
    for stays in (case.history.stays, *(test.stays for test in case.evidence)):
        yield from (stay.since for stay in stays)
    yield from (test.on for test in case.evidence)


def _history_path(case: Case, row: ClassRow) -> Path | None:
    since = settled(case.history.collected, _days_after(case))
    return path(since, case.history.stays, row, _CELSIUS[case.history.before])


def _facts(case: Case, row: ClassRow) -> Facts:
    since = settled(case.history.collected, _days_after(case))
    doubt = (since - case.history.collected.first()).days
    first = first_path(since, row, _CELSIUS[case.history.before])
    trials = tuple(_trials(case, since, row))
    return Facts(first, doubt, trials, first.unsure or any(trial.path.unsure for trial in trials))


def _fit(tasks: Sequence[_Task], storage: StorageTable) -> Posterior:
    return fit([task.facts for task in tasks], [task.case.lent for task in tasks], storage)


def _trials(case: Case, since: date, row: ClassRow) -> Iterator[Trial]:
    """Yield the tests that can be used; those of spore that had lain too cold cannot."""
    for test in case.evidence:
        way = path(since, test.lain, row, _CELSIUS[case.history.before])
        if way is not None:
            yield Trial(way, test.on.toordinal(), test.counts)


def _forecasts(part: Sequence[_Task], storage: StorageTable, on: date, line: float, rule: TestRule) -> list[Forecast]:
    known = _fit(part, storage)
    spans = Spans([task.way for task in part])
    first = np.full(len(part), float(on.toordinal()))
    while_young = np.array([_young_for(task.case, on, rule.age) for task in part])
    days = np.stack([first, first + np.minimum(outlook.stretches(known, spans), while_young)])
    losses = [spans.loss(known.z, known.u, day) for day in days]
    probits = np.stack([outlook.probits(known, loss) for loss in losses], axis=1)
    chances = np.stack([outlook.chances_below(known, loss, line) for loss in losses], axis=1)
    rows = zip(
        part,
        outlook.shares(probits[:, 0]),
        chances[:, 0].tolist(),
        outlook.crossings(known, spans, on, line),
        _due(part, known, spans, on, line, rule),
        courses(on, days[1], probits, chances),
        strict=True,
    )
    return [
        Forecast(
            on,
            share,
            chance,
            crossing,
            _when(task.case, chance, due, on, rule),
            *_words(task.case, share, doubtful=_matters(task.facts)),
            ahead,
        )
        for task, share, chance, crossing, due, ahead in rows
    ]


def _when(case: Case, chance_below: float, due: date | None, on: date, rule: TestRule) -> date | None:
    """Return when to test next: at once after a mishap, not at all where a test has settled the matter."""
    if befell := unsettled(case):
        return befell[0].on
    return None if settled_by(_last_count(case), chance_below, on, rule.age) else due


def _last_count(case: Case) -> date | None:
    return max((test.counted or test.on for test in case.evidence), default=None)


def _young_for(case: Case, on: date, age: int) -> float:
    """Return the days for which the last test can still settle the matter, so that figures are worked out anew then."""
    last = _last_count(case)
    left = -1 if last is None else age - (on - last).days
    return max(left, 1.0) if left >= 0 else np.inf


def _due(
    part: Sequence[_Task], known: Posterior, spans: Spans, on: date, line: float, rule: TestRule
) -> list[date | None]:
    """Return when each is to be tested next by the rule."""
    if rule.chance is None:
        intervals = outlook.intervals(known, spans)
        return [_next_test(task.case, interval) for task, interval in zip(part, intervals, strict=True)]
    reached = outlook.days_reached(known, spans, on, line, (rule.chance,))
    return [_by_chance(task.case, day) for task, (day,) in zip(part, reached, strict=True)]


def settled_by(tested: date | None, chance_below: float, on: date, age: int) -> bool:
    """Return whether a test not older than so many days leaves so little doubt that spore is spent that none is due."""
    return tested is not None and chance_below >= _SPENT and (on - tested).days <= age


def telling(tests: Sequence[Evidence], mishaps: Sequence[Mishap]) -> tuple[Evidence, ...]:
    """Return the tests that speak for spore that such things befell.

    Those of spore that nothing else befell; once there are some of spore that went through the last of it as well,
    only these, as what was counted before no longer holds.
    """
    if not mishaps and not any(test.befell for test in tests):
        return tuple(tests)
    befell = _marks(mishaps)
    alike = tuple(test for test in tests if _marks(test.befell) <= befell)
    last = _marks(mishaps[-1:])
    return tuple(test for test in alike if last <= _marks(test.befell)) or alike


def unsettled(case: Case) -> tuple[Mishap, ...]:
    """Return what befell the spore of a case since any test that speaks for it."""
    if not case.history.mishaps:
        return ()
    known = frozenset[tuple[date, MishapKind]]().union(*(_marks(test.befell) for test in case.evidence))
    return tuple(each for each in case.history.mishaps if not _marks([each]) <= known)


def _marks(mishaps: Iterable[Mishap]) -> frozenset[tuple[date, MishapKind]]:
    return frozenset((each.on, each.kind) for each in mishaps)


def _next_test(case: Case, interval: float) -> date:
    """Return when to test next: an interval after the last test, or within a year of storing."""
    if case.evidence:
        return max(test.on for test in case.evidence) + timedelta(days=int(interval))
    return _stored(case) + timedelta(days=int(min(_FIRST_TEST, interval)))


def _by_chance(case: Case, reached: date | None) -> date | None:
    """Return the day on which the chance is reached, not at once after a test and within a year of storing."""
    if case.evidence:
        soonest = max(test.on for test in case.evidence) + timedelta(days=outlook.SHORTEST)
        return None if reached is None else max(soonest, reached)
    first = _stored(case) + timedelta(days=_FIRST_TEST)
    return first if reached is None else min(first, reached)


def _stored(case: Case) -> date:
    return min((stay.since for stay in case.history.stays), default=case.history.collected.last())


def contributions(case: Case, storage: StorageTable, on: date) -> tuple[Contribution, ...]:
    """Return how alive spore would be judged by its class alone, by its kin as well, and by its own tests as well.

    Only the sources that there are; nothing where storage is not modelled.
    """
    steps = {"class": replace(case, evidence=(), lent=NOTHING_LENT)}
    if case.lent.sisters:
        steps["kin"] = replace(case, evidence=())
    if case.evidence:
        steps["tests"] = case
    found = forecast_many(list(steps.values()), storage, on)
    return tuple(
        Contribution(source, each.share) for source, each in zip(steps, found, strict=True) if each.share is not None
    )


def _unmodelled(case: Case, on: date) -> Forecast:
    due = _when(case, 0.0, _next_test(case, _UNMODELLED), on, GENEBANK)
    return Forecast(on, None, None, None, due, *_words(case, None))


def _matters(facts: Facts) -> bool:
    """Return whether the days of doubt about collecting may have cost as much as a twentieth of a probit."""
    return bool(facts.doubt >= _DOUBT * 10.0 ** facts.first.paces[0].median)


def _words(case: Case, share: Share | None, *, doubtful: bool = False) -> tuple[str, tuple[str, ...]]:
    history = case.history
    usable = [test for test in case.evidence if _usable(test)] if share else case.evidence
    kept = [
        _CELSIUS[history.before],
        *(each.temperature for each in sorted(history.stays, key=lambda stay: stay.since)),
    ]
    basis = forecast_words.basis([test.sown for test in usable], case.lent.sisters, case.spore_class, kept[-1])
    cautions = forecast_words.cautions(
        share,
        case.spore_class,
        doubtful,
        kept,
        unsettled(case),
        left_out=len(usable) < len(case.evidence),
    )
    return basis, cautions


def _usable(test: Evidence) -> bool:
    """Return whether the spore of a test had never lain too cold to be modelled."""
    return all(modelled(stay.temperature) for stay in test.lain)
