"""Keeping the derived figures of vials: how alive each was on the day last computed."""

from __future__ import annotations

import json
from array import array
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from typing import Any, NamedTuple

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import GOOD, marks, numbers, rows
from sporebank.bank.tables import Meta
from sporebank.core.records import Advice, Forecast, Permission, Share, SporeClass, State


class Foreseen(NamedTuple):
    """The figures that vials share: a forecast, and what is to be said beside it."""

    forecast: Forecast
    state: State
    tested: date | None
    unsettled: str


class VialFigure(NamedTuple):
    """The figures of one vial."""

    vial_id: int
    foreseen: Foreseen
    surplus: bool
    advice: Advice
    clone_good: int


class Standing(NamedTuple):
    """Vials of successive ids whose figures go on along one course: days as ordinals, eight probits, what is asked.

    `some` says that there is spore in them, `alone` that the clone has no more good spore than there is in each.
    """

    vials: tuple[int, int]
    first: int
    last: int
    ends: bytes
    state: State
    crosses: date | None
    some: bool
    alone: bool
    clone_good: int
    permission: Permission
    spore_class: SporeClass
    tested: date | None
    unsettled: str


class Misjudged(NamedTuple):
    """A vial of which it has changed how much good spore its clone has: what its advice and surplus are made from.

    `some` and `alone` are those of `Standing`.
    """

    vial_id: int
    clone_good: int
    share: Share | None
    chance_below: float | None
    crosses: date | None
    some: bool
    alone: bool
    permission: Permission
    spore_class: SporeClass
    tested: date | None
    unsettled: str


class Judged(NamedTuple):
    """What follows for a vial from how much good spore its clone has."""

    vial_id: int
    clone_good: int
    surplus: bool
    advice: Advice


class Brought(NamedTuple):
    """What the figures of vials of successive ids have come to by another day.

    `state` is None where it is what it was; where tests have settled it, none is due any more.
    """

    vials: tuple[int, int]
    state: State | None
    share: Share
    chance_below: float
    surplus: bool
    advice: Advice
    settled: bool


_PERMISSIONS = {each.value: each for each in Permission}
_CLASSES = {each.value: each for each in SporeClass}
_STATES = {each.value: each for each in State}
_OWN = ("vial_id", "surplus", "advice", "clone_good")
_SHARED = (
    "state", "tested", "unsettled", "on_day", "low", "middle", "high", "chance_below", "crosses_earliest", "crosses",
    "crosses_latest", "next_test", "first_day", "last_day", "ends",
)  # fmt: skip
_NAMES = (*_OWN, *_SHARED)
_SQL = f"""INSERT INTO figure ({", ".join(_NAMES)}) VALUES ({", ".join("?" * len(_NAMES))})
    ON CONFLICT (vial_id) DO UPDATE SET {", ".join(f"{name} = excluded.{name}" for name in _NAMES[1:])}"""


def write(bank: Bank, figures: Sequence[VialFigure]) -> None:
    """Keep the figures of these vials in place of older ones; they are derived, so no deed is recorded."""
    shared = {key: _shared(foreseen) for key, foreseen in {id(one.foreseen): one.foreseen for one in figures}.items()}
    lines = ((one.vial_id, one.surplus, one.advice.value, one.clone_good, *shared[id(one.foreseen)]) for one in figures)
    with bank.database.atomic("IMMEDIATE"):
        bank.database.connection().executemany(_SQL, lines)
    bank.revision += 1


def go_on(bank: Bank, brought: Sequence[Brought], on: date) -> None:
    """Keep what the figures of vials have come to by a day.

    What has an index and seldom changes is written only where it does, as an index is costly to write.
    """
    day = on.isoformat()
    lines = (
        (day, one.share.low, one.share.middle, one.share.high, one.chance_below, one.surplus, one.advice.value,
         *one.vials)
        for one in brought
    )  # fmt: skip
    moved = [(one.state.value, *one.vials) for one in brought if one.state]
    settled = [one.vials for one in brought if one.settled]
    with bank.database.atomic("IMMEDIATE"):
        write = bank.database.connection().executemany
        write(
            """UPDATE figure SET on_day = ?, low = ?, middle = ?, high = ?, chance_below = ?, surplus = ?, advice = ?
               WHERE vial_id BETWEEN ? AND ?""",
            lines,
        )
        write("UPDATE figure SET state = ? WHERE vial_id BETWEEN ? AND ?", moved)
        write("UPDATE figure SET next_test = NULL WHERE vial_id BETWEEN ? AND ? AND next_test IS NOT NULL", settled)
    bank.revision += 1


NO_DAY = date.min.isoformat()
"""The day of figures some of which are to be worked out anew."""


def mark_day(bank: Bank, on: date) -> None:
    """Note that all figures are of this day."""
    _put(bank, "figures_day", on.isoformat())


def mark_event(bank: Bank, event_id: int) -> None:
    """Note that figures take every deed up to this one into account, or are worn out."""
    _put(bank, "figures_event", str(event_id))


def _put(bank: Bank, key: str, value: str) -> None:
    Meta.insert(key=key, value=value).on_conflict_replace().execute(bank.database)


def _shared(foreseen: Foreseen) -> tuple[object, ...]:
    forecast = foreseen.forecast
    share, crossing, course = forecast.share, forecast.crossing, forecast.course
    today = forecast.on.toordinal()
    return (
        foreseen.state.value,
        _iso(foreseen.tested),
        foreseen.unsettled,
        forecast.on.isoformat(),
        share and share.low,
        share and share.middle,
        share and share.high,
        forecast.chance_below,
        crossing and _iso(crossing.earliest),
        crossing and _iso(crossing.likely),
        crossing and _iso(crossing.latest),
        _iso(forecast.next_test),
        course.first.toordinal() if course else today,  # what is not modelled is looked at anew every day
        course.last.toordinal() if course else today,
        course and array("f", (*course.ends[0], *course.ends[1])).tobytes(),
    )


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def standing(bank: Bank, vial_ids: tuple[int, int], on: date) -> list[Standing]:
    """Return the vials with ids from one to another whose figures are of another day, and whose course covers it."""
    found = rows(
        bank,
        """SELECT figure.vial_id, first_day, last_day, ends, state, crosses, vial.left > 0, vial.left >= clone_good,
               clone_good, clone.permission, batch.spore_class, tested, unsettled
           FROM figure JOIN vial ON vial.id = figure.vial_id JOIN batch ON batch.id = vial.batch_id
               JOIN clone ON clone.id = batch.clone_id
           WHERE figure.vial_id BETWEEN ? AND ? AND on_day <> ? AND ? BETWEEN first_day AND last_day
               AND ends IS NOT NULL AND vial.void = 0 AND culled_on IS NULL
           ORDER BY figure.vial_id""",
        *vial_ids,
        on.isoformat(),
        on.toordinal(),
    )
    return [
        Standing(
            vials,
            first,
            last,
            ends,
            _STATES[state],
            reading.day(crosses),
            bool(some),
            bool(alone),
            good,
            _PERMISSIONS[permission],
            _CLASSES[kind],
            reading.day(tested),
            unsettled,
        )
        for vials, (
            first, last, ends, state, crosses, some, alone, good, permission, kind, tested, unsettled,
        ) in _runs(found)
    ]  # fmt: skip


def _runs(found: Sequence[tuple[Any, ...]]) -> Iterator[tuple[tuple[int, int], tuple[Any, ...]]]:
    """Yield the first and the last of successive ids that have the same beside them, and what they have beside them."""
    start = 0
    for end in range(1, len(found) + 1):
        last = found[end - 1]
        if end == len(found) or found[end][0] != last[0] + 1 or found[end][1:] != last[1:]:
            yield (found[start][0], last[0]), last[1:]
            start = end


def good_beside(bank: Bank, chance: float, batch_ids: Sequence[int]) -> dict[int, int]:
    """Return the micrograms in vials that are `GOOD` of the other batches of these batches' clones, by the clone."""
    within = numbers(batch_ids)
    sql = f"""SELECT batch.clone_id, SUM(vial.left) FROM batch JOIN vial ON vial.batch_id = batch.id
            JOIN figure ON figure.vial_id = vial.id
        WHERE batch.clone_id IN (SELECT clone_id FROM batch WHERE id IN {within}) AND batch.id NOT IN {within}
            AND vial.void = 0 AND vial.culled_on IS NULL AND {GOOD} GROUP BY batch.clone_id"""
    return {int(clone_id): int(good) for clone_id, good in rows(bank, sql, chance)}


def misjudged(bank: Bank, chance: float, clones: tuple[int, int]) -> list[Misjudged]:
    """Return the vials of the clones with ids from one to another whose `clone_good` no longer holds, by `GOOD`."""
    return _misjudged(bank, chance, "batch.clone_id BETWEEN ? AND ?", *clones)


def misjudged_of(bank: Bank, chance: float, batch_ids: Sequence[int]) -> list[Misjudged]:
    """Return what `misjudged` returns, for the clones of these batches."""
    return _misjudged(bank, chance, f"batch.clone_id IN (SELECT clone_id FROM batch WHERE id IN {numbers(batch_ids)})")


def _misjudged(bank: Bank, chance: float, which: str, *values: object) -> list[Misjudged]:
    found = rows(
        bank,
        f"""WITH some AS (SELECT vial.id, batch.clone_id, batch.spore_class, vial.left, figure.clone_good,
                    {GOOD} AS good, low, middle, high, chance_below, crosses, tested, unsettled
                FROM vial JOIN batch ON batch.id = vial.batch_id JOIN figure ON figure.vial_id = vial.id
                WHERE vial.void = 0 AND vial.culled_on IS NULL AND {which}),
            held AS (SELECT clone_id, SUM(good * some.left) AS good FROM some GROUP BY clone_id)
            SELECT some.id, held.good, low, middle, high, chance_below, crosses, some.left > 0,
                some.left >= held.good, clone.permission, spore_class, tested, unsettled
            FROM some JOIN held ON held.clone_id = some.clone_id JOIN clone ON clone.id = some.clone_id
            WHERE some.clone_good <> held.good""",
        chance,
        *values,
    )
    return [
        Misjudged(
            row[0],
            row[1],
            share=None if row[3] is None else Share(*row[2:5]),
            chance_below=row[5],
            crosses=reading.day(row[6]),
            some=bool(row[7]),
            alone=bool(row[8]),
            permission=_PERMISSIONS[row[9]],
            spore_class=_CLASSES[row[10]],
            tested=reading.day(row[11]),
            unsettled=row[12],
        )
        for row in found
    ]


def judge(bank: Bank, judged: Iterable[Judged]) -> None:
    """Keep what follows for vials from how much good spore their clones have."""
    lines = [(one.clone_good, int(one.surplus), one.advice.value, one.vial_id) for one in judged]
    if lines:
        with bank.database.atomic("IMMEDIATE"):
            bank.database.connection().executemany(
                "UPDATE figure SET clone_good = ?, surplus = ?, advice = ? WHERE vial_id = ?", lines
            )
        bank.revision += 1


def wear_out(bank: Bank, batch_ids: Sequence[int]) -> None:
    """Let the figures of these batches be worked out anew, later; from now on figures are of no day."""
    with bank.database.atomic("IMMEDIATE"):
        bank.database.execute_sql(
            f"""UPDATE figure SET first_day = NULL, last_day = NULL
                WHERE vial_id IN (SELECT id FROM vial WHERE batch_id IN {numbers(batch_ids)})"""
        )
        _put(bank, "figures_day", NO_DAY)


def wear_out_all(bank: Bank) -> None:
    """Let all figures be worked out anew, later, so that every deed so far is taken into account by then."""
    with bank.database.atomic("IMMEDIATE"):
        bank.database.execute_sql("UPDATE figure SET first_day = NULL, last_day = NULL WHERE first_day IS NOT NULL")
        _put(bank, "figures_day", NO_DAY)
        _put(bank, "figures_event", str(last_event(bank)))


def last_clone(bank: Bank) -> int:
    """Return the highest id of a clone, 0 where there is none."""
    return int(rows(bank, "SELECT COALESCE(MAX(id), 0) FROM clone")[0][0])


def last_vial(bank: Bank) -> int:
    """Return the highest id of a vial, 0 where there is none."""
    return int(rows(bank, "SELECT COALESCE(MAX(id), 0) FROM vial")[0][0])


def touched_by(bank: Bank, event_id: int) -> list[int]:
    """Return the batches whose figures a deed touches.

    An amount, a place or a cull concerns the clone of a vial. What is known of one batch, its tests above all, tells of
    every batch of its taxon; so do, where there are tests, where their vials lay and what befell them.
    """
    sought: defaultdict[str, set[int]] = defaultdict(set)
    kinds = marks(_TELLING)
    sql = f"SELECT kind, row_id, before, after FROM entry WHERE event_id = ? AND kind IN {kinds}"
    found = rows(bank, sql, event_id, *_TELLING)
    for kind, row_id, before, after in found:
        for what, sought_id in _sought(kind, row_id, json.loads(before or "{}"), json.loads(after)):
            sought[what].add(sought_id)
    clones = {each for what, ids in sought.items() if what in _OF_CLONE for each in _ids(bank, _OF_CLONE[what], ids)}
    taxa = {each for what, ids in sought.items() if what in _OF_TAXON for each in _ids(bank, _OF_TAXON[what], ids)}
    return sorted(_ids(bank, _BATCHES, clones) | _ids(bank, _KIN, taxa | sought["was"]))


def _sought(kind: str, row_id: int, before: dict[str, Any], after: dict[str, Any]) -> Iterator[tuple[str, int]]:
    """Yield what one row that was written touches: `was` is a taxon by its id, `vial` and others are rows."""
    if kind == "clone":
        yield from (("was", row["taxon_id"]) for row in (before, after) if "taxon_id" in row)
    if kind in ("movement", "stay"):
        yield ("vial", after["vial_id"])
    if kind == "stay":
        yield ("lay", after["vial_id"])
    if not (kind == "vial" and set(after) <= {"note"}):
        yield (kind, row_id)


_LAID = "SELECT id FROM vial WHERE batch_id IN (SELECT batch_id FROM test)"
_OF_CLONE = {
    "vial": "SELECT clone_id FROM batch WHERE id IN (SELECT batch_id FROM vial WHERE id IN {ids})",
    "mishap": """SELECT clone_id FROM batch WHERE id IN (SELECT batch_id FROM vial WHERE id IN
        (SELECT vial_id FROM mishap WHERE id IN {ids}))""",
}
_OF_TAXON = {
    "taxon": "SELECT id FROM taxon WHERE id IN {ids}",
    "clone": "SELECT taxon_id FROM clone WHERE id IN {ids}",
    "batch": "SELECT taxon_id FROM clone WHERE id IN (SELECT clone_id FROM batch WHERE id IN {ids})",
    "test": """SELECT taxon_id FROM clone WHERE id IN (SELECT clone_id FROM batch WHERE id IN
        (SELECT batch_id FROM test WHERE id IN {ids}))""",
    "lay": f"""SELECT taxon_id FROM clone WHERE id IN (SELECT clone_id FROM batch WHERE id IN
        (SELECT batch_id FROM vial WHERE id IN {{ids}} AND id IN ({_LAID})))""",
    "mishap": f"""SELECT taxon_id FROM clone WHERE id IN (SELECT clone_id FROM batch WHERE id IN
        (SELECT batch_id FROM vial WHERE id IN ({_LAID})
            AND id IN (SELECT vial_id FROM mishap WHERE id IN {{ids}})))""",
}
_TELLING = sorted({*_OF_CLONE, *_OF_TAXON, "movement", "stay"})
"""The kinds of rows that can touch figures, so that a deed of many others need not be read."""
_BATCHES = "SELECT id FROM batch WHERE clone_id IN {ids}"
_KIN = "SELECT id FROM batch WHERE clone_id IN (SELECT id FROM clone WHERE taxon_id IN {ids})"


def _ids(bank: Bank, sql: str, ids: Iterable[int]) -> set[int]:
    return {int(row[0]) for row in rows(bank, sql.format(ids=numbers(ids)))}


_IN_BANK = "SELECT batch_id FROM vial WHERE void = 0 AND culled_on IS NULL"


def all_batches(bank: Bank) -> list[int]:
    """Return every batch that has a vial in the bank, those of one taxon one after the other."""
    return _by_taxon(bank, _IN_BANK)


def worn_out(bank: Bank, on: date) -> list[int]:
    """Return the batches with a vial in the bank whose course does not cover a day, those of one taxon together."""
    return _by_taxon(
        bank,
        """SELECT batch_id FROM vial LEFT JOIN figure ON figure.vial_id = vial.id
           WHERE void = 0 AND culled_on IS NULL AND NOT COALESCE(? BETWEEN first_day AND last_day, 0)""",
        on.toordinal(),
    )


def _by_taxon(bank: Bank, within: str, *values: object) -> list[int]:
    sql = f"""SELECT batch.id FROM batch JOIN clone ON clone.id = batch.clone_id WHERE batch.id IN ({within})
        ORDER BY clone.taxon_id, batch.id"""
    return [int(row[0]) for row in rows(bank, sql, *values)]


def last_event(bank: Bank) -> int:
    """Return the last deed on record, 0 where there is none."""
    return int(rows(bank, "SELECT COALESCE(MAX(id), 0) FROM event")[0][0])
