"""What a scan does to the bank, and how the last scan is taken back."""

from __future__ import annotations

from dataclasses import dataclass

from sporebank.bank import queries
from sporebank.bank import undo as bank_undo
from sporebank.bank.bank import Bank
from sporebank.core import amounts, codes, names, scanning
from sporebank.core.codes import Code
from sporebank.core.errors import Refusal
from sporebank.core.looks import LookKind
from sporebank.core.records import Reason, VialRow
from sporebank.core.sharing import Filled
from sporebank.jobs import looks, sharing, vials
from sporebank.jobs.filling import by_hand
from sporebank.jobs.packing import scan_in


@dataclass(frozen=True)
class Effect:
    """What a scan did, in a sentence; `event` is the deed that takes it back, 0 where nothing was written."""

    text: str
    event: int = 0


def carrier(bank: Bank, code: Code) -> tuple[int, str] | None:
    """Return the id of what carries a code, with the path of a place; None where nothing does."""
    held = queries.holder(bank, code)
    if held is None:
        return None
    return held, queries.place(bank, held)[1] if code.kind == "L" else ""


def met(bank: Bank, code: Code) -> tuple[int, str] | None:
    """Return what `carrier` does for a code that is scanned.

    Raises:
        Refusal: it is on a vial that was culled.
    """
    found = carrier(bank, code)
    if found is not None and code.kind == "V":
        vials.refuse_culled([queries.vial_row(bank, found[0])])
    return found


def own_code(bank: Bank, text: str) -> str:
    """Return the code here of a vial or batch from another bank, by the code that it had there; or nothing."""
    code = scanning.of_another_bank(text, bank.tag)
    here = None if code is None else queries.met_before(bank, code.tag, codes.KINDS[code.kind], code.text)
    if code is None or here is None:
        return ""
    return queries.vial_row(bank, here).code if code.kind == "V" else queries.batch(bank, here).code


def standing(bank: Bank) -> frozenset[int]:
    """Return the deeds that can be taken back: what a scan did and is not among them has been taken back."""
    return frozenset(event for event, _ in bank_undo.stacks(bank)[0])


def take(bank: Bank, vial_id: int, micrograms: int, reason: Reason) -> Effect:
    """Take an amount out of the vial scanned, today."""
    vials.take(bank, vials.TakeForm(vial_id, micrograms, reason, bank.today()))
    row = queries.vial_row(bank, vial_id)
    taken = f"{amounts.show(micrograms)} for {reason.value} out of {codes.grouped(row.code)}"
    return Effect(f"{taken}; {amounts.show(row.left)} left.", _last(bank))


def move(bank: Bank, vial_id: int, place_id: int) -> Effect:
    """Put the vial scanned into a place, today: into its next free slot where it has slots."""
    row = queries.vial_row(bank, vial_id)
    if vial_id in {inside.id for _, inside in queries.box_vials(bank, place_id)}:
        return Effect(f"{codes.grouped(row.code)} lies there already: {row.place}.")
    vials.move(bank, vials.free_moves(bank, [vial_id], place_id), bank.today())
    return Effect(f"{codes.grouped(row.code)} to {queries.vial_row(bank, vial_id).place}.", _last(bank))


def look(bank: Bank, pot_id: int, what: LookKind) -> Effect:
    """Put on record what was seen today in the pot scanned; what is on record for today is not written twice."""
    (pot,) = queries.pots_by_id(bank, [pot_id])
    code, today = codes.grouped(pot.code), bank.today()
    if any(look.on == today and look.what is what for look in pot.looks):
        return Effect(f"{code}: {what.value} is on record for today already. Nothing was written.")
    looks.record(bank, looks.LookForm((pot_id,), today, what))
    name = names.text(queries.sowing(bank, pot.sowing_id).name)
    return Effect(f"{code}, {name}: {what.value}.", _last(bank))


def undo(bank: Bank, effect: Effect) -> str:
    """Take back what a scan did and return the title of the deed.

    Raises:
        Refusal: another deed came after it.
    """
    if _last(bank) != effect.event:
        raise Refusal("Something else has been done since. Take that back first, with Ctrl+Z.")
    return bank_undo.undo(bank)


def _last(bank: Bank) -> int:
    undoable, _ = bank_undo.stacks(bank)
    return undoable[-1][0] if undoable else 0


@dataclass(frozen=True)
class Packing:
    """A vial scanned for a parcel: how many packets are drawn from it, and for which wish it could be added."""

    vial: VialRow
    packets: int
    could_fill: int | None = None


def pack(bank: Bank, request_id: int, code: Code) -> Effect:
    """Put the packet scanned into the parcel of a request."""
    return Effect(scan_in(bank, request_id, code).text, _last(bank))


def packing(bank: Bank, request_id: int, vial_id: int) -> Packing:
    """Return whether a vial is on the packing list of a request, or which wish it could still fill."""
    request, row = queries.request(bank, request_id), queries.vial_row(bank, vial_id)
    packets = sum(packet.vial_id == vial_id for line in request.lines for packet in line.filled)
    open_wish = None if packets else scanning.wanting(request.lines, row.taxon_id, row.clone_id)
    return Packing(row, packets, None if open_wish is None else open_wish.id)


def add_to_packing(bank: Bank, request_id: int, line_id: int, vial_id: int) -> Effect:
    """Hold back one more packet for a wish, out of the vial scanned."""
    request = queries.request(bank, request_id)
    chosen = {line.id: Filled(tuple(one.vial_id for one in line.filled), line.unmet) for line in request.lines}
    wish = next(line for line in request.lines if line.id == line_id)
    chosen[line_id] = by_hand(wish.packets, (*chosen[line_id].vials, vial_id), chosen[line_id])
    sharing.keep_fill(bank, request_id, chosen)
    code = codes.grouped(queries.vial_row(bank, vial_id).code)
    return Effect(
        f"{code} is on the packing list of {request.contact.name} now; scan it again to pack it.", _last(bank)
    )
