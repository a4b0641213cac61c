"""Parcels and the packets in them, as they are packed."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.sql import one, rows
from sporebank.core.packing import Parcel
from sporebank.core.records import Fate

_PARCELS = """SELECT request.id, parcel.code, contact.name, contact.country, COUNT(packet.id),
        COALESCE(SUM(packet.packed), 0), parcel.closed_on, parcel.gap, parcel.dispatched_on, parcel.fate, parcel.fate_on
    FROM parcel JOIN request ON request.id = parcel.request_id JOIN contact ON contact.id = request.contact_id
    LEFT JOIN packet ON packet.parcel_id = parcel.id AND packet.void = 0
    WHERE parcel.void = 0 AND request.void = 0"""


@dataclass(frozen=True)
class Belonging:
    """A packet by its code, and where it belongs; `given_up` where it belongs nowhere any more."""

    packet_id: int
    request_id: int
    parcel: str
    who: str
    given_up: bool


@dataclass(frozen=True)
class Picked:
    """A packet that is still to be taken out of its vial, with the code of its parcel and the rank of its line."""

    packet_id: int
    vial_id: int
    micrograms: int
    parcel: str
    rank: int
    request_id: int


def packet_by_code(bank: Bank, code: str) -> Belonging | None:
    """Return the packet that carries a code, also one that was given up."""
    found = one(
        bank,
        """SELECT packet.id, parcel.request_id, parcel.code, contact.name, packet.void OR parcel.void
           FROM packet JOIN parcel ON parcel.id = packet.parcel_id JOIN request ON request.id = parcel.request_id
           JOIN contact ON contact.id = request.contact_id WHERE packet.code = ?""",
        code,
    )
    if found is None:
        return None
    packet_id, request_id, parcel, who, given_up = found
    return Belonging(packet_id, request_id, parcel, who, bool(given_up))


def parcels(bank: Bank, exchange_id: int) -> list[Parcel]:
    """Return the parcels of an exchange in the stored order of its orders, whatever became of them."""
    return _parcels(bank, "request.exchange_id = ?", exchange_id)


def plain_parcels(bank: Bank) -> list[Parcel]:
    """Return the parcels of requests beside every exchange, the oldest first."""
    return _parcels(bank, "request.exchange_id IS NULL")


def parcel(bank: Bank, request_id: int) -> Parcel:
    """Return the parcel of a request, which has one."""
    return _parcels(bank, "request.id = ?", request_id)[0]


def _parcels(bank: Bank, test: str, *values: object) -> list[Parcel]:
    sql = f"{_PARCELS} AND {test} GROUP BY parcel.id ORDER BY request.place, request.received_on, request.id"
    return [_parcel(row) for row in rows(bank, sql, *values)]


def _parcel(row: tuple[Any, ...]) -> Parcel:
    request_id, parcel, who, country, packets, packed, closed, gap, sent, fate, fate_on = row
    return Parcel(
        request_id=request_id,
        code=parcel,
        who=who,
        country=country,
        packets=packets,
        packed=packed,
        packed_on=reading.day(closed),
        gap=gap,
        sent_on=reading.day(sent),
        fate=Fate(fate),
        fate_on=reading.day(fate_on),
    )


def to_pick(bank: Bank, exchange_id: int | None) -> list[Picked]:
    """Return the packets that are still to be packed: of an exchange, or of all requests beside exchanges."""
    found = rows(
        bank,
        """SELECT packet.id, packet.vial_id, packet.micrograms, parcel.code, line.rank, request.id
           FROM packet JOIN parcel ON parcel.id = packet.parcel_id JOIN line ON line.id = packet.line_id
           JOIN request ON request.id = parcel.request_id
           WHERE request.exchange_id IS ? AND packet.void = 0 AND packet.packed = 0 AND parcel.void = 0
               AND parcel.closed_on IS NULL AND parcel.dispatched_on IS NULL AND request.void = 0
           ORDER BY request.place, request.id, line.rank, packet.id""",
        exchange_id,
    )
    return [Picked(*row) for row in found]


def offerings_of(bank: Bank, request_id: int) -> dict[int, tuple[int, int]]:
    """Return, per line of its list, how many packets that has and how many of them are in the parcel of an order."""
    found = rows(
        bank,
        """SELECT offering.id, offering.packets, COUNT(*) FROM packet JOIN line ON line.id = packet.line_id
           JOIN offering ON offering.id = line.offering_id
           WHERE line.request_id = ? AND packet.void = 0 GROUP BY offering.id""",
        request_id,
    )
    return {int(row[0]): (int(row[1]), int(row[2])) for row in found}


def before_closing(bank: Bank, parcel_id: int) -> dict[int, tuple[int, str]]:
    """Return what the deed that closed a parcel took from lines of an order, as it was before it.

    Each line with how many packets it was allotted, and why it was not met.
    """
    closed = 0
    for event_id, *texts in rows(
        bank,
        """SELECT event_id, before, after FROM entry
           WHERE kind = 'parcel' AND row_id = ? AND before IS NOT NULL ORDER BY id""",
        parcel_id,
    ):
        before, after = map(json.loads, texts)
        if before.get("closed_on") is None and after.get("closed_on") is not None:
            closed = event_id
    found: dict[int, tuple[int, str]] = {}
    sql = "SELECT row_id, before FROM entry WHERE kind = 'line' AND event_id = ? ORDER BY id"
    for line_id, text in rows(bank, sql, closed):
        values = json.loads(text)
        if values.get("allotted") is not None:
            found.setdefault(int(line_id), (int(values["allotted"]), str(values["unmet"])))
    return found


def allotted_of(bank: Bank, request_id: int) -> dict[int, int]:
    """Return how many packets the lines of an order were allotted, as far as they were."""
    sql = "SELECT id, allotted FROM line WHERE request_id = ? AND void = 0 AND allotted IS NOT NULL"
    return {int(line_id): int(count) for line_id, count in rows(bank, sql, request_id)}
