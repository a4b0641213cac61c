"""Vials past viability."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.queries.vials import vials_by_id
from sporebank.bank.sql import BY_OUTLOOK, past, rows
from sporebank.core.records import VialRow


class Past(NamedTuple):
    """A vial past viability: the chance, the last test that speaks for it, what befell it since, and cautions.

    `last` says that no vial of its clone would be left without those past viability, `invasive` is the taxon's note.
    """

    vial: VialRow
    chance_below: float
    tested: date | None
    unsettled: str
    last: bool
    invasive: str


def past_viability(bank: Bank, chance: float) -> list[Past]:
    """Return the vials below the line with at least this chance, in walking order."""
    found = rows(
        bank,
        f"""SELECT vial.id, chance_below, tested, unsettled, clone_good, taxon.invasive_note
           FROM {BY_OUTLOOK} JOIN batch ON batch.id = vial.batch_id
               JOIN clone ON clone.id = batch.clone_id JOIN taxon ON taxon.id = clone.taxon_id
               LEFT JOIN place ON place.id = vial.place_id
           WHERE {past(chance)} AND vial.void = 0 AND vial.culled_on IS NULL
           ORDER BY place.path_key, vial.slot""",
        chance,
    )
    shown = vials_by_id(bank, [row[0] for row in found])
    return [
        Past(vial, row[1], reading.day(row[2]), row[3], row[4] == 0, row[5])
        for vial, row in zip(shown, found, strict=True)
    ]
