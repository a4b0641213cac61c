"""How alive spore is and until when: probit ageing over the stays, updated by the tests.

v = K - sum of days / sigma over the stays, share alive = Phi(v). The seed viability equation of Ellis & Roberts
1980 (Annals of Botany 45: 13-30, from memory) gives the form; sigma comes from resources/storage.toml for each
class of spore and store, because no published constants for ferns were at hand.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TypeVar

import numpy as np

from sporebank.core import forecast_words, outlook
from sporebank.core.ageing import ROOM, modelled
from sporebank.core.dates import PartDate
from sporebank.core.exposure import Path, Spans, path, room_path, settled
from sporebank.core.lookup import Floats
from sporebank.core.outlook import HORIZON
from sporebank.core.posterior import Facts, Posterior, Trial, fit, over_z
from sporebank.core.records import Forecast, Replicate, Share, SporeClass, Stay
from sporebank.core.relatives import NOTHING_LENT, Lent, lend
from sporebank.core.storage import ClassRow, StorageTable

__all__ = [
    "NOTHING_LENT", "Case", "Curve", "Evidence", "History", "Lent", "Posterior", "Sister", "StorageTable",
    "curve", "forecast", "forecast_many", "kin", "kin_many", "posterior",
]  # fmt: skip

K = TypeVar("K", bound=Hashable)

_FIRST_TEST = 365.0  # days after storing, FAO 2014, Genebank Standards 4.3.1
_UNMODELLED = 5 * 365.0  # days between tests where nothing is modelled, FAO 2014 4.3.3 (from memory)
_SPENT = 0.95
_CHUNK = 256


@dataclass(frozen=True)
class Evidence:
    """A test: sown on a day, its counts, and the stays until then of the vial it was taken from."""

    on: date
    replicates: tuple[Replicate, ...]
    stays: tuple[Stay, ...] = ()

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
    """When spore was collected, and where it has been since; before the first stay it lay in a room."""

    collected: PartDate
    stays: tuple[Stay, ...] = ()


@dataclass(frozen=True)
class Case:
    """A vial to be forecast: the tests of its batch, its history, its class of spore, and what its kin lend."""

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
    return fit([_facts(case, storage.rows[spore_class])], storage)


def kin(sisters: Mapping[K, Sister], storage: StorageTable) -> tuple[dict[K, Lent], Lent]:
    """Return what batches of one taxon lend: to each that has tests, and to any that has none."""
    return kin_many([sisters], storage)[0]


def kin_many(families: Sequence[Mapping[K, Sister]], storage: StorageTable) -> list[tuple[dict[K, Lent], Lent]]:
    """Return what `kin` returns for each family, all worked out together."""
    facts = [
        {key: each for key, sister in family.items() if (each := _sister_facts(sister, storage)).trials}
        for family in families
    ]
    tested = sorted((each for family in facts for each in family.values()), key=lambda each: len(each.trials))
    likelihoods: dict[int, Floats] = {}
    for start in range(0, len(tested), _CHUNK):
        part = tested[start : start + _CHUNK]
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
    return Case(sister.evidence, History(sister.collected), sister.spore_class)


def forecast(
    evidence: Sequence[Evidence],
    history: History,
    spore_class: SporeClass,
    storage: StorageTable,
    on: date,
    *,
    line: float = 0.20,
    lent: Lent = NOTHING_LENT,
) -> Forecast:
    """Return how alive spore is on a day, and when its share alive falls below the line (0 to 1)."""
    return forecast_many([Case(tuple(evidence), history, spore_class, lent)], storage, on, line=line)[0]


def forecast_many(cases: Sequence[Case], storage: StorageTable, on: date, *, line: float = 0.20) -> list[Forecast]:
    """Return the forecast of each case; equal cases, as vials that lay side by side, are worked out once."""
    distinct = sorted(dict.fromkeys(cases), key=_likeness)
    paths = {case: _history_path(case, storage.rows[case.spore_class]) for case in distinct}
    found = {case: _unmodelled(case, on) for case, way in paths.items() if way is None}
    modelled = [(case, way) for case, way in paths.items() if way is not None]
    for start in range(0, len(modelled), _CHUNK):
        part = modelled[start : start + _CHUNK]
        found |= zip((case for case, _ in part), _forecasts(part, storage, on, line), strict=True)
    return [found[case] for case in cases]


def _likeness(case: Case) -> tuple[bool, int]:
    """Return what cases of like shape share, so that those worked out together waste no room."""
    return case.history.collected.day is None, len(case.evidence)


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
    known = fit([_facts(case, storage.rows[spore_class])], storage)
    crossing = outlook.crossings(known, Spans([way]), on, line)[0]
    days = np.linspace(way.starts[0], _last_day(way.starts[0], on, crossing.likely), points).round()
    loss = Spans([way] * points).loss(np.repeat(known.z, points, axis=0), days)
    shares = outlook.shares(known.take([0] * points), loss)
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
    return path(settled(case.history.collected, _days_after(case)), case.history.stays, row)


def _facts(case: Case, row: ClassRow) -> Facts:
    since = settled(case.history.collected, _days_after(case))
    doubt = (since - case.history.collected.first()).days
    return Facts(room_path(since, row), doubt, tuple(_trials(case.evidence, since, row)), case.lent)


def _trials(evidence: Sequence[Evidence], since: date, row: ClassRow) -> Iterator[Trial]:
    """Yield the tests that can be used; those of spore that had lain too cold cannot."""
    for test in evidence:
        way = path(since, [stay for stay in test.stays if stay.since <= test.on], row)
        if way is not None:
            yield Trial(way, test.on.toordinal(), tuple((each.germinated, each.sown) for each in test.replicates))


def _forecasts(part: Sequence[tuple[Case, Path]], storage: StorageTable, on: date, line: float) -> list[Forecast]:
    known = fit([_facts(case, storage.rows[case.spore_class]) for case, _ in part], storage)
    spans = Spans([way for _, way in part])
    loss = spans.loss(known.z, np.full(len(part), float(on.toordinal())))
    rows = zip(
        part,
        outlook.shares(known, loss),
        outlook.chances_below(known, loss, line),
        outlook.crossings(known, spans, on, line),
        outlook.intervals(known, spans),
        strict=True,
    )
    return [
        Forecast(on, share, chance, crossing, _next_test(case, interval, chance), *_words(case, share))
        for (case, _), share, chance, crossing, interval in rows
    ]


def _next_test(case: Case, interval: float, chance_below: float) -> date | None:
    """Return when to test next: an interval after the last test, or within a year of storing.

    None where the tests leave so little doubt that the spore is spent that one more would tell nothing.
    """
    if case.evidence:
        last = max(test.on for test in case.evidence)
        return last + timedelta(days=int(interval)) if chance_below < _SPENT else None
    stored = min((stay.since for stay in case.history.stays), default=case.history.collected.last())
    return stored + timedelta(days=int(min(_FIRST_TEST, interval)))


def _unmodelled(case: Case, on: date) -> Forecast:
    return Forecast(on, None, None, None, _next_test(case, _UNMODELLED, 0.0), *_words(case, None))


def _words(case: Case, share: Share | None) -> tuple[str, tuple[str, ...]]:
    stays = case.history.stays
    usable = [test for test in case.evidence if _usable(test)] if share else case.evidence
    celsius = sorted(stays, key=lambda stay: stay.since)[-1].temperature if stays else ROOM
    basis = forecast_words.basis([test.sown for test in usable], case.lent.sisters, case.spore_class, celsius)
    left_out = len(usable) < len(case.evidence)
    return basis, forecast_words.cautions(share, case.spore_class, case.history.collected, stays, left_out)


def _usable(test: Evidence) -> bool:
    """Return whether the spore of a test had never lain too cold to be modelled."""
    return all(modelled(stay.temperature) for stay in test.stays if stay.since <= test.on)
