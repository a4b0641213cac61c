"""The bank in one look: one query a question, each over every vial with spore, added up by batch before anything else.

Adding up by batch first lets SQLite walk the index of vials by batch and look up clones and taxa once a batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import groupby
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import one, rows
from sporebank.core import overview
from sporebank.core.advice import Lines
from sporebank.core.overview import Held, LastVial, Renewal, TaxonShares, Totals, Urgency
from sporebank.core.records import State

#: So many lines of a list are read; nobody works through more before they change.
MOST = 500

_VIALS = """FROM vial LEFT JOIN figure ON figure.vial_id = vial.id
    LEFT JOIN outlook ON outlook.id = figure.outlook_id
    WHERE vial.void = 0 AND vial.culled_on IS NULL AND vial.left > 0 GROUP BY vial.batch_id"""
_OF_CLONE = "JOIN batch ON batch.id = held.batch_id JOIN clone ON clone.id = batch.clone_id"


def totals(bank: Bank) -> Totals:
    """Return how many vials hold spore, of how many clones and taxa, and how alive they are."""
    found = one(
        bank,
        f"""WITH held AS (SELECT vial.batch_id AS batch_id, COUNT(*) AS vials, SUM(outlook.state = 'alive') AS alive,
                SUM(outlook.state = 'fading') AS fading, SUM(outlook.state = 'spent') AS spent {_VIALS})
            SELECT COALESCE(SUM(vials), 0), COUNT(DISTINCT clone.id), COUNT(DISTINCT clone.taxon_id),
                COALESCE(SUM(alive), 0), COALESCE(SUM(fading), 0), COALESCE(SUM(spent), 0)
            FROM held {_OF_CLONE}""",
    )
    assert found is not None
    return Totals(*(int(count) for count in found))


def taxon_shares(bank: Bank) -> list[TaxonShares]:
    """Return what is held of each taxon by the year collected, in the order of names."""
    found = rows(
        bank,
        f"""WITH held AS (SELECT vial.batch_id AS batch_id, COUNT(*) AS vials, SUM(vial.left) AS held_left,
                SUM(vial.left) FILTER (WHERE outlook.middle IS NULL) AS dark, SUM(vial.left * outlook.middle) AS alive,
                COUNT(outlook.middle) AS known {_VIALS}),
            years AS (SELECT clone.taxon_id * 10000 + substr(batch.collected, 1, 4) AS which, SUM(vials) AS vials,
                SUM(held_left) AS held_left, SUM(held_left) - COALESCE(SUM(dark), 0) AS modelled,
                TOTAL(alive) AS alive, SUM(vials) - SUM(known) AS unmodelled FROM held {_OF_CLONE} GROUP BY which)
            SELECT taxon.id, taxon.name, which % 10000, vials, held_left, modelled, alive, unmodelled
            FROM years JOIN taxon ON taxon.id = which / 10000 ORDER BY taxon.sort_key, which""",
    )
    return [_shares(list(lines)) for _, lines in groupby(found, key=lambda row: row[0])]


def _shares(lines: Sequence[tuple[Any, ...]]) -> TaxonShares:
    parts = [Held(*line[2:]) for line in lines]
    return overview.shares(lines[0][0], reading.name(lines[0][1]), parts)


def renewals(bank: Bank, today: date, soon: date, lines: Lines) -> tuple[list[Renewal], int]:
    """Return the clones of which no vial is safe, the most urgent first, and how many there are in all.

    None of their modelled vials is alive from the upper line up, or all likely fall below the lower one by `soon`.
    First come those that are yet to fall by then, the soonest first; then those that fell, the latest first, since
    a few spores may live on; then the rest. At most `MOST` are returned.
    """
    found = rows(
        bank,
        f"""WITH held AS (SELECT vial.batch_id AS batch_id, COUNT(*) AS vials, SUM(vial.left) AS held_left,
                SUM(outlook.middle IS NULL) AS unmodelled, MAX(outlook.middle) AS best,
                MAX(iif(outlook.middle IS NULL, NULL, COALESCE(outlook.crosses, 'never'))) AS crosses {_VIALS}),
            kept AS (SELECT batch.clone_id AS clone_id, SUM(vials) AS vials, SUM(held_left) AS held_left,
                SUM(unmodelled) AS unmodelled, MAX(best) AS best, MAX(crosses) AS crosses
                FROM held JOIN batch ON batch.id = held.batch_id GROUP BY batch.clone_id),
            judged AS (SELECT *, NULLIF(crosses, 'never') AS day, CASE
                    WHEN crosses <= ?1 OR (crosses = 'never' AND best < ?4) THEN {Urgency.PAST.value}
                    WHEN crosses <= ?2 THEN {Urgency.SOON.value} ELSE {Urgency.LATER.value} END AS urgency
                FROM kept WHERE best < ?3 OR crosses <= ?2)
            SELECT COUNT(*) OVER (), clone.id, clone.code, taxon.name, vials, unmodelled, held_left, best, day, urgency
            FROM judged JOIN clone ON clone.id = judged.clone_id JOIN taxon ON taxon.id = clone.taxon_id
            ORDER BY urgency, iif(urgency = {Urgency.PAST.value}, NULL, day) NULLS LAST, day DESC, taxon.sort_key,
                clone.sort_key, clone.id
            LIMIT ?5""",
        today.isoformat(),
        soon.isoformat(),
        lines.alive,
        lines.spent,
        MOST,
    )
    wanted = [_renewal(row[1:]) for row in found]
    return wanted, int(found[0][0]) if found else 0


def _renewal(row: tuple[Any, ...]) -> Renewal:
    clone_id, clone, name, vials, unmodelled, left, best, day, urgency = row
    return Renewal(
        clone_id, clone, reading.name(name), vials, unmodelled, left, best, reading.day(day), Urgency(urgency)
    )


def last_vials(bank: Bank, least: int) -> tuple[list[LastVial], int]:
    """Return the vials that alone are left of their clone and fade, are spent, or hold less than an amount.

    The weakest come first; at most `MOST` are returned, with how many there are in all. `least` is in micrograms.
    """
    found = rows(
        bank,
        """WITH held AS (SELECT batch_id, COUNT(*) AS vials, MIN(id) AS vial_id FROM vial
                WHERE void = 0 AND culled_on IS NULL AND vial.left > 0 GROUP BY batch_id),
            last AS (SELECT MIN(vial_id) AS vial_id FROM held JOIN batch ON batch.id = held.batch_id
                GROUP BY batch.clone_id HAVING SUM(vials) = 1)
            SELECT COUNT(*) OVER (), vial.id, vial.code, clone.code, taxon.name, vial.left,
                outlook.low, outlook.middle, outlook.high, outlook.state
            FROM last JOIN vial ON vial.id = last.vial_id JOIN batch ON batch.id = vial.batch_id
                JOIN clone ON clone.id = batch.clone_id JOIN taxon ON taxon.id = clone.taxon_id
                LEFT JOIN figure ON figure.vial_id = vial.id
                LEFT JOIN outlook ON outlook.id = figure.outlook_id
            WHERE outlook.state IN ('fading', 'spent') OR vial.left < ?
            ORDER BY outlook.middle NULLS LAST, taxon.sort_key, clone.sort_key, vial.id LIMIT ?""",
        least,
        MOST,
    )
    return [_last(row[1:]) for row in found], int(found[0][0]) if found else 0


def _last(row: tuple[Any, ...]) -> LastVial:
    vial_id, code, clone, name, left, low, middle, high, state = row
    share = reading.share(low, middle, high)
    return LastVial(vial_id, code, clone, reading.name(name), left, share, State(state or State.UNKNOWN))
