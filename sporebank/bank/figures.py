"""Keeping the derived figures of vials: how alive each was on the day last computed."""

from __future__ import annotations

import json
from array import array
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from typing import Any, NamedTuple

from sporebank.bank.bank import Bank
from sporebank.bank.queries import VialFigure, reading
from sporebank.bank.sql import GOOD, marks, numbers, rows
from sporebank.bank.tables import Meta
from sporebank.core.records import Advice, Forecast, Permission, Share, SporeClass, State


class Outlook(NamedTuple):
    """What is foreseen of vials of a batch that are alike: a forecast, and what is to be said beside it.

    Its id is that of the first of them, so that it stays the same while they are the same.
    """

    id: int
    batch_id: int
    forecast: Forecast
    state: State
    tested: date | None
    unsettled: str


class Standing(NamedTuple):
    """An outlook that goes on along its course, with what it has been so far: days as ordinals, eight probits."""

    outlook_id: int
    batch_id: int
    first: int
    last: int
    ends: bytes
    state: State
    chance_below: float
    crosses: date | None
    permission: Permission
    spore_class: SporeClass
    tested: date | None
    unsettled: str


class Lying(NamedTuple):
    """A vial of such an outlook, and what its figures say so far.

    `some` says that there is spore in it, `alone` that its clone has no more good spore than there is in it.
    """

    vial_id: int
    outlook_id: int
    some: bool
    alone: bool
    clone_good: int
    surplus: bool
    advice: Advice


class Misjudged(NamedTuple):
    """A vial of which it has changed how much good spore its clone has: what its advice and surplus are made from.

    `some` and `alone` are those of `Lying`.
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
    """What follows for a vial from its outlook and from how much good spore its clone has."""

    vial_id: int
    clone_good: int
    surplus: bool
    advice: Advice


class Brought(NamedTuple):
    """What an outlook has come to by another day.

    `state` is None where it is what it was; where tests have settled it, none is due any more.
    """

    outlook_id: int
    state: State | None
    share: Share
    chance_below: float
    settled: bool


_PERMISSIONS = {each.value: each for each in Permission}
_CLASSES = {each.value: each for each in SporeClass}
_STATES = {each.value: each for each in State}
_ADVICE = {each.value: each for each in Advice}
_IN_BANK = "vial.void = 0 AND vial.culled_on IS NULL"
_OUTLOOK = (
    "id", "batch_id", "state", "tested", "unsettled", "on_day", "low", "middle", "high", "chance_below",
    "crosses_earliest", "crosses", "crosses_latest", "next_test", "first_day", "last_day", "ends",
)  # fmt: skip
_KEEP_OUTLOOK = f"""INSERT INTO outlook ({", ".join(_OUTLOOK)}) VALUES ({", ".join("?" * len(_OUTLOOK))})
    ON CONFLICT (id) DO UPDATE SET {", ".join(f"{name} = excluded.{name}" for name in _OUTLOOK[2:])}"""
_KEEP_FIGURE = """INSERT INTO figure (vial_id, outlook_id, surplus, advice, clone_good) VALUES (?, ?, ?, ?, ?)
    ON CONFLICT (vial_id) DO UPDATE SET outlook_id = excluded.outlook_id, surplus = excluded.surplus,
        advice = excluded.advice, clone_good = excluded.clone_good"""


@contextmanager
def together(bank: Bank) -> Iterator[None]:
    """Keep all that is written of figures meanwhile, or none of it: nothing would look again at what was left out."""
    with bank.database.atomic("IMMEDIATE"):
        yield


def write(bank: Bank, outlooks: Sequence[Outlook], figures: Iterable[VialFigure], judged: Iterable[Judged]) -> None:
    """Keep what is foreseen of batches and what follows for vials; it is derived, so no deed is recorded.

    Outlooks of these batches that no vial has any more are forgotten. `judged` are vials whose outlook is still theirs.
    A vial that has left the bank keeps what was foreseen of it until then.
    """
    within = numbers({one.batch_id for one in outlooks})
    with bank.database.atomic("IMMEDIATE"):
        write = bank.database.connection().executemany
        _part_with_those_gone(bank, within)
        write(_KEEP_OUTLOOK, map(_columns, outlooks))
        write(_KEEP_FIGURE, ((*one[:3], one.advice.value, one.clone_good) for one in figures))
        judge(bank, judged)
        bank.database.execute_sql(
            f"""DELETE FROM outlook WHERE batch_id IN {within}
                AND NOT EXISTS (SELECT 1 FROM figure WHERE figure.outlook_id = outlook.id)"""
        )
    bank.revision += 1


def _part_with_those_gone(bank: Bank, batches: str) -> None:
    """Give each vial of these batches that has left the bank an outlook of its own, as the one it had is now."""
    gone = rows(
        bank,
        f"""SELECT vial.id FROM vial JOIN figure ON figure.vial_id = vial.id
            WHERE vial.batch_id IN {batches} AND NOT ({_IN_BANK}) AND outlook_id <> vial.id""",
    )
    if gone:
        which = numbers(vial_id for (vial_id,) in gone)
        columns = ", ".join(_OUTLOOK[1:])
        bank.database.execute_sql(
            f"""INSERT INTO outlook (id, {columns}) SELECT vial_id, {columns}
                FROM figure JOIN outlook ON outlook.id = figure.outlook_id WHERE vial_id IN {which}"""
        )
        bank.database.execute_sql(f"UPDATE figure SET outlook_id = vial_id WHERE vial_id IN {which}")


def go_on(bank: Bank, brought: Sequence[Brought], judged: Sequence[Judged], on: date) -> None:
    """Keep what outlooks have come to by a day, and what follows for vials where that has changed.

    What has an index and seldom changes is written only where it does, as an index is costly to write.
    """
    day = on.isoformat()
    lines = (
        (day, one.share.low, one.share.middle, one.share.high, one.chance_below, one.outlook_id) for one in brought
    )
    moved = [(one.state.value, one.outlook_id) for one in brought if one.state]
    settled = [(one.outlook_id,) for one in brought if one.settled]
    with bank.database.atomic("IMMEDIATE"):
        write = bank.database.connection().executemany
        write("UPDATE outlook SET on_day = ?, low = ?, middle = ?, high = ?, chance_below = ? WHERE id = ?", lines)
        write("UPDATE outlook SET state = ? WHERE id = ?", moved)
        write("UPDATE outlook SET next_test = NULL WHERE id = ? AND next_test IS NOT NULL", settled)
        judge(bank, judged)
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


def _columns(outlook: Outlook) -> tuple[object, ...]:
    forecast = outlook.forecast
    share, crossing, course = forecast.share, forecast.crossing, forecast.course
    today = forecast.on.toordinal()
    return (
        outlook.id,
        outlook.batch_id,
        outlook.state.value,
        _iso(outlook.tested),
        outlook.unsettled,
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


_GOES_ON = """outlook.batch_id BETWEEN ? AND ? AND outlook.on_day <> ? AND ? BETWEEN first_day AND last_day
    AND ends IS NOT NULL"""


def standing(bank: Bank, batches: tuple[int, int], on: date) -> list[Standing]:
    """Return the outlooks of another day whose course covers it, of batches with ids from one to another."""
    found = rows(
        bank,
        f"""SELECT outlook.id, batch_id, first_day, last_day, ends, state, chance_below, crosses, clone.permission,
                batch.spore_class, tested, unsettled
            FROM outlook JOIN batch ON batch.id = outlook.batch_id JOIN clone ON clone.id = batch.clone_id
            WHERE {_GOES_ON}""",
        *batches,
        on.isoformat(),
        on.toordinal(),
    )
    return [
        Standing(
            outlook_id, batch_id, first, last, ends, _STATES[state], below, reading.day(crosses),
            _PERMISSIONS[permission], _CLASSES[kind], reading.day(tested), unsettled,
        )
        for outlook_id, batch_id, first, last, ends, state, below, crosses, permission, kind, tested, unsettled in found
    ]  # fmt: skip


def lying(bank: Bank, batches: tuple[int, int], on: date) -> list[Lying]:
    """Return the vials in the bank whose outlook `standing` returns."""
    found = rows(
        bank,
        f"""SELECT figure.vial_id, outlook.id, vial.left > 0, vial.left >= clone_good, clone_good, surplus, advice
            FROM outlook JOIN figure ON figure.outlook_id = outlook.id JOIN vial ON vial.id = figure.vial_id
            WHERE {_GOES_ON} AND {_IN_BANK}""",
        *batches,
        on.isoformat(),
        on.toordinal(),
    )
    return [
        Lying(vial_id, outlook_id, some, alone, good, surplus, _ADVICE[what])
        for vial_id, outlook_id, some, alone, good, surplus, what in found
    ]


def good_beside(bank: Bank, chance: float, batch_ids: Sequence[int]) -> dict[int, int]:
    """Return the micrograms in vials that are `GOOD` of the other batches of these batches' clones, by the clone."""
    within = numbers(batch_ids)
    sql = f"""SELECT batch.clone_id, SUM(vial.left) FROM batch JOIN vial ON vial.batch_id = batch.id
            JOIN figure ON figure.vial_id = vial.id JOIN outlook ON outlook.id = figure.outlook_id
        WHERE batch.clone_id IN (SELECT clone_id FROM batch WHERE id IN {within}) AND batch.id NOT IN {within}
            AND {_IN_BANK} AND {GOOD} GROUP BY batch.clone_id"""
    return {int(clone_id): int(good) for clone_id, good in rows(bank, sql, chance)}


def misjudged(bank: Bank, chance: float, batch_ids: Iterable[int]) -> list[Misjudged]:
    """Return the vials of these batches' clones whose `clone_good` no longer holds, by `GOOD`."""
    found = rows(
        bank,
        f"""WITH some AS (SELECT vial.id, batch.clone_id, batch.spore_class, vial.left, figure.clone_good,
                    {GOOD} AS good, low, middle, high, chance_below, crosses, tested, unsettled
                FROM vial JOIN batch ON batch.id = vial.batch_id JOIN figure ON figure.vial_id = vial.id
                    JOIN outlook ON outlook.id = figure.outlook_id
                WHERE {_IN_BANK}
                    AND batch.clone_id IN (SELECT clone_id FROM batch WHERE id IN {numbers(batch_ids)})),
            held AS (SELECT clone_id, SUM(good * some.left) AS good FROM some GROUP BY clone_id)
            SELECT some.id, held.good, low, middle, high, chance_below, crosses, some.left > 0,
                some.left >= held.good, clone.permission, spore_class, tested, unsettled
            FROM some JOIN held ON held.clone_id = some.clone_id JOIN clone ON clone.id = some.clone_id
            WHERE some.clone_good <> held.good""",
        chance,
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
    """Keep what follows for vials from their outlooks and from how much good spore their clones have."""
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
            f"UPDATE outlook SET first_day = NULL, last_day = NULL WHERE batch_id IN {numbers(batch_ids)}"
        )
        _put(bank, "figures_day", NO_DAY)


def wear_out_all(bank: Bank) -> None:
    """Let all figures be worked out anew, later, so that every deed so far is taken into account by then."""
    with bank.database.atomic("IMMEDIATE"):
        bank.database.execute_sql("UPDATE outlook SET first_day = NULL, last_day = NULL WHERE first_day IS NOT NULL")
        _put(bank, "figures_day", NO_DAY)
        _put(bank, "figures_event", str(last_event(bank)))


def last_batch(bank: Bank) -> int:
    """Return the highest id of a batch, 0 where there is none."""
    return int(rows(bank, "SELECT COALESCE(MAX(id), 0) FROM batch")[0][0])


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


def all_batches(bank: Bank) -> list[int]:
    """Return every batch that has a vial in the bank, those of one taxon one after the other."""
    return _by_taxon(bank, f"SELECT batch_id FROM vial WHERE {_IN_BANK}")


def worn_out(bank: Bank, on: date) -> list[int]:
    """Return the batches with a vial in the bank whose course does not cover a day, those of one taxon together."""
    return _by_taxon(
        bank,
        f"""SELECT vial.batch_id FROM vial LEFT JOIN figure ON figure.vial_id = vial.id
                LEFT JOIN outlook ON outlook.id = figure.outlook_id
            WHERE {_IN_BANK} AND NOT COALESCE(? BETWEEN first_day AND last_day, 0)""",
        on.toordinal(),
    )


def _by_taxon(bank: Bank, within: str, *values: object) -> list[int]:
    sql = f"""SELECT batch.id FROM batch JOIN clone ON clone.id = batch.clone_id WHERE batch.id IN ({within})
        ORDER BY clone.taxon_id, batch.id"""
    return [int(row[0]) for row in rows(bank, sql, *values)]


def last_event(bank: Bank) -> int:
    """Return the last deed on record, 0 where there is none."""
    return int(rows(bank, "SELECT COALESCE(MAX(id), 0) FROM event")[0][0])
