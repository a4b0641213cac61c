"""Contacts, requests and what they may be filled from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries import reading
from sporebank.bank.queries.vials import spot, vials_by_id, walk_key
from sporebank.bank.sql import GOOD, any_holds, numbers, one, rows
from sporebank.core.records import Contact, Fate, Line, Packet, Request, RequestState, VialRow

_CONTACT = """contact.id, contact.name, contact.organisation, contact.address, contact.country, contact.email,
    contact.note"""


def contacts(bank: Bank, text: str = "") -> list[Contact]:
    """Return the contacts whose name, organisation or country holds a text, by name; nobody who was forgotten."""
    test, values = any_holds(("name", text), ("organisation", text), ("country", text))
    here = f"void = 0 AND forgotten_on IS NULL AND {test}"
    sql = f"SELECT {_CONTACT} FROM contact WHERE {here} ORDER BY name COLLATE NOCASE"
    return [Contact(*row) for row in rows(bank, sql, *values)]


def contact(bank: Bank, contact_id: int) -> Contact:
    """Return one contact."""
    return Contact(*rows(bank, f"SELECT {_CONTACT} FROM contact WHERE id = ?", contact_id)[0])


def requests(bank: Bank, *states: RequestState) -> list[Request]:
    """Return the requests in these states (all where none is named), the oldest open one first.

    Orders of an exchange are among them once packets are held back for them, and stay when their parcel never arrived.
    """
    test = f"request.state IN ({', '.join('?' * len(states))})" if states else "TRUE"
    shown = "(request.exchange_id IS NULL OR request.state IN ('filled', 'sent') OR parcel.dispatched_on IS NOT NULL)"
    return _requests(bank, f"{test} AND {shown}", *(state.value for state in states))


def request(bank: Bank, request_id: int) -> Request:
    """Return one request."""
    return _requests(bank, "request.id = ?", request_id)[0]


def _requests(bank: Bank, test: str, *values: object) -> list[Request]:
    sql = f"""SELECT request.id, received_on, state, request.note, parcel.id, parcel.code, parcel.dispatched_on,
            parcel.closed_on, parcel.gap, parcel.fate, parcel.fate_on,
            (SELECT name FROM exchange WHERE exchange.id = request.exchange_id), {_CONTACT}
        FROM request JOIN contact ON contact.id = request.contact_id
            LEFT JOIN parcel ON parcel.request_id = request.id AND parcel.void = 0
        WHERE request.void = 0 AND {test} ORDER BY received_on, request.id"""
    found = rows(bank, sql, *values)
    lines = _lines(bank, [row[0] for row in found])
    return [_request(row, lines.get(row[0], [])) for row in found]


def request_by_parcel(bank: Bank, code: str) -> int | None:
    """Return the request that the code of a parcel, or of a packet in it, belongs to."""
    sql = """SELECT request_id FROM parcel WHERE code = ? AND void = 0 UNION ALL
        SELECT parcel.request_id FROM packet JOIN parcel ON parcel.id = packet.parcel_id
        WHERE packet.code = ? AND packet.void = 0"""
    found = one(bank, sql, code, code)
    return None if found is None else int(found[0])


def _request(row: tuple[Any, ...], lines: list[Line]) -> Request:
    received = reading.day(row[1])
    assert received is not None
    return Request(
        id=row[0],
        contact=Contact(*row[12:]),
        received_on=received,
        state=RequestState(row[2]),
        note=row[3],
        lines=tuple(lines),
        parcel_id=row[4],
        parcel=row[5] or "",
        dispatched_on=reading.day(row[6]),
        packed_on=reading.day(row[7]),
        gap=row[8] or "",
        fate=Fate(row[9] or ""),
        fate_on=reading.day(row[10]),
        exchange=row[11] or "",
    )


def _lines(bank: Bank, request_ids: list[int]) -> dict[int, list[Line]]:
    found = rows(
        bank,
        f"""SELECT line.request_id, line.id, line.rank, taxon.name, taxon.id, line.clone_id, clone.code, line.packets,
                line.packet_ug, line.unmet
            FROM line LEFT JOIN clone ON clone.id = line.clone_id
            JOIN taxon ON taxon.id = COALESCE(line.taxon_id, clone.taxon_id)
            WHERE line.request_id IN {numbers(request_ids)} AND line.void = 0
                AND (line.alternative = 0 OR line.allotted > 0)
            ORDER BY line.request_id, line.alternative, line.rank""",
    )
    packets = _packets(bank, [row[1] for row in found])
    lines: dict[int, list[Line]] = {}
    for request_id, line_id, rank, name, taxon_id, clone_id, clone, wanted, size, unmet in found:
        line = Line(
            id=line_id,
            rank=rank,
            name=reading.name(name),
            taxon_id=taxon_id,
            clone_id=clone_id,
            clone=clone or "",
            packets=wanted,
            packet_ug=size,
            unmet=unmet,
            filled=tuple(packets.get(line_id, [])),
        )
        lines.setdefault(request_id, []).append(line)
    return lines


def _packets(bank: Bank, line_ids: list[int]) -> dict[int, list[Packet]]:
    found = rows(
        bank,
        f"""SELECT packet.id, packet.line_id, packet.parcel_id, vial.id, vial.code, place.path, place.path_key,
                vial.slot, place.columns, packet.micrograms, packet.code, packet.packed
            FROM packet JOIN vial ON vial.id = packet.vial_id LEFT JOIN place ON place.id = vial.place_id
            WHERE packet.line_id IN {numbers(line_ids)} AND packet.void = 0 ORDER BY packet.id""",
    )
    packets: dict[int, list[Packet]] = {}
    for packet_id, line_id, parcel_id, vial_id, vial, path, key, slot, columns, micrograms, code, packed in found:
        where, key_of_walk = spot(path, slot, columns), walk_key(key, slot)
        packet = Packet(
            packet_id, line_id, parcel_id, vial_id, vial, where, key_of_walk, micrograms, code, bool(packed)
        )
        packets.setdefault(line_id, []).append(packet)
    return packets


def wishes_for(bank: Bank, taxon_id: int) -> list[int]:
    """Return the lines, of requests in any state, that wish for this taxon."""
    sql = "SELECT id FROM line WHERE taxon_id = ? AND void = 0 ORDER BY id"
    return [int(row[0]) for row in rows(bank, sql, taxon_id)]


def reserved(bank: Bank, beside: int | None = None) -> dict[int, int]:
    """Return the micrograms held back per vial for parcels not yet dispatched, one parcel left out of the count."""
    found = rows(
        bank,
        """SELECT packet.vial_id, SUM(packet.micrograms) FROM packet JOIN parcel ON parcel.id = packet.parcel_id
           WHERE packet.void = 0 AND parcel.void = 0 AND parcel.dispatched_on IS NULL AND parcel.id IS NOT ?
           GROUP BY packet.vial_id""",
        beside,
    )
    return {int(vial_id): int(micrograms) for vial_id, micrograms in found}


def clone_spare(bank: Bank, clone_ids: Sequence[int], beside: int | None = None) -> dict[int, int]:
    """Return, per clone, the micrograms in its good vials that no parcel holds back, beside one parcel."""
    held = reserved(bank, beside)
    spare: dict[int, int] = dict.fromkeys(clone_ids, 0)
    sql = f"""SELECT batch.clone_id, vial.id, vial.left FROM vial JOIN batch ON batch.id = vial.batch_id
        LEFT JOIN figure ON figure.vial_id = vial.id LEFT JOIN outlook ON outlook.id = figure.outlook_id
        WHERE batch.clone_id IN {numbers(spare)} AND vial.void = 0 AND {GOOD}"""
    for clone_id, vial_id, left in rows(bank, sql, bank.settings.cull_chance):
        spare[clone_id] += left - held.get(vial_id, 0)
    return spare


def candidates(bank: Bank, taxon_id: int, clone_id: int | None) -> list[tuple[VialRow, str, str]]:
    """Return the vials of a taxon (or of one clone of it), the oldest spore first.

    Each with the clone's permission, and with what befell it since it was tested.
    """
    narrower = "" if clone_id is None else f" AND clone.id = {int(clone_id)}"
    found = rows(
        bank,
        f"""SELECT vial.id, clone.permission, COALESCE(outlook.unsettled, '')
            FROM vial JOIN batch ON batch.id = vial.batch_id JOIN clone ON clone.id = batch.clone_id
                LEFT JOIN figure ON figure.vial_id = vial.id LEFT JOIN outlook ON outlook.id = figure.outlook_id
            WHERE clone.taxon_id = ?{narrower} AND vial.void = 0 AND vial.culled_on IS NULL AND vial.left > 0
            ORDER BY batch.collected, batch.id, vial.number""",
        taxon_id,
    )
    shown = vials_by_id(bank, [row[0] for row in found])
    return [(vial, row[1], row[2]) for vial, row in zip(shown, found, strict=True)]
