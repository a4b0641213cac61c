"""Keeping the figures of every vial up to the day and the last deed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial

import numpy as np

from sporebank.bank import figures, queries
from sporebank.bank.bank import Bank
from sporebank.bank.figures import Brought, Judged, Lying, Misjudged, Outlook, Standing
from sporebank.bank.queries import VialCase, VialFigure
from sporebank.core import advice, forecast_words, sharing, viability
from sporebank.core.advice import Lines, Situation
from sporebank.core.course import between
from sporebank.core.records import Advice, Changed, Forecast, Permission, Share, SporeClass, State
from sporebank.core.settings import Settings
from sporebank.core.viability import Case
from sporebank.jobs import keeping
from sporebank.jobs.kin import gather

#: Batches computed in one go: large enough to share work, small enough to let the keeper's own deeds in between.
CHUNK = 512
#: A deed that touches more batches than this leaves them to be worked out anew behind the keeper's work.
MOST_AT_ONCE = 100
#: Batches brought on to another day in one go.
STRETCH = 1_250

_GONE_BY = (
    "alive_line", "cull_line", "cull_chance", "test_age_days", "test_rule", "test_chance", "gift_line", "reserve_ug",
    "packet_ug",
)  # fmt: skip

Piece = Callable[[Bank], None]


def keep_fresh(bank: Bank) -> None:
    """From now on, compute anew after every deed whatever it touched.

    What touches much of the bank, a setting that figures go by above all, leaves them `stale` instead: no deed waits
    until every vial has been forecast anew.
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
    _, event_id = queries.figured_until(bank)
    touched = figures.touched_by(bank, changed.event_id)
    if len(touched) > MOST_AT_ONCE:
        figures.wear_out(bank, touched)
    else:
        refresh_batches(bank, touched)
    if event_id == changed.event_id - 1:
        figures.mark_event(bank, changed.event_id)


def stale(bank: Bank) -> bool:
    """Return whether figures are of another day, are to be worked out anew, or miss a deed."""
    return queries.figured_until(bank) != (bank.today().isoformat(), figures.last_event(bank))


def refresh_all(bank: Bank) -> None:
    """Compute the figures of the whole bank anew; see `chunks` for doing it bit by bit."""
    figures.wear_out_all(bank)
    for chunk in chunks(bank):
        chunk(bank)


def chunks(bank: Bank) -> Iterator[Piece]:
    """Yield the pieces of work that bring the figures of the whole bank up to date, the last one noting it.

    Figures go on along their courses, and only those whose course has worn out are worked out anew; when a deed was
    missed, all wear out first. Deeds in between do no harm: what they touch is fresh or worn out, and worn out figures
    keep the last piece from noting that all is done.
    """
    day, event_id = queries.figured_until(bank)
    if not day or event_id != figures.last_event(bank):
        yield figures.wear_out_all
        yield from _anew(figures.all_batches(bank))
    else:
        yield from _anew(figures.worn_out(bank, bank.today()))
    for start in range(1, figures.last_batch(bank) + 1, STRETCH):
        yield partial(_go_on, batches=(start, start + STRETCH - 1))
    yield _mark


def _anew(batch_ids: Sequence[int]) -> Iterator[Piece]:
    for start in range(0, len(batch_ids), CHUNK):
        yield partial(refresh_batches, batch_ids=batch_ids[start : start + CHUNK])


def _mark(bank: Bank) -> None:
    if not figures.worn_out(bank, bank.today()):
        figures.mark_day(bank, bank.today())


def refresh_batches(bank: Bank, batch_ids: Sequence[int]) -> None:
    """Compute and keep the figures of every vial of these batches, and what follows for others of their clones."""
    if batch_ids:
        with figures.together(bank):
            _work_out(bank, batch_ids)
            _judge(bank, batch_ids)


def _work_out(bank: Bank, batch_ids: Sequence[int]) -> None:
    today, settings, storage = bank.today(), bank.settings, keeping.table(bank)
    alike = queries.cases(bank, batch_ids)
    cases = gather(bank, alike, storage)
    forecasts = viability.forecast_many(cases, storage, today, line=settings.cull_line, rule=keeping.test_rule(bank))
    known = [
        (each, _outlook(each, case, found, settings)) for each, case, found in zip(alike, cases, forecasts, strict=True)
    ]
    good = defaultdict(int, figures.good_beside(bank, settings.cull_chance, batch_ids))
    for each, outlook in known:
        if _good(outlook.forecast.chance_below, outlook.unsettled, settings):
            good[each.clone_id] += sum(vial.left for vial in each.vials)
    follows = list(_figures(known, good, settings, today))
    moved = [now for now, before in follows if before is None or before.outlook_id != now.outlook_id]
    judged = [
        Judged(now.vial_id, now.clone_good, now.surplus, now.advice)
        for now, before in follows
        if before is not None and before.outlook_id == now.outlook_id
    ]
    figures.write(bank, [outlook for _, outlook in known], moved, judged)


def _outlook(vials: VialCase, case: Case, found: Forecast, settings: Settings) -> Outlook:
    """Return what follows from a forecast for the vials that share it."""
    first = min(vial.vial_id for vial in vials.vials)
    tested = max((test.counted for test in case.evidence if test.counted is not None), default=None)
    befell = forecast_words.befell(viability.unsettled(case))
    return Outlook(first, vials.batch_id, found, _state(found.share, settings), tested, befell)


def _good(below: float | None, unsettled: str, settings: Settings) -> bool:
    """Return whether a vial can be counted on, as `bank.sql.GOOD` has it."""
    return (below or 0.0) < settings.cull_chance and not unsettled


def _judge(bank: Bank, batch_ids: Iterable[int]) -> None:
    """Say anew what follows for the vials of these batches' clones of which another amount is good by now."""
    settings, today = bank.settings, bank.today()
    vials = figures.misjudged(bank, settings.cull_chance, batch_ids)
    figures.judge(bank, [_judged(vial, settings, today) for vial in vials])


def _judged(vial: Misjudged, settings: Settings, today: date) -> Judged:
    situation = _situation(vial, vial, vial.share, vial.chance_below, settings)
    surplus = _surplus(vial.permission, situation, settings)
    return Judged(vial.vial_id, vial.clone_good, surplus, advice.advise(situation, settings, today))


def advised(vial: VialCase, case: Case, found: Forecast, settings: Settings, today: date) -> tuple[Advice, str]:
    """Return what to do about the one vial of a case, and why."""
    ((_, left, figure),) = vial.vials
    good = 0 if figure is None else figure.clone_good
    situation = _situated(_outlook(vial, case, found, settings), vial.spore_class, left, good, settings)
    return advice.advise(situation, settings, today), advice.reason(situation, settings, today)


def _situated(outlook: Outlook, spore_class: SporeClass, left: int, clone_good: int, settings: Settings) -> Situation:
    """Return the situation of a vial with so much left in it, of a clone with so much good spore."""
    found, green = outlook.forecast, spore_class is SporeClass.GREEN
    below, unsettled = found.chance_below, outlook.unsettled
    likely = None if found.crossing is None else found.crossing.likely
    last = _last(clone_good, clone_good <= left, _good(below, unsettled, settings))
    return Situation(found.share, below, likely, not left, clone_good, last, outlook.tested, green, unsettled)


def _situation(
    vial: Lying | Misjudged, known: Standing | Misjudged, share: Share | None, below: float | None, settings: Settings
) -> Situation:
    """Return the situation of a vial, of whose outlook this is `known`, with this share alive and chance."""
    green = known.spore_class is SporeClass.GREEN
    last = _last(vial.clone_good, vial.alone, _good(below, known.unsettled, settings))
    return Situation(
        share, below, known.crosses, not vial.some, vial.clone_good, last, known.tested, green, known.unsettled
    )


def _last(clone_good: int, alone: bool, good: bool) -> bool:
    """Return whether no other vial of its clone is good; `alone` is that of `figures.Lying`."""
    return alone if good else not clone_good


def _figures(
    known: Sequence[tuple[VialCase, Outlook]], good: Mapping[int, int], settings: Settings, today: date
) -> Iterator[tuple[VialFigure, VialFigure | None]]:
    """Yield what follows for the vials for which it is not what it was, and what it was; once for those alike."""
    for case, outlook in known:
        clone_good = good[case.clone_id]
        follows: dict[tuple[bool, bool], tuple[bool, Advice]] = {}
        for vial_id, left, figure in case.vials:
            key = left > 0, left >= clone_good
            if key not in follows:
                situation = _situated(outlook, case.spore_class, left, clone_good, settings)
                surplus = _surplus(case.permission, situation, settings)
                follows[key] = surplus, advice.advise(situation, settings, today)
            now = VialFigure(vial_id, outlook.id, *follows[key], clone_good)
            if now != figure:
                yield now, figure


def _state(share: Share | None, settings: Settings) -> State:
    return advice.state(share, Lines(settings.alive_line, settings.cull_line))


def _surplus(permission: Permission, vial: Situation, settings: Settings) -> bool:
    sound = not vial.empty and not vial.unsettled
    return sound and sharing.surplus(permission, vial.share, vial.clone_left, settings.reserve_ug, settings.gift_line)


def _go_on(bank: Bank, batches: tuple[int, int]) -> None:
    """Bring the figures of the batches with these ids on to today, along the courses of their outlooks."""
    today, settings = bank.today(), bank.settings
    vials = figures.lying(bank, batches, today)
    kept = {vial.outlook_id for vial in vials}  # what was foreseen of a vial that has left the bank stays as it was
    outlooks = [one for one in figures.standing(bank, batches, today) if one.outlook_id in kept]
    brought = list(_brought_on(outlooks, settings, today))
    standing = {one.outlook_id: (one, now) for one, now in zip(outlooks, brought, strict=True)}
    turned = {
        one.batch_id
        for one, now in standing.values()
        if _good(one.chance_below, one.unsettled, settings) != _good(now.chance_below, one.unsettled, settings)
    }
    with figures.together(bank):
        figures.go_on(bank, brought, list(_judged_anew(vials, standing, settings, today)), today)
        if turned:
            _judge(bank, turned)


def _brought_on(outlooks: Sequence[Standing], settings: Settings, today: date) -> Iterator[Brought]:
    """Yield what each outlook has come to by today."""
    first, last = (np.array([getattr(one, end) for one in outlooks], dtype=float) for end in ("first", "last"))
    ends = np.frombuffer(b"".join(one.ends for one in outlooks), dtype=np.float32).reshape(-1, 2, 4).astype(float)
    found = between(first, last, ends, today.toordinal()).tolist()
    for one, (low, middle, high, below) in zip(outlooks, found, strict=True):
        share = Share(low, middle, high)
        state = _state(share, settings)
        settled = not one.unsettled and viability.settled_by(one.tested, below, today, settings.test_age_days)
        yield Brought(one.outlook_id, None if state is one.state else state, share, below, settled)


def _judged_anew(
    vials: Sequence[Lying], standing: Mapping[int, tuple[Standing, Brought]], settings: Settings, today: date
) -> Iterator[Judged]:
    """Yield what follows for the vials for which it is no longer what it was; once for those alike."""
    follows: dict[tuple[object, ...], tuple[bool, Advice]] = {}
    for vial in vials:
        key = vial[1:5]
        if key not in follows:
            known, now = standing[vial.outlook_id]
            situation = _situation(vial, known, now.share, now.chance_below, settings)
            surplus = _surplus(known.permission, situation, settings)
            follows[key] = surplus, advice.advise(situation, settings, today)
        if follows[key] != vial[5:]:
            yield Judged(vial.vial_id, vial.clone_good, *follows[key])


def case_of(bank: Bank, vial_id: int) -> Case:
    """Return a vial as its forecast takes it in."""
    return gather(bank, [queries.case(bank, vial_id)], keeping.table(bank))[0]


def forecast_vial(bank: Bank, vial_id: int, on: date) -> Forecast:
    """Return the forecast of one vial for a day."""
    storage, settings, case = keeping.table(bank), bank.settings, case_of(bank, vial_id)
    return viability.forecast_many([case], storage, on, line=settings.cull_line, rule=keeping.test_rule(bank))[0]
