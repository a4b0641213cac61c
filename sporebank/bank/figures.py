"""Keeping the derived figures of vials: how alive each was on the day last computed."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import numbers, rows
from sporebank.bank.tables import Figure, Meta
from sporebank.core.records import Advice, Course, Crossing, Permission, Share, SporeClass, State


@dataclass(frozen=True)
class VialFigure:
    """The figures of one vial."""

    vial_id: int
    state: State
    share: Share | None
    chance_below: float | None
    crossing: Crossing | None
    next_test: date | None
    surplus: bool
    advice: Advice
    course: Course | None
    tested: date | None
    unsettled: str
    alone: bool


class Standing(NamedTuple):
    """A vial whose figures go on along their course: days as ordinals, eight probits, and what is asked of it."""

    vial_id: int
    first: int
    last: int
    ends: bytes
    crosses: date | None
    left: int
    clone_left: int
    permission: Permission
    spore_class: SporeClass
    tested: date | None
    unsettled: str
    alone: bool


class Misjudged(NamedTuple):
    """A vial of which it has changed whether it is alone: what its advice is made from."""

    vial_id: int
    alone: bool
    share: Share | None
    chance_below: float | None
    crosses: date | None
    left: int
    clone_left: int
    spore_class: SporeClass
    tested: date | None
    unsettled: str


class Brought(NamedTuple):
    """What the figures of a vial have come to by another day; where tests have settled it, none is due any more."""

    vial_id: int
    state: State
    share: Share
    chance_below: float
    surplus: bool
    advice: Advice
    settled: bool


_PERMISSIONS = {each.value: each for each in Permission}
_CLASSES = {each.value: each for each in SporeClass}
_NAMES = [field.column_name for field in Figure._meta.sorted_fields]
_SQL = f"""INSERT INTO figure ({", ".join(_NAMES)}) VALUES ({", ".join("?" * len(_NAMES))})
    ON CONFLICT (vial_id) DO UPDATE SET {", ".join(f"{name} = excluded.{name}" for name in _NAMES[1:])}"""


def write(bank: Bank, figures: Sequence[VialFigure], on: date) -> None:
    """Keep the figures of these vials in place of older ones; they are derived, so no deed is recorded."""
    with bank.database.atomic("IMMEDIATE"):
        bank.database.connection().executemany(_SQL, (_row(figure, on) for figure in figures))
    bank.revision += 1


def go_on(bank: Bank, brought: Iterable[Brought], on: date) -> None:
    """Keep what the figures of vials have come to by a day."""
    day = on.isoformat()
    lines = (
        (day, one.state.value, one.share.low, one.share.middle, one.share.high, one.chance_below, int(one.surplus),
         one.advice.value, one.settled, one.vial_id)
        for one in brought
    )  # fmt: skip
    with bank.database.atomic("IMMEDIATE"):
        bank.database.connection().executemany(
            """UPDATE figure SET on_day = ?, state = ?, low = ?, middle = ?, high = ?, chance_below = ?, surplus = ?,
               advice = ?, next_test = CASE WHEN ? THEN NULL ELSE next_test END WHERE vial_id = ?""",
            lines,
        )
    bank.revision += 1


def mark(bank: Bank, on: date, event_id: int) -> None:
    """Note that all figures are of this day and take every deed up to this one into account."""
    for key, value in (("figures_day", on.isoformat()), ("figures_event", str(event_id))):
        Meta.insert(key=key, value=value).on_conflict_replace().execute(bank.database)


def _row(figure: VialFigure, on: date) -> tuple[object, ...]:
    share, crossing, course = figure.share, figure.crossing, figure.course
    return (
        figure.vial_id,
        on.isoformat(),
        figure.state.value,
        share and share.low,
        share and share.middle,
        share and share.high,
        figure.chance_below,
        crossing and _iso(crossing.earliest),
        crossing and _iso(crossing.likely),
        crossing and _iso(crossing.latest),
        _iso(figure.next_test),
        int(figure.surplus),
        figure.advice.value,
        course and course.first.toordinal(),
        course and course.last.toordinal(),
        course and array("f", (*course.ends[0], *course.ends[1])).tobytes(),
        _iso(figure.tested),
        figure.unsettled,
        int(figure.alone),
    )


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def standing(bank: Bank, vial_ids: tuple[int, int], on: date) -> list[Standing]:
    """Return the vials with ids from one to another whose figures are of another day, and whose course covers it."""
    found = rows(
        bank,
        """WITH some AS (SELECT figure.vial_id, first_day, last_day, ends, crosses, vial.left, batch.clone_id,
                   batch.spore_class, figure.tested, figure.unsettled, figure.alone
               FROM figure JOIN vial ON vial.id = figure.vial_id JOIN batch ON batch.id = vial.batch_id
               WHERE figure.vial_id BETWEEN ? AND ? AND on_day <> ? AND ? BETWEEN first_day AND last_day
                   AND vial.void = 0 AND culled_on IS NULL),
           held AS (SELECT kin.clone_id, SUM(vial.left) AS total FROM batch AS kin JOIN vial ON vial.batch_id = kin.id
               WHERE kin.clone_id IN (SELECT clone_id FROM some) GROUP BY kin.clone_id)
           SELECT some.vial_id, first_day, last_day, ends, crosses, some.left, held.total, clone.permission,
               spore_class, tested, unsettled, alone
           FROM some JOIN held ON held.clone_id = some.clone_id JOIN clone ON clone.id = some.clone_id""",
        *vial_ids,
        on.isoformat(),
        on.toordinal(),
    )
    return [
        Standing(
            vial_id,
            first,
            last,
            ends,
            reading.day(crosses),
            left,
            clone_left,
            _PERMISSIONS[permission],
            _CLASSES[kind],
            reading.day(tested),
            unsettled,
            bool(alone),
        )
        for vial_id, first, last, ends, crosses, left, clone_left, permission, kind, tested, unsettled, alone in found
    ]


def misjudged(bank: Bank, chance: float, clones: tuple[int, int]) -> list[Misjudged]:
    """Return the vials of the clones with ids from one to another whose `alone` no longer holds.

    Another vial of its clone is alive enough while it has spore and is below the line with less than this chance.
    """
    return _misjudged(bank, chance, "batch.clone_id BETWEEN ? AND ?", *clones)


def misjudged_of(bank: Bank, chance: float, batch_ids: Sequence[int]) -> list[Misjudged]:
    """Return what `misjudged` returns, for the clones of these batches."""
    return _misjudged(bank, chance, f"batch.clone_id IN (SELECT clone_id FROM batch WHERE id IN {numbers(batch_ids)})")


def _misjudged(bank: Bank, chance: float, which: str, *values: object) -> list[Misjudged]:
    found = rows(
        bank,
        f"""WITH some AS (SELECT vial.id, batch.clone_id, batch.spore_class, vial.left,
                    vial.left > 0 AND COALESCE(figure.chance_below, 0) < ? AS good, figure.alone,
                    low, middle, high, chance_below, crosses, tested, unsettled
                FROM vial JOIN batch ON batch.id = vial.batch_id JOIN figure ON figure.vial_id = vial.id
                WHERE vial.void = 0 AND vial.culled_on IS NULL AND {which}),
            held AS (SELECT clone_id, SUM(good) AS good, SUM(some.left) AS total FROM some GROUP BY clone_id)
            SELECT id, held.good = some.good, low, middle, high, chance_below, crosses, some.left, held.total,
                spore_class, tested, unsettled
            FROM some JOIN held ON held.clone_id = some.clone_id WHERE some.alone <> (held.good = some.good)""",
        chance,
        *values,
    )
    return [
        Misjudged(
            row[0],
            bool(row[1]),
            share=None if row[3] is None else Share(*row[2:5]),
            chance_below=row[5],
            crosses=reading.day(row[6]),
            left=row[7],
            clone_left=row[8],
            spore_class=_CLASSES[row[9]],
            tested=reading.day(row[10]),
            unsettled=row[11],
        )
        for row in found
    ]


def judge(bank: Bank, judged: Iterable[tuple[int, bool, Advice]]) -> None:
    """Keep of vials whether they are alone, and what is advised."""
    lines = [(int(alone), advice.value, vial_id) for vial_id, alone, advice in judged]
    if lines:
        with bank.database.atomic("IMMEDIATE"):
            bank.database.connection().executemany("UPDATE figure SET alone = ?, advice = ? WHERE vial_id = ?", lines)
        bank.revision += 1


def last_clone(bank: Bank) -> int:
    """Return the highest id of a clone, 0 where there is none."""
    return int(rows(bank, "SELECT COALESCE(MAX(id), 0) FROM clone")[0][0])


def last_vial(bank: Bank) -> int:
    """Return the highest id of a vial, 0 where there is none."""
    return int(rows(bank, "SELECT COALESCE(MAX(id), 0) FROM vial")[0][0])


def batches_of(bank: Bank, kind: str, ids: Iterable[int]) -> set[int]:
    """Return the batches whose figures a change of these rows touches; an empty set for kinds that touch none.

    What is known of one batch, its tests above all, tells of every batch of its taxon.
    """
    within = numbers(ids)
    touched = {
        "taxon": f"SELECT id FROM taxon WHERE id IN {within}",
        "clone": f"SELECT taxon_id FROM clone WHERE id IN {within}",
        "batch": f"SELECT taxon_id FROM clone WHERE id IN (SELECT clone_id FROM batch WHERE id IN {within})",
        "test": f"""SELECT taxon_id FROM clone WHERE id IN (SELECT clone_id FROM batch WHERE id IN
            (SELECT batch_id FROM test WHERE id IN {within}))""",
    }
    sql = {
        kind: f"SELECT id FROM batch WHERE clone_id IN (SELECT id FROM clone WHERE taxon_id IN ({taxa}))"
        for kind, taxa in touched.items()
    }
    vials = {"vial": within, "mishap": f"(SELECT vial_id FROM mishap WHERE id IN {within})"}
    sql |= {
        kind: f"""SELECT id FROM batch WHERE clone_id IN (SELECT clone_id FROM batch WHERE id IN
            (SELECT batch_id FROM vial WHERE id IN {ids}))"""
        for kind, ids in vials.items()
    }
    return {int(row[0]) for row in rows(bank, sql[kind])} if kind in sql else set()


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
