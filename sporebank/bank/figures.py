"""Keeping the derived figures of vials: how alive each was on the day last computed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sporebank.bank.bank import Bank
from sporebank.bank.sql import numbers, rows
from sporebank.bank.tables import Meta
from sporebank.core.records import Crossing, Share, State


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


_SQL = f"INSERT OR REPLACE INTO figure VALUES ({', '.join('?' * 12)})"


def write(bank: Bank, figures: Sequence[VialFigure], on: date) -> None:
    """Keep the figures of these vials in place of older ones; they are derived, so no deed is recorded."""
    with bank.database.atomic("IMMEDIATE"):
        bank.database.connection().executemany(_SQL, (_row(figure, on) for figure in figures))
    bank.revision += 1


def mark(bank: Bank, on: date, event_id: int) -> None:
    """Note that all figures are of this day and take every deed up to this one into account."""
    for key, value in (("figures_day", on.isoformat()), ("figures_event", str(event_id))):
        Meta.insert(key=key, value=value).on_conflict_replace().execute(bank.database)


def _row(figure: VialFigure, on: date) -> tuple[object, ...]:
    share, crossing = figure.share, figure.crossing
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
    )


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


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
    sql["vial"] = f"""SELECT id FROM batch WHERE clone_id IN (SELECT clone_id FROM batch WHERE id IN
        (SELECT batch_id FROM vial WHERE id IN {within}))"""
    return {int(row[0]) for row in rows(bank, sql[kind])} if kind in sql else set()


def all_batches(bank: Bank) -> list[int]:
    """Return every batch that has a vial in the bank, those of one taxon one after the other."""
    sql = """SELECT batch.id FROM batch JOIN clone ON clone.id = batch.clone_id
        WHERE batch.id IN (SELECT batch_id FROM vial WHERE void = 0 AND culled_on IS NULL)
        ORDER BY clone.taxon_id, batch.id"""
    return [int(row[0]) for row in rows(bank, sql)]


def last_event(bank: Bank) -> int:
    """Return the last deed on record, 0 where there is none."""
    return int(rows(bank, "SELECT COALESCE(MAX(id), 0) FROM event")[0][0])
