"""Keeping the figures of every vial up to the day and the last deed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from functools import partial

import numpy as np

from sporebank.bank import figures, queries
from sporebank.bank.bank import Bank
from sporebank.bank.figures import Misjudged, Standing, VialFigure
from sporebank.bank.queries import VialCase
from sporebank.core import advice, forecast_words, sharing, viability
from sporebank.core.advice import Lines, Situation
from sporebank.core.course import between
from sporebank.core.records import Advice, Changed, Forecast, Share, SporeClass, State
from sporebank.core.settings import Settings
from sporebank.core.viability import Case
from sporebank.jobs import keeping
from sporebank.jobs.kin import gather

#: Batches computed in one go: large enough to share work, small enough to let the keeper's own deeds in between.
CHUNK = 200
#: Vials brought on to another day in one go, and clones looked through for their last good vial.
STRETCH, CLONES = 20_000, 2_000

_GONE_BY = (
    "alive_line", "cull_line", "cull_chance", "test_age_days", "test_rule", "test_chance", "gift_line", "reserve_ug",
    "packet_ug",
)  # fmt: skip

Piece = Callable[[Bank], None]


def keep_fresh(bank: Bank) -> None:
    """From now on, compute anew after every deed whatever it touched.

    What touches the whole bank, a setting that figures go by or a number of how spore keeps, leaves them `stale`
    instead: no deed waits until every vial has been forecast anew.
    """
    known = [_marks(bank.settings)]

    def follow(changed: Changed) -> None:
        before, known[0] = known[0], _marks(bank.settings)
        if "keeping" not in changed.ids and before == known[0]:
            _follow(bank, changed)

    bank.subscribe(follow)


def _marks(settings: Settings) -> tuple[object, ...]:
    """Return the settings that figures go by; the others, such as the appearance, touch none."""
    return tuple(getattr(settings, name) for name in _GONE_BY)


def _follow(bank: Bank, changed: Changed) -> None:
    day, event_id = queries.figured_until(bank)
    touched = {batch for kind, ids in changed.ids.items() for batch in figures.batches_of(bank, kind, ids)}
    refresh_batches(bank, sorted(touched))
    if day and event_id == changed.event_id - 1:
        figures.mark(bank, date.fromisoformat(day), changed.event_id)


def stale(bank: Bank) -> bool:
    """Return whether the figures are of another day, or miss a deed after which the program was stopped."""
    return queries.figured_until(bank) != (bank.today().isoformat(), figures.last_event(bank))


def refresh_all(bank: Bank) -> None:
    """Compute the figures of the whole bank anew; see `chunks` for doing it bit by bit."""
    for chunk in (*_anew(figures.all_batches(bank)), _mark(bank)):
        chunk(bank)


def chunks(bank: Bank) -> Iterator[Piece]:
    """Yield the pieces of work that bring the figures of the whole bank up to date, the last one noting it.

    When only the day has changed, figures go on along their courses, and only those whose course has worn out are
    worked out anew; when a deed was missed, all are.
    """
    day, event_id = queries.figured_until(bank)
    if day and event_id == figures.last_event(bank):
        yield from _anew(figures.worn_out(bank, bank.today()))
        for start in range(1, figures.last_vial(bank) + 1, STRETCH):
            yield partial(_go_on, vial_ids=(start, start + STRETCH - 1))
        for start in range(1, figures.last_clone(bank) + 1, CLONES):
            yield partial(_judge_clones, clones=(start, start + CLONES - 1))
    else:
        yield from _anew(figures.all_batches(bank))
    yield _mark(bank)


def _anew(batch_ids: Sequence[int]) -> Iterator[Piece]:
    for start in range(0, len(batch_ids), CHUNK):
        yield partial(refresh_batches, batch_ids=batch_ids[start : start + CHUNK])


def _mark(bank: Bank) -> Piece:
    return partial(figures.mark, on=bank.today(), event_id=figures.last_event(bank))


def refresh_batches(bank: Bank, batch_ids: Sequence[int]) -> None:
    """Compute and keep the figures of every vial of these batches."""
    if not batch_ids:
        return
    today, settings, storage = bank.today(), bank.settings, keeping.table(bank)
    vials = queries.cases(bank, batch_ids)
    cases = gather(bank, vials, storage)
    forecasts = viability.forecast_many(cases, storage, today, line=settings.cull_line, rule=keeping.test_rule(bank))
    found = zip(vials, cases, forecasts, strict=True)
    figures.write(bank, [_figure(*each, settings, today) for each in found], today)
    _judge(bank, figures.misjudged_of(bank, settings.cull_chance, batch_ids))


def _judge_clones(bank: Bank, clones: tuple[int, int]) -> None:
    _judge(bank, figures.misjudged(bank, bank.settings.cull_chance, clones))


def _judge(bank: Bank, vials: Sequence[Misjudged]) -> None:
    """Say anew what to do about vials of which it has changed whether another of their clone is alive enough."""
    settings, today = bank.settings, bank.today()
    figures.judge(bank, [(vial.vial_id, vial.alone, _advise(vial, settings, today)) for vial in vials])


def _advise(vial: Misjudged, settings: Settings, today: date) -> Advice:
    return advice.advise(_situation(vial, vial.share, vial.chance_below, vial.crosses), settings, today)


def advised(vial: VialCase, case: Case, found: Forecast, settings: Settings, today: date) -> tuple[Advice, str]:
    """Return what to do about a vial, and why."""
    situation = _foreseen(vial, case, found)
    return advice.advise(situation, settings, today), advice.reason(situation, settings, today)


def _foreseen(vial: VialCase, case: Case, found: Forecast) -> Situation:
    share, crosses = found.share, None if found.crossing is None else found.crossing.likely
    green, befell = vial.spore_class is SporeClass.GREEN, forecast_words.befell(viability.unsettled(case))
    return Situation(
        share, found.chance_below, crosses, vial.left, vial.clone_left, vial.alone, _tested(case), green, befell
    )


def _tested(case: Case) -> date | None:
    """Return when the last test that speaks for a vial was counted."""
    return max((test.counted for test in case.evidence if test.counted is not None), default=None)


def _situation(vial: Misjudged | Standing, share: Share | None, below: float | None, crosses: date | None) -> Situation:
    green = vial.spore_class is SporeClass.GREEN
    return Situation(share, below, crosses, vial.left, vial.clone_left, vial.alone, vial.tested, green, vial.unsettled)


def _figure(vial: VialCase, case: Case, found: Forecast, settings: Settings, today: date) -> VialFigure:
    situation = _foreseen(vial, case, found)
    return VialFigure(
        vial_id=vial.vial_id,
        state=_state(found.share, settings),
        share=found.share,
        chance_below=found.chance_below,
        crossing=found.crossing,
        next_test=found.next_test,
        surplus=_surplus(vial, found.share, situation.unsettled, settings),
        advice=advice.advise(situation, settings, today),
        course=found.course,
        tested=situation.last_test,
        unsettled=situation.unsettled,
        alone=vial.alone,
    )


def _state(share: Share | None, settings: Settings) -> State:
    return advice.state(share, Lines(settings.alive_line, settings.cull_line))


def _surplus(vial: VialCase | Standing, share: Share | None, unsettled: str, settings: Settings) -> bool:
    permission, left, sound = vial.permission, vial.clone_left, vial.left > 0 and not unsettled
    return sound and sharing.surplus(permission, share, left, settings.reserve_ug, settings.gift_line)


def _go_on(bank: Bank, vial_ids: tuple[int, int]) -> None:
    """Bring the figures of the vials with these ids on to today, along their courses."""
    today, settings = bank.today(), bank.settings
    vials = figures.standing(bank, vial_ids, today)
    figures.go_on(bank, list(_brought_on(vials, settings, today)), today)


def _brought_on(vials: Sequence[Standing], settings: Settings, today: date) -> Iterator[figures.Brought]:
    days = np.array([(vial.first, vial.last) for vial in vials], dtype=float).reshape(-1, 2)
    ends = np.frombuffer(b"".join(vial.ends for vial in vials), dtype=np.float32).reshape(-1, 2, 4).astype(float)
    shares = between(days[:, 0], days[:, 1], ends, today.toordinal()).tolist()
    for vial, (low, middle, high, below) in zip(vials, shares, strict=True):
        share = Share(low, middle, high)
        what = advice.advise(_situation(vial, share, below, vial.crosses), settings, today)
        surplus = _surplus(vial, share, vial.unsettled, settings)
        spent = viability.settled_by(vial.tested is not None and not vial.unsettled, below)
        yield figures.Brought(vial.vial_id, _state(share, settings), share, below, surplus, what, spent)


def case_of(bank: Bank, vial_id: int) -> Case:
    """Return a vial as its forecast takes it in."""
    return gather(bank, [queries.case(bank, vial_id)], keeping.table(bank))[0]


def forecast_vial(bank: Bank, vial_id: int, on: date) -> Forecast:
    """Return the forecast of one vial for a day."""
    storage, settings, case = keeping.table(bank), bank.settings, case_of(bank, vial_id)
    return viability.forecast_many([case], storage, on, line=settings.cull_line, rule=keeping.test_rule(bank))[0]
