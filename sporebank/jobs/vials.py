"""Work on vials: take spore out, correct what is left, move, note."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Vial
from sporebank.core import amounts, codes
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.records import Basis, Reason, VialRow


@dataclass(frozen=True)
class TakeForm:
    """So many micrograms out of one vial, for a reason."""

    vial_id: int
    micrograms: int
    reason: Reason
    on: date
    basis: Basis = Basis.WEIGHED
    note: str = ""


@dataclass(frozen=True)
class Move:
    """One vial to a place, and to a slot where the place has slots."""

    vial_id: int
    place_id: int
    slot: int | None = None


def take(bank: Bank, *forms: TakeForm) -> None:
    """Take spore out of vials: out of all of them, or of none.

    Raises:
        Refusal: nothing is asked for, or more than is left beside what is held back for parcels.
    """
    if not forms:
        raise Refusal("Choose the vials to take from first.")
    held = queries.reserved(bank)
    rows = {row.id: row for row in queries.vials_by_id(bank, [form.vial_id for form in forms])}
    refuse_before_stored(bank, {form.vial_id: form.on for form in forms}, "on")
    for form in forms:
        _check_take(form, rows[form.vial_id], held.get(form.vial_id, 0), bank.today())
    first = forms[0]
    where = codes.grouped(rows[first.vial_id].code) if len(forms) == 1 else f"each of {len(forms)} vials"
    with bank.change(f"Take {amounts.show(first.micrograms)} for {first.reason.value} from {where}") as tx:
        for form in forms:
            tx.move_spore(
                form.vial_id,
                on_day=form.on.isoformat(),
                micrograms=-form.micrograms,
                reason=form.reason.value,
                basis=form.basis.value,
                note=form.note,
            )


def _check_take(form: TakeForm, row: VialRow, held: int, today: date) -> None:
    if form.micrograms <= 0:
        raise Refusal("Say how much is taken out, such as 2 mg.", field="amount")
    refuse_future(form.on, today, "on")
    code = codes.grouped(row.code)
    if form.micrograms > row.left:
        sentence = f"Only {amounts.show(row.left)} is left in {code}. Take less, or correct what is left."
        raise Refusal(sentence, field="amount")
    if form.micrograms > row.left - held:
        free = amounts.show(row.left - held)
        sentence = f"{amounts.show(held)} of {code} is held back for a parcel, so {free} is free. Take less."
        raise Refusal(sentence, field="amount")


def correct(bank: Bank, vial_id: int, micrograms: int, on: date, basis: Basis, note: str = "") -> None:
    """Set right what is left in a vial after weighing or looking again; the difference goes into the ledger."""
    row = queries.vial_row(bank, vial_id)
    refuse_culled([row])
    if micrograms < 0:
        raise Refusal("A vial cannot hold less than nothing.", field="amount")
    refuse_future(on, bank.today(), "on")
    refuse_before_stored(bank, {vial_id: on}, "on")
    held = queries.reserved(bank).get(vial_id, 0)
    if micrograms < held:
        raise Refusal(f"{amounts.show(held)} of it is held back for a parcel. Change the parcel first.", field="amount")
    if micrograms == row.left:
        raise Refusal(f"{amounts.show(row.left)} is already what the ledger says.", field="amount")
    with bank.change(f"Correct {codes.grouped(row.code)} to {amounts.show(micrograms)}") as tx:
        tx.move_spore(
            vial_id,
            on_day=on.isoformat(),
            micrograms=micrograms - row.left,
            reason=Reason.CORRECTION.value,
            basis=basis.value,
            note=note,
        )


def refuse_future(day: date, today: date, field: str) -> None:
    """Refuse a day that has not come yet."""
    if day > today:
        raise Refusal("This day has not come yet. Give today or an earlier day.", field=field)


def refuse_before_stored(bank: Bank, days: dict[int, date], field: str) -> None:
    """Refuse a day, given per vial, on which the vial was not yet in the bank."""
    for vial_id, stored in queries.stored_on(bank, list(days)).items():
        if days[vial_id] < stored:
            raise Refusal(f"The vial was stored on {day_label(stored)}. Give that day or a later one.", field=field)


def refuse_culled(rows: Iterable[VialRow]) -> None:
    """Refuse work on a vial that has been culled: it is empty and in no place."""
    for row in rows:
        if row.culled_on is not None:
            sentence = f"{codes.grouped(row.code)} was culled on {day_label(row.culled_on)}. Undo the cull first."
            raise Refusal(sentence)


def move(bank: Bank, moves: Sequence[Move], on: date) -> None:
    """Move vials; each gets a new stay, so the forecast follows.

    Raises:
        Refusal: a slot is taken or asked for twice, or the day is wrong.
    """
    if not moves:
        raise Refusal("Choose the vials to move first.")
    refuse_future(on, bank.today(), "on")
    rows = {row.id: row for row in queries.vials_by_id(bank, [one.vial_id for one in moves])}
    refuse_culled(rows.values())
    refuse_early(bank, rows.values(), on)
    _refuse_taken(bank, moves)
    _, path = queries.place(bank, moves[0].place_id)
    what = codes.grouped(rows[moves[0].vial_id].code) if len(moves) == 1 else f"{len(moves)} vials"
    with bank.change(f"Move {what} to {path}") as tx:
        for one in moves:
            write_stay(bank, tx, one, on)


def refuse_early(bank: Bank, rows: Iterable[VialRow], on: date) -> None:
    """Refuse a day on which a vial was not yet in the bank, or did not lie yet where it lies now."""
    by_id = {row.id: row for row in rows}
    for vial_id, stays in queries.stays(bank, list(by_id)).items():
        if stays and stays[-1].since > on:
            code = codes.grouped(by_id[vial_id].code)
            raise Refusal(f"{code} was put where it is after this day. Give a later day.", field="on")
    refuse_before_stored(bank, dict.fromkeys(by_id, on), "on")


def _refuse_taken(bank: Bank, moves: Sequence[Move]) -> None:
    asked = [(one.place_id, one.slot) for one in moves if one.slot is not None]
    if len(set(asked)) < len(asked):
        raise Refusal("Two vials cannot go into one slot. Choose another slot for one of them.", field="places")
    moving = {one.vial_id for one in moves}
    for place_id in {one.place_id for one in moves}:
        place, path = queries.place(bank, place_id)
        size = place.rows * place.columns
        taken = {slot for slot, row in queries.box_vials(bank, place_id) if row.id not in moving}
        wanted = {slot for box, slot in asked if box == place_id and slot is not None}
        if wanted & taken or any(not 0 <= slot < size for slot in wanted):
            raise Refusal(f"A slot chosen in {path} is not free. Choose another.", field="places")


def write_stay(bank: Bank, tx: Change, one: Move, on: date) -> None:
    """Write the stay of a vial that comes to a place, with the conditions met there."""
    temperature, humidity = queries.conditions(bank, one.place_id)
    tx.place(
        one.vial_id,
        since=on.isoformat(),
        place_id=one.place_id,
        slot=one.slot,
        temperature=temperature,
        humidity=humidity,
    )


def free_moves(bank: Bank, vial_ids: Sequence[int], place_id: int) -> list[Move]:
    """Propose slots for vials in a box, or just the place where it has no slots."""
    place, path = queries.place(bank, place_id)
    if not place.rows:
        return [Move(vial_id, place_id) for vial_id in vial_ids]
    free = [spot for spot in queries.free_slots(bank, len(vial_ids), place_id) if spot[0] == place_id]
    if len(free) < len(vial_ids):
        raise Refusal(
            f"{path} has {len(free)} free slots for {len(vial_ids)} vials. Choose another box.", field="places"
        )
    return [Move(vial_id, place_id, slot) for vial_id, (_, slot) in zip(vial_ids, free, strict=True)]


def note(bank: Bank, vial_ids: Sequence[int], text: str) -> None:
    """Write the note of vials anew; the one before stays in the history."""
    rows = queries.vials_by_id(bank, vial_ids)
    what = codes.grouped(rows[0].code) if len(rows) == 1 else f"{len(rows)} vials"
    with bank.change(f"Note on {what}: {text.strip()[:60]}" if text.strip() else f"Clear the note on {what}") as tx:
        for row in rows:
            tx.update(Vial, row.id, note=text.strip())
