"""What is due, from the figures last computed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import BY_OUTLOOK, numbers, one, past, rows
from sporebank.core.records import Due, Share, SporeClass

_ALIVE = f"""FROM {BY_OUTLOOK} JOIN batch ON batch.id = vial.batch_id
    JOIN clone ON clone.id = batch.clone_id JOIN taxon ON taxon.id = clone.taxon_id
    WHERE vial.void = 0 AND vial.culled_on IS NULL AND vial.left > 0"""


def _by_batch(bank: Bank, kind: str, day: str, test: str, *values: object, limit: int = 500) -> list[Due]:
    found = rows(
        bank,
        f"""SELECT taxon.name, clone.code, MIN({day}), COUNT(*), batch.id {_ALIVE} AND {test}
            GROUP BY batch.id ORDER BY 3, taxon.sort_key, batch.id LIMIT ?""",
        *values,
        limit,
    )
    dues = []
    for name, clone, when, vials, batch_id in found:
        on = reading.day(when)
        assert on is not None
        dues.append(Due(kind, reading.name(name), clone, on, vials, batch_id))
    return dues


def tests_due(bank: Bank, until: date) -> list[Due]:
    """Return the batches whose next test falls due by a day, the longest overdue first."""
    return _by_batch(bank, "test", "outlook.next_test", "outlook.next_test <= ?", until.isoformat())


def bands(bank: Bank, batch_ids: Sequence[int]) -> dict[int, Share]:
    """Return the share alive of the most alive vial with spore of each of these batches, where it is modelled."""
    found = rows(
        bank,
        f"""SELECT batch.id, low, MAX(middle), high {_ALIVE} AND middle IS NOT NULL
                AND outlook.batch_id IN {numbers(batch_ids)} GROUP BY batch.id""",
    )
    return {batch_id: Share(low, middle, high) for batch_id, low, middle, high in found}


def crossing(bank: Bank, since: date, until: date) -> list[Due]:
    """Return the batches with vials that likely cross the line between two days."""
    test = "outlook.crosses > ? AND outlook.crosses <= ? AND batch.spore_class <> ?"
    values = (since.isoformat(), until.isoformat(), SporeClass.GREEN.value)
    return _by_batch(bank, "crossing", "outlook.crosses", test, *values)


def green_expiring(bank: Bank, since: date, until: date) -> list[Due]:
    """Return the batches of green spore that likely cross the line between two days."""
    test = "outlook.crosses > ? AND outlook.crosses <= ? AND batch.spore_class = ?"
    values = (since.isoformat(), until.isoformat(), SporeClass.GREEN.value)
    return _by_batch(bank, "green", "outlook.crosses", test, *values)


def green_late(bank: Bank, since: date, until: date, chance: float) -> list[Due]:
    """Return the batches of green spore that likely crossed the line between two days and are not yet for the cull."""
    test = "outlook.crosses > ? AND outlook.crosses <= ? AND batch.spore_class = ? AND outlook.chance_below < ?"
    values = (since.isoformat(), until.isoformat(), SporeClass.GREEN.value, chance)
    return _by_batch(bank, "late", "outlook.crosses", test, *values)


def waiting_requests(bank: Bank) -> list[Due]:
    """Return the requests not yet sent, the oldest first."""
    found = rows(
        bank,
        """SELECT contact.name, request.received_on, request.id FROM request
           JOIN contact ON contact.id = request.contact_id
           WHERE request.state IN ('open', 'filled') AND request.void = 0
               AND (request.exchange_id IS NULL OR request.state = 'filled')
           ORDER BY request.received_on, request.id""",
    )
    dues = []
    for who, received, request_id in found:
        on = reading.day(received)
        assert on is not None
        dues.append(Due("request", None, who, on, request_id=request_id))
    return dues


def cull_count(bank: Bank, chance: float) -> int:
    """Return how many vials are past viability."""
    found = one(
        bank,
        f"""SELECT COUNT(*) FROM {BY_OUTLOOK}
           WHERE {past(chance)} AND vial.void = 0 AND vial.culled_on IS NULL""",
        chance,
    )
    assert found is not None
    return int(found[0])
