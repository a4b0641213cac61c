"""Taking in a parcel of another bank by its manifest: seen first, then written in one deed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from pathlib import Path

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Alias, Receipt, Test
from sporebank.bank.tables import Replicate as ReplicateTable
from sporebank.core import codes, germination, names, receiving
from sporebank.core.counted import counted
from sporebank.core.dates import PartDate, day_label
from sporebank.core.errors import Refusal
from sporebank.core.own_codes import next_code
from sporebank.core.papers import Counted, Manifest, ManifestItem
from sporebank.core.receiving import Lot
from sporebank.core.records import Basis, Cleaning, Clone, Replicate, Source, SporeClass
from sporebank.formats import manifest_csv, manifest_json
from sporebank.formats.strict_json import MOST_BYTES
from sporebank.jobs.store import NewClone, Portion, Stored, StoreForm, check, look_up, write_batch
from sporebank.jobs.vials import free_moves

_AS_STATED = "as stated in the manifest"
_A_DAY = timedelta(days=1)
"""By so much the day may be ahead where the sender lives."""


class Known(StrEnum):
    """How a name of the manifest stands in the bank."""

    KNOWN = "in the bank"
    OLD = "old name"
    NEW = "new"


@dataclass(frozen=True)
class Incoming:
    """A packet as it would be taken in: its name as the bank reads it, and its clone here; a new one has no code yet.

    `problem` keeps the parcel from being taken in.
    """

    item: ManifestItem
    taxon: str
    known: Known
    clone: str
    remarks: tuple[str, ...] = ()
    problem: str = ""


@dataclass(frozen=True)
class Preview:
    """What a manifest would bring; `refusal` says why the parcel as a whole cannot be taken in."""

    manifest: Manifest
    packets: tuple[Incoming, ...]
    refusal: str = ""

    @property
    def ready(self) -> bool:
        """Whether it can be taken in."""
        return not self.refusal and not any(packet.problem for packet in self.packets)


@dataclass(frozen=True)
class _Plan:
    """A lot with the form it is stored by; the clone of the form is a new one where `clone` is none."""

    lot: Lot
    form: StoreForm
    clone: Clone | None


def read_file(path: Path) -> Manifest:
    """Read a manifest from a file, CSV by its ending, else JSON.

    Raises:
        Refusal: it cannot be opened, or is no manifest.
    """
    read = manifest_csv.read_manifest if path.suffix.lower() == ".csv" else manifest_json.read_manifest
    try:
        with path.open("rb") as file:
            return read(file.read(MOST_BYTES + 1))
    except OSError as error:
        raise Refusal(f"{path.name} cannot be opened ({error.strerror}). Choose another file.") from error


def preview(bank: Bank, manifest: Manifest) -> Preview:
    """Return what a manifest would bring; nothing is written."""
    refusal = _refusal(bank, manifest)
    packets = []
    for lot in receiving.lots(manifest):
        plan = _plan(bank, manifest, lot)
        problem = _problem(bank, plan)
        name = look_up(bank, plan.form.taxon)
        for item in lot.items:
            given = names.text(item.name)
            other = _called_otherwise(bank, given, name.text, plan.clone)
            known = Known.NEW if name.taxon_id is None else Known.KNOWN if given == name.text or other else Known.OLD
            remarks = (*other, *(() if known is Known.KNOWN else name.remarks), *item.cautions)
            clone = "" if plan.clone is None else plan.clone.code
            packets.append(Incoming(item, name.text, known, clone, remarks, problem))
    return Preview(manifest, tuple(packets), refusal)


def _called_otherwise(bank: Bank, given: str, here: str, clone: Clone | None) -> tuple[str, ...]:
    """Return what is to be looked at where a clone met before comes under the name of another fern."""
    if clone is None or look_up(bank, given).text == here:
        return ()
    return (f"The sender calls it {given}; clone {clone.code} here is {here}. Look which is right.",)


def _refusal(bank: Bank, manifest: Manifest) -> str:
    parcel = codes.grouped(manifest.parcel)
    if manifest.bank_tag == bank.tag:
        return f"Parcel {parcel} was sent by this bank itself. Only parcels of other banks are taken in."
    known = queries.receipt_of(bank, manifest.parcel, manifest.checksum())
    if known is not None:
        day = day_label(date.fromisoformat(known.received_on))
        return f"Parcel {parcel} was taken in on {day} already. Nothing is taken in twice."
    ahead = receiving.to_come(manifest, bank.today() + _A_DAY)
    if ahead is not None:
        return (
            f"Parcel {parcel} tells of {day_label(ahead)}, which has not come yet. Look at the clock of this computer; "
            "if it is right, ask the sender for a new manifest."
        )
    return receiving.disagreement(manifest)


def _plan(bank: Bank, manifest: Manifest, lot: Lot) -> _Plan:
    item, today = lot.first, bank.today()
    clone_id = queries.met_before(bank, manifest.bank_tag, "clone", item.clone)
    clone = None if clone_id is None else queries.clone(bank, clone_id)
    taxon = names.text(item.name) if clone is None else names.text(clone.taxon.name)
    new = NewClone(
        code=next_code(queries.clone_codes(bank)),
        source=Source.RECEIVED,
        origin=item.origin,
        country=item.country,
        acquired=PartDate.of(today),
        acquired_from=manifest.bank,
        permission=item.permission,
        permit_note=item.permit,
        network_number=item.network_number,
        note=receiving.source_told(item),
    )
    form = StoreForm(
        taxon=taxon,
        clone=new if clone is None else clone.id,
        collected=item.collected,
        spore_class=SporeClass(item.spore_class),
        cleaning=Cleaning.NONE,
        before=receiving.before([kept for each in lot.items for kept in each.kept]),
        portions=tuple(Portion(each.micrograms) for each in lot.items),
        stored_on=today,
        amount_basis=Basis.WEIGHED,
        amount_said=_AS_STATED,
        note=receiving.told(manifest, item, taxon),
    )
    return _Plan(lot, form, clone)


def _problem(bank: Bank, plan: _Plan) -> str:
    """Return the first thing that keeps a lot from being taken in, or nothing."""
    found = [sentence for _, sentence in check(bank, plan.form)]
    for test in (*plan.lot.tests, *(test for own in plan.lot.own for test in own)):
        found += [
            sentence
            for _, sentence in germination.problems(
                collected=plan.form.collected,
                sown_on=test.sown_on,
                counted_on=test.counted_on,
                replicates=_replicates(test),
                temperature=None,
                today=bank.today() + _A_DAY,
            )
        ]
    return next(iter(found), "")


def _replicates(test: Counted) -> list[Replicate]:
    return [Replicate(sown, germinated) for germinated, sown in test.counts]


def take_in(bank: Bank, manifest: Manifest, place_id: int | None = None) -> tuple[int, ...]:
    """Take a parcel in, all of it or nothing, and return its vials batch by batch; their labels wait.

    Every packet becomes a vial of its own, and packets of one batch become one batch. Clones met before, known by the
    code they have there, are those of this bank; nothing that is here already is written over.

    Raises:
        Refusal: the parcel has been taken in, something in it cannot be, or the place has no room.
    """
    seen = preview(bank, manifest)
    if seen.refusal:
        raise Refusal(seen.refusal)
    for number, packet in enumerate(seen.packets, start=1):
        if packet.problem:
            raise Refusal(f"Packet {number}, {packet.taxon}: {packet.problem}")
    spots = _spots(bank, len(manifest.items), place_id)
    count = counted(len(manifest.items), "packet")
    with bank.change(f"Take in parcel {codes.grouped(manifest.parcel)}, {count}") as tx:
        receipt_id = tx.insert(
            Receipt,
            parcel=manifest.parcel,
            bank=manifest.bank,
            checksum=manifest.checksum(),
            received_on=bank.today().isoformat(),
        )
        vials: list[int] = []
        for lot in receiving.lots(manifest):
            plan = _plan(bank, manifest, lot)
            portions = tuple(
                replace(portion, place_id=place, slot=slot)
                for portion, (place, slot) in zip(plan.form.portions, spots[len(vials) :], strict=False)
            )
            stored = write_batch(bank, tx, replace(plan.form, portions=portions))
            _write_tests(tx, manifest, lot, stored)
            _remember(bank, tx, receipt_id, plan, stored)
            vials += stored.vial_ids
    return tuple(vials)


def _spots(bank: Bank, count: int, place_id: int | None) -> list[tuple[int | None, int | None]]:
    """Return where so many vials go: into free slots of a box, into a place without slots, or nowhere yet."""
    if place_id is None:
        return [(None, None)] * count
    return [(move.place_id, move.slot) for move in free_moves(bank, range(count), place_id)]


def _write_tests(tx: Change, manifest: Manifest, lot: Lot, stored: Stored) -> None:
    """Write what was tested there: of the whole batch, or of the one vial that alone it speaks for."""
    speaking: list[tuple[int | None, Counted]] = [(None, test) for test in lot.tests]
    speaking += [(vial, test) for vial, own in zip(stored.vial_ids, lot.own, strict=True) for test in own]
    for vial_id, test in speaking:
        test_id = tx.insert(
            Test,
            batch_id=stored.batch_id,
            vial_id=vial_id,
            sown_on=test.sown_on.isoformat(),
            counted_on=test.counted_on.isoformat(),
            note=f"Tested by {manifest.bank}.",
        )
        rows = enumerate(_replicates(test), start=1)
        tx.insert_many(
            ReplicateTable,
            [{"test_id": test_id, "number": n, "sown": one.sown, "germinated": one.germinated} for n, one in rows],
        )


def _remember(bank: Bank, tx: Change, receipt_id: int, plan: _Plan, stored: Stored) -> None:
    """Keep the codes that things had there beside our own."""
    item = plan.lot.first
    rows = [("batch", stored.batch_id, item.batch)]
    rows += [("vial", vial, each.code) for vial, each in zip(stored.vial_ids, plan.lot.items, strict=True)]
    if plan.clone is None:
        rows.append(("clone", queries.batch(bank, stored.batch_id).clone.id, item.clone))
    tx.insert_many(
        Alias, [{"receipt_id": receipt_id, "kind": kind, "row_id": row, "code": code} for kind, row, code in rows]
    )
