"""The place tree, its conditions and its free slots."""

from __future__ import annotations

from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.queries.vials import vials_by_id
from sporebank.bank.sql import one, rows
from sporebank.core.records import Place, PlaceKind, VialRow

_COLUMNS = "id, code, parent_id, kind, name, temperature, humidity, rows, columns"


def _place(row: tuple[Any, ...]) -> Place:
    return Place(row[0], row[1], row[2], PlaceKind(row[3]), *row[4:])


def places(bank: Bank) -> list[tuple[Place, str, int]]:
    """Return the whole tree as one walks it: each place with its path and the number of vials right in it."""
    found = rows(
        bank,
        f"""SELECT {_COLUMNS}, path, (SELECT COUNT(*) FROM vial WHERE vial.place_id = place.id AND vial.void = 0)
            FROM place WHERE void = 0 ORDER BY path_key""",
    )
    return [(_place(row[:9]), str(row[9]), int(row[10])) for row in found]


def place(bank: Bank, place_id: int) -> tuple[Place, str]:
    """Return one place with its path."""
    row = rows(bank, f"SELECT {_COLUMNS}, path FROM place WHERE id = ?", place_id)[0]
    return _place(row[:9]), str(row[9])


def place_id_of_code(bank: Bank, code: str) -> int | None:
    """Return the place that carries a code."""
    found = one(bank, "SELECT id FROM place WHERE code = ? AND void = 0", code)
    return None if found is None else int(found[0])


def conditions(bank: Bank, place_id: int) -> tuple[float | None, float | None]:
    """Return the temperature (degrees Celsius) and humidity (% RH) met in a place: its own, or its nearest parent's."""
    found = rows(
        bank,
        """WITH RECURSIVE up (id, parent_id, temperature, humidity, step) AS (
               SELECT id, parent_id, temperature, humidity, 0 FROM place WHERE id = ?
               UNION ALL SELECT place.id, place.parent_id, place.temperature, place.humidity, step + 1
               FROM place JOIN up ON place.id = up.parent_id)
           SELECT temperature, humidity FROM up ORDER BY step""",
        place_id,
    )
    temperature = next((row[0] for row in found if row[0] is not None), None)
    humidity = next((row[1] for row in found if row[1] is not None), None)
    return temperature, humidity


def subtree(bank: Bank, place_id: int) -> list[int]:
    """Return a place and everything inside it, itself first."""
    found = rows(
        bank,
        """WITH RECURSIVE inside (id) AS (SELECT ? UNION ALL
           SELECT place.id FROM place JOIN inside ON place.parent_id = inside.id WHERE place.void = 0)
           SELECT id FROM inside""",
        place_id,
    )
    return [int(row[0]) for row in found]


def box_vials(bank: Bank, place_id: int) -> list[tuple[int | None, VialRow]]:
    """Return the vials right in a place, each with its slot, in the order of the slots."""
    sql = "SELECT slot, id FROM vial WHERE place_id = ? AND void = 0 ORDER BY slot, code"
    found = rows(bank, sql, place_id)
    shown = vials_by_id(bank, [row[1] for row in found])
    return list(zip([row[0] for row in found], shown, strict=True))


def free_slots(bank: Bank, count: int, near: int | None = None) -> list[tuple[int, int]]:
    """Return up to `count` free `(box, slot)` in walking order, beginning with the box `near` where one is named."""
    boxes = rows(
        bank,
        """WITH used AS (SELECT place_id, COUNT(*) AS slots FROM vial WHERE slot IS NOT NULL AND void = 0
               GROUP BY place_id)
           SELECT id, rows * columns FROM place LEFT JOIN used ON used.place_id = place.id
           WHERE void = 0 AND rows * columns > COALESCE(slots, 0) ORDER BY id <> ?, path_key""",
        near or 0,
    )
    free: list[tuple[int, int]] = []
    for box_id, size in boxes:
        sql = "SELECT slot FROM vial WHERE place_id = ? AND slot IS NOT NULL AND void = 0"
        taken = {row[0] for row in rows(bank, sql, box_id)}
        free.extend((box_id, slot) for slot in range(size) if slot not in taken)
        if len(free) >= count:
            break
    return free[:count]
