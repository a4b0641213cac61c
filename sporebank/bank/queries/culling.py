"""Vials past viability."""

from __future__ import annotations

from datetime import date

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.queries.vials import vials_by_id
from sporebank.bank.sql import rows
from sporebank.core.records import VialRow


def past_viability(bank: Bank, chance: float) -> list[tuple[VialRow, float, date | None, bool, str]]:
    """Return the vials below the line with at least this chance, in walking order.

    Each with the chance, the day of the last test of its batch that was not left out, whether no vial of its clone
    would be left without those on this list, and the taxon's invasive note.
    """
    found = rows(
        bank,
        """WITH past AS (
               SELECT vial.id, batch.id AS batch_id, batch.clone_id, figure.chance_below
               FROM figure JOIN vial ON vial.id = figure.vial_id JOIN batch ON batch.id = vial.batch_id
               WHERE figure.chance_below >= ? AND vial.void = 0 AND vial.culled_on IS NULL)
           SELECT past.id, past.chance_below,
               (SELECT MAX(counted_on) FROM test WHERE test.batch_id = past.batch_id AND test.void = 0
                   AND test.left_out = ''),
               NOT EXISTS (SELECT 1 FROM vial AS other JOIN batch AS kin ON kin.id = other.batch_id
                   WHERE kin.clone_id = past.clone_id AND other.void = 0 AND other.culled_on IS NULL AND other.left > 0
                       AND other.id NOT IN (SELECT id FROM past)),
               taxon.invasive_note
           FROM past JOIN clone ON clone.id = past.clone_id JOIN taxon ON taxon.id = clone.taxon_id
               JOIN vial ON vial.id = past.id LEFT JOIN place ON place.id = vial.place_id
           ORDER BY place.path_key, vial.slot""",
        chance,
    )
    shown = vials_by_id(bank, [row[0] for row in found])
    return [(vial, row[1], reading.day(row[2]), bool(row[3]), row[4]) for vial, row in zip(shown, found, strict=True)]
