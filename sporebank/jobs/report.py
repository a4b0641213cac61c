"""The batch report, gathered from the bank."""

from __future__ import annotations

from collections.abc import Sequence

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core import advice
from sporebank.core.advice import Lines
from sporebank.core.errors import Refusal
from sporebank.core.germination import regenerate_below
from sporebank.core.records import Test, VialRow
from sporebank.core.report import BatchReport, VialReport
from sporebank.core.tolerance import agreement
from sporebank.formats.tables import load_tolerance
from sporebank.jobs.cards import vial_card


def batch_report(bank: Bank, batch_id: int, vial_id: int | None = None) -> BatchReport:
    """Return all that is known of a batch, with the decline of one vial, or of the first.

    Raises:
        Refusal: the batch has no vial, and so nothing of which a decline could be told.
    """
    vials = queries.batch_vials(bank, batch_id, culled=True)
    if not vials:
        raise Refusal("This batch has no vials, so there is nothing to report.")
    shown = vials[0].id if vial_id is None else vial_id
    card, table, settings = vial_card(bank, shown), load_tolerance(), bank.settings
    parent = card.batch.clone.parent_id
    return BatchReport(
        bank=bank.name,
        on=bank.today(),
        batch=card.batch,
        forecast=card.forecast,
        contributions=card.contributions,
        advice=card.advice,
        state=advice.state(card.forecast.share, Lines(settings.alive_line, settings.cull_line)),
        chart=card.chart,
        tests=tuple((test, agreement(test.replicates, table)) for test in card.tests),
        renew_below=_renew_below(card.tests),
        sowings=tuple(queries.sowings_of(bank, batch_id)),
        vials=_vials(bank, vials),
        raised_from=queries.clone(bank, parent).code if parent else "",
    )


def _renew_below(tests: Sequence[Test]) -> int:
    """Return the percentage below which the batch is to be renewed, by its first test that counts."""
    first = next((test for test in tests if not test.left_out), None)
    return regenerate_below(round(100 * first.germinated / first.sown)) if first else 0


def _vials(bank: Bank, vials: list[VialRow]) -> tuple[VialReport, ...]:
    ids = [row.id for row in vials]
    stays, befell = queries.stays(bank, ids), queries.mishaps(bank, ids)
    return tuple(VialReport(row, stays[row.id], befell.get(row.id, ()), queries.ledger(bank, row.id)) for row in vials)
