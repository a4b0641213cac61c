"""A stocktake: read once what should be where, and write at the end what was found otherwise, as one deed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Vial
from sporebank.core import codes, slots
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.records import Basis, Reason, VialRow
from sporebank.core.stocktake import (
    Corrected,
    Correction,
    Expected,
    Group,
    Line,
    Part,
    Plan,
    Protocol,
    ProtocolLine,
    Spot,
    Stocktake,
)
from sporebank.jobs.vials import Move, refuse_culled, refuse_early, refuse_future, write_stay

WHOLE = "the whole bank"


def plan(bank: Bank, place_id: int | None) -> Plan:
    """Return what a stocktake of a place and all in it goes by; of the whole bank where no place is named.

    Fridges and rooms are gone through as well: a vial may lie loose in any of them.

    Raises:
        Refusal: the bank has no place yet.
    """
    inside = None if place_id is None else set(queries.subtree(bank, place_id))
    parts: list[Part] = []
    vials: list[Expected] = []
    for place, path, _ in queries.places(bank):
        if inside is None or place.id in inside:
            parts.append(Part(place.id, place.code, path, place.rows, place.columns))
            vials += [_expected(row, Spot(place.id, slot)) for slot, row in queries.box_vials(bank, place.id)]
    title = WHOLE if place_id is None else queries.place(bank, place_id)[1]
    if not parts:
        raise Refusal("There is no place in this bank yet. Add the first on Places.")
    return Plan(title, bank.tag, tuple(parts), tuple(vials))


def _expected(row: VialRow, spot: Spot | None) -> Expected:
    return Expected(row.id, row.code, row.name, row.clone, spot, row.culled_on is not None)


def result(bank: Bank, taken: Stocktake) -> tuple[Line, ...]:
    """Return every vial in its group; what was not expected is looked up in the whole bank."""
    ids = queries.vial_ids_of_codes(bank, list(taken.strangers))
    spots = queries.spots(bank, list(ids.values()))
    elsewhere, homes = {}, {}
    for row in queries.vials_by_id(bank, list(ids.values())):
        place_id, slot = spots[row.id]
        elsewhere[row.code] = _expected(row, None if place_id is None else Spot(place_id, slot))
        if place_id is not None:
            homes[place_id] = queries.place(bank, place_id)[1]
    return taken.result(elsewhere, homes)


def correct(bank: Bank, title: str, wanted: Sequence[Corrected], on: date) -> int:
    """Write all corrections of a stocktake as one deed and return how many there were.

    Every vial that moves into a box has its slot (`core.stocktake.settled`).

    Raises:
        Refusal: nothing is chosen, a box has no slot left, or two vials would lie in one; the sentence says which.
    """
    wanted = [one for one in wanted if one.correction is not Correction.NONE]
    if not wanted:
        raise Refusal("Choose what shall be corrected first.")
    refuse_future(on, bank.today(), "on")
    rows = {row.id: row for row in queries.vials_by_id(bank, [one.vial_id for one in wanted])}
    refuse_culled(rows.values())
    refuse_early(bank, rows.values(), on)
    _refuse_held(bank, wanted, rows)
    moves = _moves(bank, wanted, rows)
    count = counted(len(wanted), "correction")
    with bank.change(f"Stocktake of {title}: {count}") as tx:
        for one in wanted:
            if one.correction is not Correction.MOVE:
                _take_out(tx, rows[one.vial_id], one.correction, on)
        _make_room(bank, tx, moves, on)
        for move in moves:
            write_stay(bank, tx, move, on)
    return len(wanted)


def _refuse_held(bank: Bank, wanted: Sequence[Corrected], rows: Mapping[int, VialRow]) -> None:
    held = queries.reserved(bank)
    for one in wanted:
        if one.correction is Correction.LOST and one.vial_id in held:
            code = codes.grouped(rows[one.vial_id].code)
            raise Refusal(f"{code} is held back for a parcel. Change the parcel first, or note it as missing.")


def _moves(bank: Bank, wanted: Sequence[Corrected], rows: Mapping[int, VialRow]) -> list[Move]:
    """Return where each vial goes, in slots that nothing else has on record."""
    leaving = {one.vial_id for one in wanted}
    going = [(one.vial_id, one.spot) for one in wanted if one.correction is Correction.MOVE and one.spot is not None]
    taken: dict[Spot, str] = {}
    for place_id in {spot.place_id for _, spot in going}:
        lying = queries.box_vials(bank, place_id)
        taken |= {Spot(place_id, slot): row.code for slot, row in lying if slot is not None and row.id not in leaving}
    for vial_id, spot in going:
        _refuse_spot(bank, spot, taken)
        if spot.slot is not None:
            taken[spot] = rows[vial_id].code
    return [Move(vial_id, spot.place_id, spot.slot) for vial_id, spot in going]


def _refuse_spot(bank: Bank, spot: Spot, taken: Mapping[Spot, str]) -> None:
    place, path = queries.place(bank, spot.place_id)
    if place.rows and spot.slot is None:
        raise Refusal(f"{path} has no free slot on record. Note its missing vials as missing as well.")
    if spot in taken and spot.slot is not None:
        where, other = slots.label(spot.slot, place.columns), codes.grouped(taken[spot])
        raise Refusal(f"{other} lies in {where} of {path} on record. Move it or note it as missing as well.")


def _make_room(bank: Bank, tx: Change, moves: Sequence[Move], on: date) -> None:
    """Take those out first whose slot another vial comes into: in a slot lies one vial at a time."""
    coming = {(move.place_id, move.slot): move.vial_id for move in moves if move.slot is not None}
    for vial_id, spot in queries.spots(bank, [move.vial_id for move in moves]).items():
        if coming.get(spot, vial_id) != vial_id:  # type: ignore[arg-type]  # a vial in no slot is not among them
            _leave(tx, vial_id, on)


def _take_out(tx: Change, row: VialRow, correction: Correction, on: date) -> None:
    said = f"Not found at the stocktake of {day_label(on)}."
    if correction is Correction.LOST and row.left:
        tx.move_spore(
            row.id,
            on_day=on.isoformat(),
            micrograms=-row.left,
            reason=Reason.LOSS.value,
            basis=Basis.EYE.value,
            note=said,
        )
    _leave(tx, row.id, on)
    tx.update(Vial, row.id, note=f"{row.note} {said}".strip())


def _leave(tx: Change, vial_id: int, on: date) -> None:
    tx.place(vial_id, since=on.isoformat(), place_id=None, slot=None, temperature=None, humidity=None)


_DONE = {
    Correction.NONE: "Left as it is.",
    Correction.MISSING: "Noted as missing.",
    Correction.LOST: "Written off as lost.",
}


def protocol(
    bank: Bank, taken: Stocktake, lines: Sequence[Line], chosen: Mapping[str, Corrected], *, written: bool
) -> Protocol:
    """Return the paper of a stocktake: what is right as a number, all else line by line, with what was written."""
    paths = {place.id: (path, place.columns) for place, path, _ in queries.places(bank)}

    def where(spot: Spot | None) -> str:
        if spot is None:
            return ""
        path, columns = paths[spot.place_id]
        return path if spot.slot is None else f"{path} / {slots.label(spot.slot, columns)}"

    def done(line: Line) -> str:
        if line.group is Group.RIGHT:
            return ""
        one = chosen.get(line.text) if written else None
        if one is None or one.correction is not Correction.MOVE:
            said = _DONE[Correction.NONE if one is None else one.correction]
        else:
            said = f"Moved to {where(one.spot)}" + (", the first free slot." if one.spot != line.found else ".")
        return " ".join(part for part in (line.why, said) if part)

    return Protocol(
        bank=bank.name,
        title=taken.plan.title,
        on=bank.today(),
        way=taken.way,
        lines=tuple(
            ProtocolLine(
                group=line.group,
                code=line.text,
                name=line.vial.name if line.vial else None,
                clone=line.vial.clone if line.vial else "",
                expected=where(line.expected),
                found=where(line.found),
                done=done(line),
            )
            for line in lines
        ),
        signed_by=bank.settings.keeper,
    )
