"""What an order of an exchange is checked against: its exchange, what its person gave and had, its place."""

from __future__ import annotations

from sporebank.bank.bank import Bank
from sporebank.bank.queries.exchanges import COUNTS, placed
from sporebank.bank.sql import one, rows
from sporebank.core.exchange import Placed

#: Whether a request was closed before anything was shared out for it: it was taken back.
_WITHDRAWN = """request.void = 0 AND request.state = 'closed' AND NOT EXISTS (SELECT 1 FROM line AS had
    WHERE had.request_id = request.id AND had.void = 0 AND had.allotted IS NOT NULL)"""


def exchange_of(bank: Bank, request_id: int) -> int | None:
    """Return the exchange that a request belongs to."""
    found = one(bank, "SELECT exchange_id FROM request WHERE id = ?", request_id)
    return None if found is None or found[0] is None else int(found[0])


def last_place(bank: Bank, exchange_id: int) -> int:
    """Return the last place that was given to an order of an exchange, 0 where there is none."""
    found = one(bank, "SELECT COALESCE(MAX(place), 0) FROM request WHERE exchange_id = ?", exchange_id)
    assert found is not None  # an aggregate always has a row
    return int(found[0])


def donors(bank: Bank, exchange_id: int) -> frozenset[int]:
    """Return the contacts that gave to an exchange."""
    sql = "SELECT DISTINCT contact_id FROM donation WHERE exchange_id = ? AND void = 0"
    return frozenset(int(row[0]) for row in rows(bank, sql, exchange_id))


def had_in_year(bank: Bank, exchange_id: int, year: int) -> dict[int, dict[int, int]]:
    """Return, per contact, the packets of each order received in a year: allotted ones, or asked for until then.

    An order that was closed counts with what had been sent to it, unless that came back or was lost.
    """
    found = rows(
        bank,
        f"""SELECT request.contact_id, request.id, SUM(CASE
                WHEN line.allotted IS NOT NULL THEN line.allotted WHEN line.alternative THEN 0 ELSE line.packets END)
            FROM request JOIN line ON line.request_id = request.id AND line.void = 0
            WHERE request.exchange_id = ? AND substr(request.received_on, 1, 4) = ? AND {COUNTS}
            GROUP BY request.id""",
        exchange_id,
        f"{year:04d}",
    )
    had: dict[int, dict[int, int]] = {}
    for contact_id, request_id, packets in found:
        had.setdefault(contact_id, {})[request_id] = int(packets)
    return had


def is_allotted(bank: Bank, request_id: int) -> bool:
    """Return whether packets were shared out, or are held back, for an order."""
    sql = """SELECT EXISTS (SELECT 1 FROM line WHERE request_id = ? AND void = 0 AND allotted IS NOT NULL)
        OR EXISTS (SELECT 1 FROM parcel WHERE request_id = ? AND void = 0)"""
    found = one(bank, sql, request_id, request_id)
    return bool(found and found[0])


def withdrawn(bank: Bank, exchange_id: int) -> list[Placed]:
    """Return the orders of an exchange that were taken back, as they were."""
    return placed(bank, exchange_id, _WITHDRAWN)


def hands(bank: Bank, request_id: int) -> dict[int, int]:
    """Return the rows that pin lines of the list to a request or bar them from it, by the offering."""
    sql = "SELECT offering_id, id FROM pin WHERE request_id = ? AND void = 0"
    return {int(offering_id): int(row_id) for offering_id, row_id in rows(bank, sql, request_id)}


def line_ids(bank: Bank, request_id: int) -> list[int]:
    """Return the lines of a request."""
    return [int(row[0]) for row in rows(bank, "SELECT id FROM line WHERE request_id = ? AND void = 0", request_id)]


def allotted(bank: Bank, exchange_id: int) -> dict[int, int]:
    """Return how many packets each order of an exchange was allotted; those not shared out yet are not among them."""
    found = rows(
        bank,
        f"""SELECT line.request_id, SUM(line.allotted) FROM line JOIN request ON request.id = line.request_id
            WHERE request.exchange_id = ? AND {COUNTS} AND line.void = 0 AND line.allotted IS NOT NULL
            GROUP BY line.request_id""",
        exchange_id,
    )
    return {int(request_id): int(packets) for request_id, packets in found}
