"""Labels: asked for by the deed that makes a thing, printed together later, and on record from then on.

`ask` is called inside the deed that stores, sows or fills, so that its undo takes the asking back too. What waits is
`waiting`; `put_on_record` says that labels were printed, and from which cell of the sheet the next print begins.
What stands on them is gathered by `jobs.label_records`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.queries import labels as reading
from sporebank.bank.queries.labels import PrintRun
from sporebank.bank.tables import Label as LabelRow
from sporebank.bank.tables import Printing
from sporebank.core.counted import counted
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.sheets import Sheet, next_free

_KINDS: dict[str, tuple[Kind, ...]] = {
    "vial": (Kind.VIAL, Kind.CAP),
    "pot": (Kind.POT_ALONG, Kind.POT_UPRIGHT),
    "packet": (Kind.PACKET,),
    "batch": (Kind.BAG,),
    "place": (Kind.BOX, Kind.PLACE),
    "contact": (Kind.ADDRESS,),
    "request": (Kind.PARCEL,),
}
"""The kinds of label that one thing may carry, the usual one first; a thing that has one of them waits no longer."""

_WORDS = {
    "vial": ("vial label", "vial labels"),
    "pot": ("pot label", "pot labels"),
    "packet": ("packet label", "packet labels"),
    "batch": ("bag label", "bag labels"),
    "place": ("label of a place", "labels of places"),
    "contact": ("address label", "address labels"),
    "request": ("parcel label", "parcel labels"),
}


def thing_of(kind: Kind) -> str:
    """Return what carries a kind of label: `vial` for a vial wrap and for a cap dot."""
    return next(thing for thing, kinds in _KINDS.items() if kind in kinds)


def alike(kind: Kind) -> tuple[Kind, ...]:
    """Return the kinds of label that the same thing may carry, the usual one first."""
    return _KINDS[thing_of(kind)]


def usual_kinds() -> list[Kind]:
    """Return the usual kind of label of each thing."""
    return [kinds[0] for kinds in _KINDS.values()]


def called(kind: Kind) -> str:
    """Return what the labels of a thing are called: `vial labels`, for cap dots as well."""
    return _WORDS[thing_of(kind)][1]


def ask(bank: Bank, tx: Change, kind: Kind, ids: Sequence[int]) -> None:
    """Let things wait for their labels, as part of the deed that made them; nothing waits twice."""
    already = reading.waiting_rows(bank, alike(kind), ids)
    new = [target_id for target_id in dict.fromkeys(ids) if target_id not in already]
    tx.insert_many(LabelRow, [{"kind": kind.value, "target_id": target_id} for target_id in new])


def drop(bank: Bank, tx: Change, kind: Kind, ids: Sequence[int]) -> None:
    """Let things wait no longer for their labels, as part of the deed that takes them away."""
    rows = reading.waiting_rows(bank, alike(kind), ids)
    for target_id in dict.fromkeys(ids):
        if target_id in rows:
            tx.update(LabelRow, rows[target_id], void=1)


def ask_for(bank: Bank, kind: Kind, ids: Sequence[int]) -> None:
    """Let things wait for their labels, as a deed of its own."""
    already = reading.waiting_rows(bank, alike(kind), ids)
    new = [target_id for target_id in dict.fromkeys(ids) if target_id not in already]
    if new:
        with bank.change(f"Ask for {count_words(kind, len(new))}") as tx:
            ask(bank, tx, kind, new)


def waiting(bank: Bank) -> dict[Kind, tuple[int, ...]]:
    """Return what waits for a label, by the usual kind of it, place by place."""
    found = {kinds[0]: tuple(reading.waiting(bank, thing, kinds)) for thing, kinds in _KINDS.items()}
    return {kind: ids for kind, ids in found.items() if ids}


def waiting_count(bank: Bank) -> int:
    """Return how many labels wait."""
    return sum(map(len, waiting(bank).values()))


def forget(bank: Bank, kind: Kind, ids: Sequence[int]) -> None:
    """Let things wait no longer, since they carry a label already."""
    count = len(reading.waiting_rows(bank, alike(kind), ids))
    if count:
        with bank.change(f"Print no {count_words(kind, count)}") as tx:
            drop(bank, tx, kind, ids)


def count_words(kind: Kind, count: int) -> str:
    """Return a number of labels in words: `14 vial labels`."""
    return counted(count, *_WORDS[thing_of(kind)])


@dataclass(frozen=True)
class Run:
    """Labels as they were printed: what carries them, on what, from which cell (counted from 0), how often each."""

    kind: Kind
    ids: tuple[int, ...]
    layout: str
    sheet: Sheet
    first_cell: int = 0
    copies: int = 1


def put_on_record(bank: Bank, run: Run) -> int:
    """Say that labels were printed; what waited for one waits no longer. Return the run's id.

    Raises:
        Refusal: there are none.
    """
    ids = tuple(dict.fromkeys(run.ids))
    if not ids:
        raise Refusal("There are no labels to put on record.")
    waited = reading.waiting_rows(bank, alike(run.kind))
    with bank.change(f"Print {count_words(run.kind, len(ids))}") as tx:
        run_id = tx.insert(
            Printing,
            on_day=bank.today().isoformat(),
            layout=run.layout,
            sheet=run.sheet.id,
            first_cell=run.first_cell,
            next_cell=next_free(run.sheet, run.first_cell, len(ids) * run.copies),
            copies=run.copies,
        )
        for target_id in ids:
            if target_id in waited:
                tx.update(LabelRow, waited[target_id], kind=run.kind.value, printing_id=run_id)
            else:
                tx.insert(LabelRow, kind=run.kind.value, target_id=target_id, printing_id=run_id)
    return run_id


def runs(bank: Bank) -> list[PrintRun]:
    """Return the print runs, the latest first."""
    return reading.runs(bank)


def of_run(bank: Bank, run: PrintRun) -> tuple[int, ...]:
    """Return the things whose labels a run printed, as far as they may still carry one, to print them again."""
    return tuple(reading.still_there(bank, thing_of(Kind(run.kind)), reading.printed_in(bank, run.id)))


def pots_of(bank: Bank, sowing_id: int) -> list[int]:
    """Return the pots of a sowing, to print their labels."""
    return reading.pots_of(bank, sowing_id)


def packets_of(bank: Bank, request_id: int) -> list[int]:
    """Return the packets of a request's parcel, to print their labels."""
    return [packet.id for line in queries.request(bank, request_id).lines for packet in line.filled]
