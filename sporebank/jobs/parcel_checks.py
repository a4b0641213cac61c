"""What a parcel has to be checked for before it goes: every caution is answered with a note or a paper's number."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Heed
from sporebank.bank.tables import Permit as PermitTable
from sporebank.core import codes, parcel_cautions
from sporebank.core.errors import Refusal
from sporebank.core.parcel_cautions import Country, Going, Journey, ParcelCaution
from sporebank.core.permits import label_from
from sporebank.core.records import Request
from sporebank.formats import countries
from sporebank.formats.tables import load_cautions

_LONGEST = 2_000


@dataclass(frozen=True)
class Check:
    """A caution of a parcel with what it was answered with, nothing while it is open."""

    caution: ParcelCaution
    answer: str = ""


def journey(bank: Bank, request: Request, on: date) -> Journey:
    """Return a parcel as its cautions see it."""
    vial_ids = {packet.vial_id for line in request.lines for packet in line.filled}
    batch_ids = {row.batch_id for row in queries.vials_by_id(bank, sorted(vial_ids))}
    clones = {batch.clone.id: batch.clone for batch in queries.batches_by_id(bank, sorted(batch_ids))}
    return Journey(
        home=_country(bank.settings.country),
        destination=_country(request.contact.country),
        on=on,
        packets=tuple(Going(clone.taxon.name, clone.source, clone.country) for clone in clones.values()),
        permits=tuple(queries.permits_of(bank, request.contact.id)),
    )


def _country(code: str) -> Country:
    return Country(code.strip().upper(), countries.name(code))


def checks(bank: Bank, request: Request) -> tuple[Check, ...]:
    """Return every caution of a parcel that is not empty, answered or open; of one that went, those answered."""
    if request.parcel_id is None:
        return ()
    going = journey(bank, request, request.dispatched_on or bank.today())
    if not going.packets:
        return ()
    answered = queries.heeds(bank, request.parcel_id)
    found = parcel_cautions.arising(going, load_cautions())
    every = (Check(one, answered.get(one.key, (0, ""))[1]) for one in found)
    return tuple(one for one in every if one.answer or request.dispatched_on is None)


def answer(bank: Bank, request_id: int, key: str, note: str) -> None:
    """Acknowledge a caution of a parcel with a note, or with the number of a paper.

    Raises:
        Refusal: nothing is written, the parcel has gone, or it raises no such caution.
    """
    request, words = queries.request(bank, request_id), note.strip()
    if not words:
        raise Refusal("Write the number of a paper, or who said what, and when.", field="note")
    if len(words) > _LONGEST:
        raise Refusal(f"Write no more than {_LONGEST:,} characters.", field="note")
    if request.dispatched_on is not None:
        raise Refusal("This parcel has been dispatched. Undo the dispatch first.", field="note")
    caution = next((one.caution for one in checks(bank, request) if one.caution.key == key), None)
    if caution is None or request.parcel_id is None:
        raise Refusal("This parcel does not raise this caution any more. Nothing was written.", field="note")
    row_id, _ = queries.heeds(bank, request.parcel_id).get(key, (0, ""))
    with bank.change(f"Caution of parcel {codes.grouped(request.parcel)} answered") as tx:
        if row_id:
            tx.update(Heed, row_id, note=words)
        else:
            tx.insert(Heed, parcel_id=request.parcel_id, caution=key, note=words)


def refuse_unheeded(bank: Bank, request: Request) -> None:
    """Refuse to let a parcel go while one of its cautions is open.

    Raises:
        Refusal: with the first of them, and where it is answered.
    """
    waiting = [one.caution for one in checks(bank, request) if not one.answer]
    if waiting:
        count = "A caution" if len(waiting) == 1 else f"{len(waiting)} cautions"
        raise Refusal(
            f"{count} of this parcel must be answered first: {waiting[0].title}. "
            "Open the request on the page Share and answer under “Cautions”."
        )


def use_label(bank: Bank, tx: Change, request: Request, on: date) -> None:
    """Count down the one-use labels of the permit under which a parcel goes abroad."""
    going = journey(bank, request, on)
    permit = label_from(going.permits, on) if going.abroad else None
    if permit is not None and permit.labels_left is not None:
        tx.update(PermitTable, permit.id, labels_left=permit.labels_left - 1)


def papers(bank: Bank, request: Request) -> tuple[str, ...]:
    """Return what the cautions of a parcel were answered with, in words, for its manifest."""
    return tuple(f"{one.caution.title}: {one.answer}" for one in checks(bank, request) if one.answer)
