"""Labels that wait, labels that were printed, and what they are printed on."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.sql import marks, numbers, rows

#: What carries a label of each kind: its rows that are still there, by id, in the order of their places, then codes.
_THERE = {
    "vial": """SELECT vial.id FROM vial LEFT JOIN place ON place.id = vial.place_id
        WHERE vial.void = 0 AND vial.culled_on IS NULL
        ORDER BY place.path_key IS NULL, place.path_key, vial.slot, vial.code""",
    "pot": "SELECT id FROM pot WHERE void = 0 ORDER BY sowing_id, number",
    "packet": """SELECT packet.id FROM packet JOIN parcel ON parcel.id = packet.parcel_id
        JOIN vial ON vial.id = packet.vial_id LEFT JOIN place ON place.id = vial.place_id
        WHERE packet.void = 0 AND parcel.void = 0 AND parcel.dispatched_on IS NULL
        ORDER BY place.path_key IS NULL, place.path_key, vial.slot, vial.code, packet.parcel_id, packet.id""",
    "batch": "SELECT id FROM batch WHERE void = 0 ORDER BY code",
    "place": "SELECT id FROM place WHERE void = 0 ORDER BY path_key",
    "contact": "SELECT id FROM contact WHERE void = 0 ORDER BY name, id",
    "request": "SELECT id FROM request WHERE void = 0 ORDER BY id",
}


@dataclass(frozen=True)
class PrintRun:
    """Labels printed together; `next_cell` counts from 0, the first free label of the last sheet."""

    id: int
    on: date
    kind: str
    count: int
    layout: str
    sheet: str
    first_cell: int
    next_cell: int
    copies: int


@dataclass(frozen=True)
class Own:
    """A layout or a sheet of the keeper's own as plain values; `kind` is that of a layout."""

    id: int
    name: str
    kind: str
    value: dict[str, Any]


@dataclass(frozen=True)
class OwnPrinter:
    """A printer and how it has to be put right, in mm and as scales."""

    id: int
    name: str
    across: float
    down: float
    scale_x: float
    scale_y: float
    dpi: int


def waiting(bank: Bank, thing: str, kinds: Sequence[str]) -> list[int]:
    """Return the things of a table whose label, of any of these kinds, waits to be printed, place by place."""
    return still_there(bank, thing, waiting_rows(bank, kinds))


def still_there(bank: Bank, thing: str, ids: Collection[int]) -> list[int]:
    """Return those things of a table that may carry a label, place by place."""
    return [row[0] for row in rows(bank, _THERE[thing]) if row[0] in ids] if ids else []


def waiting_rows(bank: Bank, kinds: Sequence[str], ids: Sequence[int] | None = None) -> dict[int, int]:
    """Return the labels of these kinds that wait (for some things alone), by the thing they are for."""
    narrower = "" if ids is None else f" AND target_id IN {numbers(ids)}"
    sql = f"""SELECT target_id, id FROM label
        WHERE printing_id IS NULL AND void = 0 AND kind IN {marks(kinds)}{narrower}"""
    return {int(target): int(label) for target, label in rows(bank, sql, *kinds)}


def runs(bank: Bank, limit: int = 500) -> list[PrintRun]:
    """Return the print runs, the latest first."""
    found = rows(
        bank,
        """SELECT printing.id, on_day, MIN(label.kind), COUNT(*), layout, sheet, first_cell, next_cell, copies
           FROM printing JOIN label ON label.printing_id = printing.id AND label.void = 0
           WHERE printing.void = 0 GROUP BY printing.id ORDER BY printing.id DESC LIMIT ?""",
        limit,
    )
    return [PrintRun(row[0], date.fromisoformat(row[1]), *row[2:]) for row in found]


def printed_in(bank: Bank, run_id: int) -> list[int]:
    """Return the things whose labels were printed in a run."""
    sql = "SELECT target_id FROM label WHERE printing_id = ? AND void = 0 ORDER BY id"
    return [int(row[0]) for row in rows(bank, sql, run_id)]


def next_cells(bank: Bank) -> dict[str, int]:
    """Return the first free label, from 0, of every sheet printed on before, as its last run left it."""
    sql = "SELECT sheet, next_cell FROM printing WHERE void = 0 ORDER BY id"
    return {str(sheet): int(cell) for sheet, cell in rows(bank, sql)}


def own_layouts(bank: Bank) -> list[Own]:
    """Return the keeper's own layouts by name."""
    sql = "SELECT id, name, kind, value FROM layout WHERE void = 0 ORDER BY name COLLATE NOCASE"
    return [Own(row[0], row[1], row[2], json.loads(row[3])) for row in rows(bank, sql)]


def own_sheets(bank: Bank) -> list[Own]:
    """Return the keeper's own sheets by name."""
    sql = "SELECT id, name, value FROM sheet WHERE void = 0 ORDER BY name COLLATE NOCASE"
    return [Own(row[0], row[1], "", json.loads(row[2])) for row in rows(bank, sql)]


def printers(bank: Bank) -> list[OwnPrinter]:
    """Return the keeper's printers by name."""
    sql = """SELECT id, name, across_mm, down_mm, scale_x, scale_y, dpi FROM printer
        WHERE void = 0 ORDER BY name COLLATE NOCASE"""
    return [OwnPrinter(*row) for row in rows(bank, sql)]


def pots(bank: Bank, pot_ids: Sequence[int]) -> list[tuple[str, int]]:
    """Return `(code, sowing)` of pots, in the order of their sowings."""
    sql = f"SELECT code, sowing_id FROM pot WHERE id IN {numbers(pot_ids)} ORDER BY sowing_id, number"
    return [(str(code), int(sowing)) for code, sowing in rows(bank, sql)]


def pots_of(bank: Bank, sowing_id: int) -> list[int]:
    """Return the pots of a sowing."""
    sql = "SELECT id FROM pot WHERE sowing_id = ? AND void = 0 ORDER BY number"
    return [int(row[0]) for row in rows(bank, sql, sowing_id)]


def packets_walked(bank: Bank, packet_ids: Sequence[int]) -> list[int]:
    """Return packets in the order in which one walks past their vials."""
    sql = f"""SELECT packet.id FROM packet JOIN vial ON vial.id = packet.vial_id
        LEFT JOIN place ON place.id = vial.place_id WHERE packet.id IN {numbers(packet_ids)}
        ORDER BY place.path_key IS NULL, place.path_key, vial.slot, vial.code, packet.parcel_id, packet.id"""
    return [int(row[0]) for row in rows(bank, sql)]


def packet_requests(bank: Bank, packet_ids: Sequence[int]) -> list[int]:
    """Return the requests that packets are for, each once, in order."""
    sql = f"""SELECT DISTINCT parcel.request_id FROM packet JOIN parcel ON parcel.id = packet.parcel_id
        WHERE packet.id IN {numbers(packet_ids)} ORDER BY parcel.request_id"""
    return [int(row[0]) for row in rows(bank, sql)]
