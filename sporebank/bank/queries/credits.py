"""What people paid, and what they were given that is paid for."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence

from sporebank.bank.bank import Bank
from sporebank.bank.sql import numbers, rows


def given(bank: Bank, exchange_ids: Sequence[int], contact_ids: Sequence[int]) -> list[tuple[int, int, int, str, int]]:
    """Return the orders of people in some exchanges, the oldest first.

    Each as its contact, itself, its exchange, the country it goes to, or went to on the record of that day, and the
    packets held or sent for it; what came back or was lost is not charged for.
    """
    moved = _moved(bank, contact_ids)
    found = rows(
        bank,
        f"""SELECT request.contact_id, request.id, request.exchange_id, contact.country, COUNT(packet.id), parcel.id
            FROM request JOIN contact ON contact.id = request.contact_id
            JOIN parcel ON parcel.request_id = request.id AND parcel.void = 0 AND parcel.fate = ''
            JOIN packet ON packet.parcel_id = parcel.id AND packet.void = 0
            WHERE request.exchange_id IN {numbers(exchange_ids)} AND request.contact_id IN {numbers(contact_ids)}
                AND request.void = 0
            GROUP BY request.id ORDER BY request.received_on, request.id""",
    )
    sent = _dispatches(bank, [row[5] for row in found if row[0] in moved])

    def country(contact_id: int, parcel_id: int, now: str) -> str:
        since = [before for event_id, before in moved.get(contact_id, ()) if event_id > sent.get(parcel_id, event_id)]
        return since[0] if since else now

    return [(row[0], row[1], row[2], country(row[0], row[5], row[3]), row[4]) for row in found]


def _moved(bank: Bank, contact_ids: Sequence[int]) -> dict[int, list[tuple[int, str]]]:
    """Return the deeds that gave people another country, in their order, each with the country before."""
    found: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for contact_id, event_id, *texts in rows(
        bank,
        f"""SELECT row_id, event_id, before, after FROM entry
            WHERE kind = 'contact' AND row_id IN {numbers(contact_ids)} AND before IS NOT NULL ORDER BY id""",
    ):
        before, after = map(json.loads, texts)
        if before.get("country") != after.get("country"):
            found[contact_id].append((event_id, before["country"]))
    return found


def _dispatches(bank: Bank, parcel_ids: Sequence[int]) -> dict[int, int]:
    """Return the deed that dispatched each of these parcels, as far as they are sent."""
    found: dict[int, int] = {}
    for parcel_id, event_id, after in rows(
        bank,
        f"""SELECT row_id, event_id, after FROM entry
            WHERE kind = 'parcel' AND row_id IN {numbers(parcel_ids)} AND before IS NOT NULL ORDER BY id""",
    ):
        values = json.loads(after)
        if values.get("dispatched_on") is not None:
            found[parcel_id] = event_id
        elif "dispatched_on" in values:  # the dispatch was taken back
            found.pop(parcel_id, None)
    return found


def paid(bank: Bank, exchange_ids: Sequence[int], contact_ids: Sequence[int]) -> dict[int, int]:
    """Return what people paid for orders of some exchanges, in hundredths, refunds taken off."""
    found = rows(
        bank,
        f"""SELECT credit.contact_id, SUM(credit.cents) FROM credit JOIN request ON request.id = credit.request_id
            WHERE credit.void = 0 AND request.exchange_id IN {numbers(exchange_ids)}
                AND credit.contact_id IN {numbers(contact_ids)} GROUP BY credit.contact_id""",
    )
    return {int(contact_id): int(cents) for contact_id, cents in found}


def people(bank: Bank, exchange_id: int) -> list[int]:
    """Return everybody with a parcel in an exchange."""
    sql = """SELECT DISTINCT request.contact_id FROM request JOIN parcel ON parcel.request_id = request.id
        WHERE request.exchange_id = ? AND request.void = 0 AND parcel.void = 0"""
    return [int(row[0]) for row in rows(bank, sql, exchange_id)]
