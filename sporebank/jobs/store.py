"""Storing a cleaned batch: the name, the clone, the batch, its vials and their places, in one deed."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Batch, Clone, Taxon, Vial
from sporebank.core import amounts, names
from sporebank.core.counted import counted
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.genera import default_spore_class
from sporebank.core.layout import Kind
from sporebank.core.records import Basis, Before, Cleaning, Permission, Reason, Source, SporeClass, TaxonName
from sporebank.core.sorting import natural
from sporebank.formats import countries
from sporebank.formats.tables import load_cautions, load_genera, load_spore_classes
from sporebank.jobs import labels

Problem = tuple[str, str]


@dataclass(frozen=True)
class NewName:
    """What is known of a name as it is typed: how it was read, and what the keeper should know about it."""

    name: TaxonName
    text: str
    taxon_id: int | None
    family: str
    spore_class: SporeClass
    class_reason: str
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class NewClone:
    """A clone made while storing; only the code is demanded."""

    code: str
    source: Source = Source.UNKNOWN
    origin: str = ""
    acquired: PartDate | None = None
    acquired_from: str = ""
    permission: Permission = Permission.UNKNOWN
    permit_note: str = ""
    network_number: str = ""
    parent: str = ""
    note: str = ""
    country: str = ""


@dataclass(frozen=True)
class Portion:
    """What goes into one vial, and where the vial goes; no place means not put away yet."""

    micrograms: int
    place_id: int | None = None
    slot: int | None = None


@dataclass(frozen=True, kw_only=True)
class BatchForm:
    """How a batch was collected and cleaned, and how its spore keeps."""

    collected: PartDate
    spore_class: SporeClass
    fronds: int | None = None
    cleaned_on: date | None = None
    cleaning: Cleaning = Cleaning.TILTED
    screen_um: int | None = None
    minutes: int | None = None
    purity: int | None = None
    purity_basis: Basis = Basis.EYE
    before: Before = Before.ROOM
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class StoreForm(BatchForm):
    """Everything the Store page collects. `clone` is a clone's id or a new one."""

    taxon: str
    clone: int | NewClone
    portions: tuple[Portion, ...]
    stored_on: date
    received_as: str = ""
    old_name: str = ""
    verified: bool = False
    amount_basis: Basis = Basis.WEIGHED
    amount_said: str = ""


@dataclass(frozen=True)
class Stored:
    """The batch just stored and its vials."""

    batch_id: int
    batch: str
    vial_ids: tuple[int, ...]


def look_up(bank: Bank, text: str) -> NewName:
    """Read a name as typed and tell what the bank and the tables know of it.

    Raises:
        Refusal: the text is no name.
    """
    name = names.parse(text)
    known, accepted = queries.taxon_named(bank, names.text(name)), queries.old_names(bank).get(names.text(name))
    if known is None and accepted is not None:
        name = names.parse(accepted)
        known = queries.taxon_named(bank, accepted)
    genera = load_genera()
    spore_class, reason = default_spore_class(name.genus, genera, load_spore_classes())
    return NewName(
        name=name,
        text=names.text(name),
        taxon_id=None if known is None else known.id,
        family=genera.family(name.genus) or "",
        spore_class=spore_class if known is None else known.spore_class,
        class_reason=reason if known is None else "As this bank has it for the taxon.",
        remarks=_remarks(text, name, accepted, known_here=known is not None),
    )


def _remarks(text: str, name: TaxonName, accepted: str | None, *, known_here: bool) -> tuple[str, ...]:
    remarks: list[str] = []
    if accepted == names.text(name):
        remarks.append(f"“{text.strip()}” is an old name here; the accepted one is {accepted}.")
    elif accepted is not None:
        remarks.append(f"The bank has this name, and also as the old name of {accepted}.")
    remarks.extend(filter(None, [genus_remark(name.genus)]))
    if not known_here:
        remarks.append("New to this bank; it is marked unverified until you say otherwise.")
    remarks.extend(filter(None, (load_cautions().invasive(name), load_cautions().protected(name))))
    return tuple(remarks)


def genus_remark(genus: str) -> str:
    """Return what is odd about a genus: that the table, or its newer list, does not have it; else nothing."""
    genera = load_genera()
    row = genera.get(genus)
    if row is None:
        near = genera.near(genus)
        hint = f" Do you mean {' or '.join(near)}?" if near else ""
        return f"The genus {genus} is not in the table of genera.{hint}"
    return "" if row.in_2025 else f"{genus} stands in the list of 2016 but no longer in the working list of May 2025."


def propose_places(bank: Bank, count: int, near: int | None = None) -> list[tuple[int, int]]:
    """Return the next free `(box, slot)` for so many vials; fewer when the boxes are full."""
    return queries.free_slots(bank, count, near)


def check(bank: Bank, form: StoreForm) -> tuple[Problem, ...]:
    """Return `(field, sentence)` for everything that keeps the form from being stored."""
    found: list[Problem] = []
    try:
        names.parse(form.taxon)
    except Refusal as refusal:
        found.append(("taxon", str(refusal)))
    if isinstance(form.clone, NewClone):
        found.extend(check_clone(bank, form.clone))
    elif not found:
        found.extend(_check_taxon_of(bank, form.clone, form.taxon))
    found.extend(check_old_name(form.old_name, form.taxon))
    found.extend(_check_dates(form, bank.today()))
    found.extend(check_cleaning(form))
    found.extend(_check_portions(bank, form.portions))
    return tuple(found)


def check_clone(bank: Bank, clone: NewClone, own_id: int | None = None) -> list[Problem]:
    """Return what is wrong with a clone, a new one or one the bank has already."""
    found: list[Problem] = []
    other = queries.clone_by_code(bank, clone.code)
    if not clone.code.strip():
        found.append(("clone_code", "Give the clone a code of your own, such as C-14."))
    elif other is not None and other.id != own_id:
        found.append(("clone_code", f"The code {other.code} is taken. Choose that clone, or another code."))
    if not countries.fits(clone.country):
        found.append(("country", countries.ASK))
    if clone.parent and queries.clone_by_code(bank, clone.parent) is None:
        found.append(("parent", f"There is no clone {clone.parent.strip()} that it could come from."))
    return found


def _check_taxon_of(bank: Bank, clone_id: int, text: str) -> list[Problem]:
    clone = queries.clone(bank, clone_id)
    own = names.text(clone.taxon.name)
    if look_up(bank, text).text == own:
        return []
    return [("taxon", f"Clone {clone.code} is {own}. Write that name, or make a new clone.")]


def check_old_name(text: str, taxon: str) -> list[Problem]:
    """Return what is wrong with the old name of a taxon."""
    try:
        old = canonical(text)
    except Refusal as refusal:
        return [("old_name", str(refusal))]
    with suppress(Refusal):  # that the taxon is no name is said beside the taxon
        if old and old == canonical(taxon):
            return [("old_name", "This is the name itself. Leave the old name empty, or give another.")]
    return []


def canonical(text: str) -> str:
    """Return a name as the bank writes it, so that it is found again however it is typed; nothing stays nothing."""
    return names.text(names.parse(text)) if text.strip() else ""


def _check_dates(form: StoreForm, today: date) -> list[Problem]:
    found: list[Problem] = []
    if form.stored_on > today:
        found.append(("stored_on", "This day has not come yet. Give today or an earlier day."))
    if form.collected.first() > form.stored_on:
        found.append(("collected", "Spore cannot be collected after the day it is stored."))
    if form.cleaned_on is not None:
        if form.cleaned_on < form.collected.first():
            found.append(("cleaned_on", "It cannot be cleaned before it is collected."))
        if form.cleaned_on > form.stored_on:
            found.append(("cleaned_on", "It cannot be cleaned after the day it is stored."))
    return found


def check_cleaning(form: BatchForm) -> list[Problem]:
    """Return what is wrong with how a batch was worked clean."""
    found: list[Problem] = []
    screened = form.cleaning in (Cleaning.SCREENED, Cleaning.BOTH)
    if screened and not form.screen_um:
        found.append(("screen_um", "Which screen? Give its opening in micrometres, such as 75."))
    limits = {"fronds": (0, 10_000), "minutes": (0, 10_000), "purity": (0, 100), "screen_um": (5, 5600)}
    for field, (low, high) in limits.items():
        value = getattr(form, field)
        if value is not None and not low <= value <= high:
            found.append((field, f"This must lie between {low} and {high}."))
    return found


def _check_portions(bank: Bank, portions: Sequence[Portion]) -> list[Problem]:
    if not portions:
        return [("vials", "Say into how many vials it goes; one is enough.")]
    found: list[Problem] = []
    if any(portion.micrograms <= 0 for portion in portions):
        found.append(("amount", "Every vial needs some spore in it. Give an amount, or use fewer vials."))
    slots = [(portion.place_id, portion.slot) for portion in portions if portion.slot is not None]
    if len(set(slots)) < len(slots):
        found.append(("places", "Two vials cannot share a slot. Choose another slot for one of them."))
    for place_id in {place_id for place_id, _ in slots if place_id is not None}:
        place, path = queries.place(bank, place_id)
        taken = {slot for slot, _ in queries.box_vials(bank, place_id)}
        for _, slot in (spot for spot in slots if spot[0] == place_id):
            if slot is not None and (slot in taken or not 0 <= slot < place.rows * place.columns):
                found.append(("places", f"A slot chosen in {path} is not free. Choose another."))
                break
    return found


def store_batch(bank: Bank, form: StoreForm) -> Stored:
    """Store a batch: everything on the form, or nothing.

    Raises:
        Refusal: the first problem that `check` finds, or the file itself said no.
    """
    for field, sentence in check(bank, form):
        raise Refusal(sentence, field=field)
    name = look_up(bank, form.taxon)
    total = amounts.show(sum(portion.micrograms for portion in form.portions))
    with bank.change(f"Store batch of {name.text}, {total} in {counted(len(form.portions), 'vial')}") as tx:
        return write_batch(bank, tx, form)


def write_batch(bank: Bank, tx: Change, form: StoreForm) -> Stored:
    """Write a batch that `check` found nothing against, with its name and its clone where they are new."""
    name = look_up(bank, form.taxon)
    taxon_id = _learn(bank, tx, form, name.taxon_id) if name.taxon_id else _new_taxon(tx, form, name)
    clone_id = form.clone if isinstance(form.clone, int) else _new_clone(bank, tx, form, form.clone, taxon_id)
    batch = tx.new_code("B")
    batch_id = tx.insert(
        Batch,
        code=batch,
        clone_id=clone_id,
        amount_basis=form.amount_basis.value,
        amount_said=form.amount_said,
        **batch_columns(form),
    )
    vial_ids = tuple(
        _new_vial(bank, tx, form, batch_id, number, portion) for number, portion in enumerate(form.portions, start=1)
    )
    labels.ask(bank, tx, Kind.VIAL, vial_ids)
    return Stored(batch_id, batch, vial_ids)


def batch_columns(form: BatchForm) -> dict[str, object]:
    """Return the columns of a batch that the form is about."""
    return {
        "collected": form.collected.iso(),
        "cleaned_on": None if form.cleaned_on is None else form.cleaned_on.isoformat(),
        "fronds": form.fronds,
        "cleaning": form.cleaning.value,
        "screen_um": form.screen_um,
        "minutes": form.minutes,
        "purity": form.purity,
        "purity_basis": form.purity_basis.value,
        "spore_class": form.spore_class.value,
        "before": form.before.value,
        "note": form.note,
    }


def clone_columns(clone: NewClone, parent_id: int | None) -> dict[str, object]:
    """Return the columns of a clone that the form is about."""
    code = clone.code.strip()
    return {
        "code": code,
        "sort_key": natural(code),
        "source": clone.source.value,
        "origin": clone.origin,
        "country": clone.country.strip().upper(),
        "acquired": None if clone.acquired is None else clone.acquired.iso(),
        "acquired_from": clone.acquired_from,
        "permission": clone.permission.value,
        "permit_note": clone.permit_note,
        "network_number": clone.network_number,
        "parent_id": parent_id,
        "note": clone.note,
    }


def _learn(bank: Bank, tx: Change, form: StoreForm, taxon_id: int) -> int:
    """Keep what the form adds to a name the bank has: that it is verified, and an old name where none is noted."""
    known = queries.taxon(bank, taxon_id)
    tx.update(
        Taxon,
        taxon_id,
        verified=int(known.verified or form.verified),
        old_name=known.old_name or canonical(form.old_name),
    )
    return taxon_id


def _new_clone(bank: Bank, tx: Change, form: StoreForm, clone: NewClone, taxon_id: int) -> int:
    parent = queries.clone_by_code(bank, clone.parent) if clone.parent else None
    typed = form.taxon.strip()
    received = form.received_as or (typed if typed != names.text(queries.taxon(bank, taxon_id).name) else "")
    heir = replace(clone, network_number=clone.network_number or (parent.network_number if parent else ""))
    columns = clone_columns(heir, None if parent is None else parent.id)
    return tx.insert(Clone, taxon_id=taxon_id, received_as=received, **columns)


def _new_taxon(tx: Change, form: StoreForm, name: NewName) -> int:
    return tx.insert(
        Taxon,
        name=name.text,
        sort_key=names.sort_key(name.name),
        family=name.family,
        spore_class=form.spore_class.value,
        verified=int(form.verified),
        old_name=canonical(form.old_name),
        invasive_note=load_cautions().invasive(name.name),
    )


def _new_vial(bank: Bank, tx: Change, form: StoreForm, batch_id: int, number: int, portion: Portion) -> int:
    vial_id = tx.insert(Vial, code=tx.new_code("V"), batch_id=batch_id, number=number)
    day = form.stored_on.isoformat()
    tx.move_spore(
        vial_id,
        on_day=day,
        micrograms=portion.micrograms,
        reason=Reason.STORED.value,
        basis=form.amount_basis.value,
    )
    if portion.place_id is not None:
        temperature, humidity = queries.conditions(bank, portion.place_id)
        tx.place(
            vial_id,
            since=day,
            place_id=portion.place_id,
            slot=portion.slot,
            temperature=temperature,
            humidity=humidity,
        )
    return vial_id
