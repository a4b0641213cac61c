"""Vials, by the page and by the vial."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from datetime import date
from typing import Any

from sporebank.bank.bank import Bank
from sporebank.bank.paths import KEY_SEPARATOR
from sporebank.bank.queries import reading
from sporebank.bank.sql import BY_OUTLOOK, any_holds, numbers, one, rows
from sporebank.core import slots
from sporebank.core.records import (
    Advice,
    Basis,
    Movement,
    Reason,
    State,
    Stay,
    VialCounts,
    VialFilter,
    VialRow,
)

_JOINS = {
    "batch": "JOIN batch ON batch.id = vial.batch_id",
    "clone": "JOIN clone ON clone.id = batch.clone_id",
    "taxon": "JOIN taxon ON taxon.id = clone.taxon_id",
    "place": "LEFT JOIN place ON place.id = vial.place_id",
    "figure": "LEFT JOIN figure ON figure.vial_id = vial.id",
    "outlook": "LEFT JOIN outlook ON outlook.id = figure.outlook_id",
}
_LEADS_TO = {"taxon": "clone", "clone": "batch", "outlook": "figure"}

_JOINED = f"FROM vial {' '.join(_JOINS.values())}"

_COLUMNS = """vial.id, vial.code, taxon.id, taxon.name, taxon.verified, clone.id, clone.code, batch.id, batch.code,
    batch.collected, place.path, place.path_key, vial.slot, place.columns, vial.left, outlook.state, outlook.low,
    outlook.middle, outlook.high, outlook.crosses, figure.surplus, vial.note,
    vial.culled_on, figure.advice"""

#: What a column key sorts by. Ids are given out in the order of codes: they settle ties, so that no order wavers.
_ORDERS: dict[str, tuple[str, ...]] = {
    "code": (),
    "taxon": ("taxon.sort_key",),
    "clone": ("clone.sort_key",),
    "batch": ("batch.code",),
    "collected": ("batch.collected",),
    "place": ("place.path_key", "vial.slot"),
    "left": ("vial.left",),
    "alive": ("outlook.middle",),
    "state": ("outlook.state",),
    "crosses": ("outlook.crosses",),
    "advice": ("figure.advice",),
    "note": ("vial.note",),
}

_OF_STATE = "outlook.state = ?"
_IN_BANK = "vial.void = 0 AND vial.culled_on IS NULL"


def vials(bank: Bank, wanted: VialFilter, sort: str, descending: bool, offset: int, limit: int) -> list[VialRow]:
    """Return one page of the vials that a filter lets through, in order.

    The order itself is worked out once and remembered until something changes, so that a page costs one look-up
    by id however far down the table it lies.
    """
    order = _order(bank, wanted, sort, descending)
    return vials_by_id(bank, order[offset : offset + limit])


def vial_ids(bank: Bank, wanted: VialFilter, sort: str, descending: bool) -> list[int]:
    """Return the ids of all vials that a filter lets through, in order."""
    return list(_order(bank, wanted, sort, descending))


def _order(bank: Bank, wanted: VialFilter, sort: str, descending: bool) -> array[int]:
    key = (bank.revision, wanted, sort, descending)
    if bank.remembered is not None and bank.remembered[0] == key:
        return bank.remembered[1]
    where, values = _where(wanted)
    way = "DESC" if descending else "ASC"
    by = ", ".join(f"{column} {way} NULLS LAST" for column in (*_ORDERS[sort], "vial.id"))
    sql = f"SELECT vial.id {_tables(where + by)} WHERE {where} ORDER BY {by}"
    cursor = bank.database.execute_sql(sql, values)
    order = array("q", (row[0] for row in cursor))
    bank.remembered = (key, order)
    return order


def _tables(text: str) -> str:
    """Return the FROM clause with only the tables that a piece of SQL names: over a million vials each one tells."""
    needed = {name for name in _JOINS if f"{name}." in text}
    for name, other in _LEADS_TO.items():
        if name in needed:
            needed.add(other)
    first = "vial"
    if _OF_STATE in text:
        first, needed = BY_OUTLOOK, needed - {"figure", "outlook"}
    return f"FROM {first} {' '.join(join for name, join in _JOINS.items() if name in needed)}"


def vials_by_id(bank: Bank, ids: Sequence[int]) -> list[VialRow]:
    """Return these vials, in the order asked for."""
    found = rows(bank, f"SELECT {_COLUMNS} {_JOINED} WHERE vial.id IN {numbers(ids)}")
    by_id = {row[0]: row for row in found}
    return [_vial(by_id[one_id]) for one_id in ids if one_id in by_id]


def in_walking_order(bank: Bank, ids: Sequence[int]) -> list[VialRow]:
    """Return these vials as one meets them walking through the places once."""
    return sorted(vials_by_id(bank, ids), key=lambda row: (row.place_key, row.code))


def vial_row(bank: Bank, vial_id: int) -> VialRow:
    """Return one vial."""
    return vials_by_id(bank, [vial_id])[0]


def vial_id_of_code(bank: Bank, code: str) -> int | None:
    """Return the vial that carries a code."""
    found = one(bank, "SELECT id FROM vial WHERE code = ? AND void = 0", code)
    return None if found is None else int(found[0])


def vial_years(bank: Bank) -> list[int]:
    """Return the years in which spore now in the bank was collected, newest first."""
    found = rows(bank, "SELECT DISTINCT substr(collected, 1, 4) FROM batch WHERE void = 0 ORDER BY 1 DESC")
    return [int(row[0]) for row in found]


def vial_counts(bank: Bank, wanted: VialFilter) -> VialCounts:
    """Return how many vials, clones and taxa a filter lets through, and how many vials are fading or spent."""
    where, values = _where(wanted)
    found = one(
        bank,
        f"""WITH some AS (SELECT vial.batch_id AS batch_id, COUNT(*) AS vials,
                SUM(outlook.state = 'fading') AS fading, SUM(outlook.state = 'spent') AS spent
                {_tables(where + "outlook.")} WHERE {where} GROUP BY vial.batch_id)
            SELECT COALESCE(SUM(vials), 0), COUNT(DISTINCT clone.id), COUNT(DISTINCT clone.taxon_id),
                COALESCE(SUM(fading), 0), COALESCE(SUM(spent), 0)
            FROM some JOIN batch ON batch.id = some.batch_id JOIN clone ON clone.id = batch.clone_id""",
        *values,
    )
    assert found is not None
    return VialCounts(*(int(value) for value in found))


def _where(wanted: VialFilter) -> tuple[str, list[Any]]:
    clauses: list[str] = [_IN_BANK]
    values: list[Any] = []
    for word in wanted.text.split():
        clause, more = _word(word)
        clauses.append(clause)
        values.extend(more)
    simple = {
        _OF_STATE: wanted.state and wanted.state.value,
        "substr(batch.collected, 1, 4) = ?": wanted.year and f"{wanted.year:04d}",
        "clone.taxon_id = ?": wanted.taxon_id,
        "batch.clone_id = ?": wanted.clone_id,
        "vial.batch_id = ?": wanted.batch_id,
        "figure.advice = ?": wanted.advice and wanted.advice.value,
    }
    for clause, value in simple.items():
        if value is not None:
            clauses.append(clause)
            values.append(value)
    if wanted.surplus:
        clauses.append("figure.surplus = 1")
    if wanted.vial_ids is not None:
        clauses.append(f"vial.id IN {numbers(wanted.vial_ids)}")
    if wanted.place_id is not None:
        clauses.append(
            """vial.place_id IN (WITH RECURSIVE inside (id) AS (SELECT ? UNION ALL
               SELECT below.id FROM place AS below JOIN inside ON below.parent_id = inside.id) SELECT id FROM inside)"""
        )
        values.append(wanted.place_id)
    return " AND ".join(clauses), values


def _word(word: str) -> tuple[str, list[str]]:
    """Look for one word in every column made of words; codes are found with and without their hyphens."""
    code = word.replace("-", "")
    own, values = any_holds(("vial.code", code), ("vial.note", word), ("batch.code", code))
    place, where = any_holds(("path", word))
    names, named = any_holds(("kin.code", word), ("kind.name", word), ("kind.old_name", word), ("received_as", word))
    clause = f"""({own} OR vial.place_id IN (SELECT id FROM place WHERE {place})
        OR batch.clone_id IN (SELECT kin.id FROM clone AS kin JOIN taxon AS kind ON kind.id = kin.taxon_id
            WHERE {names}))"""
    return clause, [*values, *where, *named]


def _vial(row: tuple[Any, ...]) -> VialRow:
    path, path_key, slot, columns = row[10], row[11], row[12], row[13]
    return VialRow(
        id=row[0],
        code=row[1],
        taxon_id=row[2],
        name=reading.name(row[3]),
        verified=bool(row[4]),
        clone_id=row[5],
        clone=row[6],
        batch_id=row[7],
        batch=row[8],
        collected=reading.part_date(row[9]),
        place=spot(path, slot, columns),
        place_key=walk_key(path_key, slot),
        left=row[14],
        state=State(row[15] or State.UNKNOWN),
        share=reading.share(row[16], row[17], row[18]),
        crosses=reading.day(row[19]),
        surplus=bool(row[20]),
        note=row[21],
        culled_on=reading.day(row[22]),
        advice=Advice(row[23] or Advice.KEEP),
    )


def walk_key(path_key: str | None, slot: int | None) -> str:
    """Return what sorts vials as one walks: by place, then by slot; what is in no place comes last."""
    if path_key is None:
        return "\U0010ffff"
    return f"{path_key}{KEY_SEPARATOR}{999_999 if slot is None else slot:06d}"


def spot(path: str | None, slot: int | None, columns: int | None) -> str:
    """Return a place with its slot as people read it; empty when out of the bank."""
    if path is None:
        return ""
    return path if slot is None or not columns else f"{path} / {slots.label(slot, columns)}"


def stays(bank: Bank, vial_ids: Sequence[int]) -> dict[int, tuple[Stay, ...]]:
    """Return the storage history of vials: the stays still standing, oldest first."""
    found = rows(
        bank,
        f"""SELECT stay.vial_id, stay.since, stay.temperature, stay.humidity, place.path, stay.slot, place.columns
            FROM stay LEFT JOIN place ON place.id = stay.place_id
            WHERE stay.vial_id IN {numbers(vial_ids)} AND stay.voids IS NULL
                AND NOT EXISTS (SELECT 1 FROM stay AS other WHERE other.voids = stay.id)
            ORDER BY stay.vial_id, stay.since, stay.id""",
    )
    histories: dict[int, list[Stay]] = {one_id: [] for one_id in vial_ids}
    for vial_id, since, temperature, humidity, path, slot, columns in found:
        when = reading.day(since)
        assert when is not None
        histories[vial_id].append(Stay(when, temperature, humidity, spot(path, slot, columns)))
    return {vial_id: tuple(history) for vial_id, history in histories.items()}


def ledger(bank: Bank, vial_id: int) -> tuple[Movement, ...]:
    """Return the ledger of a vial, oldest line first; lines taken back are marked, their opposites left out."""
    found = rows(
        bank,
        """SELECT movement.id, on_day, micrograms, reason, basis, note,
               EXISTS (SELECT 1 FROM movement AS other WHERE other.voids = movement.id)
           FROM movement WHERE vial_id = ? AND voids IS NULL ORDER BY on_day, movement.id""",
        vial_id,
    )
    lines = []
    for line_id, on_day, micrograms, reason, basis, note, taken_back in found:
        when = reading.day(on_day)
        assert when is not None
        lines.append(Movement(line_id, vial_id, when, micrograms, Reason(reason), Basis(basis), note, bool(taken_back)))
    return tuple(lines)


def stored_on(bank: Bank, vial_ids: Sequence[int]) -> dict[int, date]:
    """Return the day on which each of these vials was stored."""
    found = rows(
        bank,
        f"""SELECT vial_id, MIN(on_day) FROM movement
            WHERE vial_id IN {numbers(vial_ids)} AND reason = ? GROUP BY vial_id""",
        Reason.STORED.value,
    )
    return {int(vial_id): date.fromisoformat(on_day) for vial_id, on_day in found}
