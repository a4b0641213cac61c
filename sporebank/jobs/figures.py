"""Keeping the figures of every vial up to the day and the last deed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from functools import partial

import numpy as np

from sporebank.bank import figures, queries
from sporebank.bank.bank import Bank
from sporebank.bank.figures import Foreseen, Judged, Misjudged, Standing, VialFigure
from sporebank.bank.queries import VialCase
from sporebank.core import advice, forecast_words, sharing, viability
from sporebank.core.advice import Lines, Situation
from sporebank.core.course import between
from sporebank.core.records import Advice, Changed, Forecast, Permission, Share, SporeClass, State
from sporebank.core.settings import Settings
from sporebank.core.viability import Case
from sporebank.jobs import keeping
from sporebank.jobs.kin import gather

#: Batches computed in one go: large enough to share work, small enough to let the keeper's own deeds in between.
CHUNK = 320
#: A deed that touches more batches than this leaves them to be worked out anew behind the keeper's work.
MOST_AT_ONCE = 100
#: Vials brought on to another day in one go, and clones looked through for their last good vial.
STRETCH, CLONES = 10_000, 2_000

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
    for start in range(1, figures.last_vial(bank) + 1, STRETCH):
        yield partial(_go_on, vial_ids=(start, start + STRETCH - 1))
    for start in range(1, figures.last_clone(bank) + 1, CLONES):
        yield partial(_judge_clones, clones=(start, start + CLONES - 1))
    yield _mark


def _anew(batch_ids: Sequence[int]) -> Iterator[Piece]:
    for start in range(0, len(batch_ids), CHUNK):
        yield partial(_work_out, batch_ids=batch_ids[start : start + CHUNK])


def _mark(bank: Bank) -> None:
    if not figures.worn_out(bank, bank.today()):
        figures.mark_day(bank, bank.today())


def refresh_batches(bank: Bank, batch_ids: Sequence[int]) -> None:
    """Compute and keep the figures of every vial of these batches, and what follows for others of their clones."""
    if batch_ids:
        _work_out(bank, batch_ids)
        _judge(bank, figures.misjudged_of(bank, bank.settings.cull_chance, batch_ids))


def _work_out(bank: Bank, batch_ids: Sequence[int]) -> None:
    today, settings, storage = bank.today(), bank.settings, keeping.table(bank)
    vials = queries.cases(bank, batch_ids)
    cases = gather(bank, vials, storage)
    forecasts = viability.forecast_many(cases, storage, today, line=settings.cull_line, rule=keeping.test_rule(bank))
    shared = {id(case): (case, found) for case, found in zip(cases, forecasts, strict=True)}
    foreseen = {key: _foreseen(*each, settings) for key, each in shared.items()}
    known = [(vial, foreseen[id(case)]) for vial, case in zip(vials, cases, strict=True)]
    good = defaultdict(int, figures.good_beside(bank, settings.cull_chance, batch_ids))
    for vial, each in known:
        good[vial.clone_id] += vial.left if _good(each.forecast.chance_below, each.unsettled, settings) else 0
    figures.write(bank, list(_figures(known, good, settings, today)))


def _foreseen(case: Case, found: Forecast, settings: Settings) -> Foreseen:
    """Return what follows from a forecast for every vial that shares it."""
    tested = max((test.counted for test in case.evidence if test.counted is not None), default=None)
    return Foreseen(found, _state(found.share, settings), tested, forecast_words.befell(viability.unsettled(case)))


def _good(below: float | None, unsettled: str, settings: Settings) -> bool:
    """Return whether a vial can be counted on, as `bank.sql.GOOD` has it."""
    return (below or 0.0) < settings.cull_chance and not unsettled


def _judge_clones(bank: Bank, clones: tuple[int, int]) -> None:
    _judge(bank, figures.misjudged(bank, bank.settings.cull_chance, clones))


def _judge(bank: Bank, vials: Sequence[Misjudged]) -> None:
    """Say anew what follows for vials of whose clone another amount of spore is alive enough by now."""
    settings, today = bank.settings, bank.today()
    figures.judge(bank, [_judged(vial, settings, today) for vial in vials])


def _judged(vial: Misjudged, settings: Settings, today: date) -> Judged:
    situation = _situation(vial, vial.share, vial.chance_below, vial.crosses, settings)
    surplus = _surplus(vial.permission, situation, settings)
    return Judged(vial.vial_id, vial.clone_good, surplus, advice.advise(situation, settings, today))


def advised(vial: VialCase, case: Case, found: Forecast, settings: Settings, today: date) -> tuple[Advice, str]:
    """Return what to do about a vial, and why."""
    situation = _situated(vial, _foreseen(case, found, settings), vial.clone_good, settings)
    return advice.advise(situation, settings, today), advice.reason(situation, settings, today)


def _situated(vial: VialCase, foreseen: Foreseen, clone_good: int, settings: Settings) -> Situation:
    found, green = foreseen.forecast, vial.spore_class is SporeClass.GREEN
    below, unsettled = found.chance_below, foreseen.unsettled
    likely = None if found.crossing is None else found.crossing.likely
    last = _last(clone_good, clone_good <= vial.left, _good(below, unsettled, settings))
    return Situation(found.share, below, likely, not vial.left, clone_good, last, foreseen.tested, green, unsettled)


def _situation(
    vial: Misjudged | Standing, share: Share | None, below: float | None, crosses: date | None, settings: Settings
) -> Situation:
    green = vial.spore_class is SporeClass.GREEN
    last = _last(vial.clone_good, vial.alone, _good(below, vial.unsettled, settings))
    return Situation(share, below, crosses, not vial.some, vial.clone_good, last, vial.tested, green, vial.unsettled)


def _last(clone_good: int, alone: bool, good: bool) -> bool:
    """Return whether no other vial of its clone is good; `alone` is that of `figures.Standing`."""
    return alone if good else not clone_good


def _figures(
    known: Sequence[tuple[VialCase, Foreseen]], good: Mapping[int, int], settings: Settings, today: date
) -> Iterator[VialFigure]:
    """Yield the figures of vials from what is foreseen and how much good spore each clone has; once for those alike."""
    follows: dict[tuple[int, bool, bool], tuple[bool, Advice]] = {}
    for vial, foreseen in known:
        clone_good = good[vial.clone_id]
        key = id(foreseen), vial.left > 0, vial.left >= clone_good
        if key not in follows:
            situation = _situated(vial, foreseen, clone_good, settings)
            surplus = _surplus(vial.permission, situation, settings)
            follows[key] = surplus, advice.advise(situation, settings, today)
        yield VialFigure(vial.vial_id, foreseen, *follows[key], clone_good)


def _state(share: Share | None, settings: Settings) -> State:
    return advice.state(share, Lines(settings.alive_line, settings.cull_line))


def _surplus(permission: Permission, vial: Situation, settings: Settings) -> bool:
    sound = not vial.empty and not vial.unsettled
    return sound and sharing.surplus(permission, vial.share, vial.clone_left, settings.reserve_ug, settings.gift_line)


def _go_on(bank: Bank, vial_ids: tuple[int, int]) -> None:
    """Bring the figures of the vials with these ids on to today, along their courses."""
    today, settings = bank.today(), bank.settings
    vials = figures.standing(bank, vial_ids, today)
    figures.go_on(bank, list(_brought_on(vials, settings, today)), today)


def _brought_on(vials: Sequence[Standing], settings: Settings, today: date) -> Iterator[figures.Brought]:
    reached = _reached(vials, settings, today)
    for vial in vials:
        share, below, state = reached[vial.first, vial.last, vial.ends]
        situation = _situation(vial, share, below, vial.crosses, settings)
        what, surplus = advice.advise(situation, settings, today), _surplus(vial.permission, situation, settings)
        spent = not vial.unsettled and viability.settled_by(vial.tested, below, today, settings.test_age_days)
        moved = None if state is vial.state else state
        yield figures.Brought(vial.vials, moved, share, below, surplus, what, spent)


def _reached(
    vials: Sequence[Standing], settings: Settings, today: date
) -> dict[tuple[int, int, bytes], tuple[Share, float, State]]:
    """Return what each course has come to by today: the share alive, the chance of being below the line, the state."""
    courses = list(dict.fromkeys((vial.first, vial.last, vial.ends) for vial in vials))
    first, last = (np.array([each[end] for each in courses], dtype=float) for end in (0, 1))
    ends = np.frombuffer(b"".join(ends for _, _, ends in courses), dtype=np.float32).reshape(-1, 2, 4).astype(float)
    found = between(first, last, ends, today.toordinal()).tolist()
    shares = [(Share(low, middle, high), below) for low, middle, high, below in found]
    reached = [(share, below, _state(share, settings)) for share, below in shares]
    return dict(zip(courses, reached, strict=True))


def case_of(bank: Bank, vial_id: int) -> Case:
    """Return a vial as its forecast takes it in."""
    return gather(bank, [queries.case(bank, vial_id)], keeping.table(bank))[0]


def forecast_vial(bank: Bank, vial_id: int, on: date) -> Forecast:
    """Return the forecast of one vial for a day."""
    storage, settings, case = keeping.table(bank), bank.settings, case_of(bank, vial_id)
    return viability.forecast_many([case], storage, on, line=settings.cull_line, rule=keeping.test_rule(bank))[0]
