"""Changing what is on record: of a clone, of a batch, of a name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Batch, Clone, Giving, Line, Offering
from sporebank.bank.tables import Taxon as TaxonTable
from sporebank.core import codes, names
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.genera import default_spore_class
from sporebank.core.records import SporeClass, Taxon, TaxonName
from sporebank.formats.tables import load_cautions, load_genera, load_spore_classes
from sporebank.jobs.store import (
    BatchForm,
    NewClone,
    Problem,
    batch_columns,
    canonical,
    check_cleaning,
    check_clone,
    check_old_name,
    clone_columns,
    genus_remark,
)


@dataclass(frozen=True)
class CloneForm(NewClone):
    """What may be changed of a clone: all that was said when it came, and under which name it did."""

    received_as: str = ""


@dataclass(frozen=True)
class TaxonForm:
    """What may be changed of a name: the name itself, and what is noted of it. `spore_class` is for batches to come."""

    name: str
    spore_class: SporeClass
    verified: bool = False
    old_name: str = ""
    family: str = ""


@dataclass(frozen=True)
class Renamed:
    """How a name was read, what goes with its genus, and the taxon of the bank that it already is, if any."""

    name: TaxonName
    family: str
    spore_class: SporeClass
    joined: Taxon | None
    remark: str


def change_clone(bank: Bank, clone_id: int, form: CloneForm) -> None:
    """Change what is on record of a clone.

    Raises:
        Refusal: its code is taken, its parent is unknown or descends from it, or it came on a day still to come.
    """
    _refuse_first(_check_clone(bank, clone_id, form))
    parent = queries.clone_by_code(bank, form.parent) if form.parent else None
    columns = clone_columns(form, None if parent is None else parent.id)
    with bank.change(f"Change clone {form.code.strip()}") as tx:
        tx.update(Clone, clone_id, **columns, received_as=form.received_as)


def _check_clone(bank: Bank, clone_id: int, form: CloneForm) -> list[Problem]:
    found = check_clone(bank, form, clone_id)
    parent = queries.clone_by_code(bank, form.parent) if form.parent else None
    if parent is not None and clone_id in queries.raised_from(bank, parent.id):
        why = "itself" if parent.id == clone_id else f"{parent.code}, which was raised from it"
        found.append(("parent", f"It cannot have been raised from {why}. Give another clone, or none."))
    if form.acquired is not None and form.acquired.first() > bank.today():
        found.append(("acquired", f"{form.acquired.label()} is still to come. Give the day or the year it came."))
    return found


def change_batch(bank: Bank, batch_id: int, form: BatchForm) -> None:
    """Change what is on record of a batch; its forecasts follow.

    Raises:
        Refusal: a day does not agree with the others, with the vials' storing or with a test; or a number is odd.
    """
    _refuse_first([*_check_days(bank, batch_id, form), *check_cleaning(form)])
    batch = queries.batch(bank, batch_id)
    with bank.change(f"Change batch {codes.grouped(batch.code)}") as tx:
        tx.update(Batch, batch_id, **batch_columns(form))


def _check_days(bank: Bank, batch_id: int, form: BatchForm) -> list[Problem]:
    found: list[Problem] = []
    stored, tested = queries.batch_began(bank, batch_id)
    first = form.collected.first()
    if stored is not None and first > stored:
        found.append(("collected", f"It was stored on {day_label(stored)}; it cannot have been collected after."))
    if tested is not None and first > tested:
        found.append(("collected", f"It was tested on {day_label(tested)}; it cannot have been collected after."))
    if first > bank.today():
        found.append(("collected", "This day has not come yet. Give the day, the month or the year of collecting."))
    if form.cleaned_on is not None and form.cleaned_on < first:
        found.append(("cleaned_on", "It cannot be cleaned before it is collected."))
    if form.cleaned_on is not None and form.cleaned_on > (stored or bank.today()):
        found.append(("cleaned_on", "It cannot be cleaned after the day it is stored."))
    return found


def look_ahead(bank: Bank, taxon_id: int, text: str) -> Renamed:
    """Read a name as typed and tell what would come of giving it to a taxon; nothing is written.

    Raises:
        Refusal: the text is no name.
    """
    name, own = replace(names.parse(text), authorship=""), queries.taxon(bank, taxon_id)
    if name.genus == own.name.genus:
        family, spore_class = own.family, own.spore_class
    else:
        family = load_genera().family(name.genus) or ""
        spore_class, _ = default_spore_class(name.genus, load_genera(), load_spore_classes())
    other = queries.taxon_named(bank, names.text(name))
    joined = None if other is None or other.id == taxon_id else other
    return Renamed(name, family, spore_class, joined, genus_remark(name.genus))


def change_taxon(bank: Bank, taxon_id: int, form: TaxonForm) -> int:
    """Change a name and what is noted of it; return the id under which its clones stand from now on.

    Where the bank has the right name already, the clones and the wishes for them move over to it, and the wrong name
    is taken out; what is noted of the right one stays, and gains the old name where it has none.

    Raises:
        Refusal: the name or the old name is none, or the name is kept as the old one of another.
    """
    _refuse_first(_check_taxon(bank, taxon_id, form))
    before = names.text(queries.taxon(bank, taxon_id).name)
    name = names.text(names.parse(form.name))
    other = queries.taxon_named(bank, name)
    if other is not None and other.id != taxon_id:
        _join(bank, taxon_id, other.id, form)
        return other.id
    title = f"Change what is noted of {name}" if name == before else f"Change the name {before} to {name}"
    with bank.change(title) as tx:
        tx.update(TaxonTable, taxon_id, **_columns(form))
    return taxon_id


def _check_taxon(bank: Bank, taxon_id: int, form: TaxonForm) -> list[Problem]:
    try:
        name = canonical(form.name)
    except Refusal as refusal:
        return [("name", str(refusal))]
    if not name:
        return [("name", "Write the name. Begin with the genus, as in Dryopteris affinis.")]
    found = check_old_name(form.old_name, form.name)
    own, accepted = names.text(queries.taxon(bank, taxon_id).name), queries.old_names(bank).get(name, "")
    if accepted not in ("", own) and queries.taxon_named(bank, name) is None:
        found.append(("name", f"The bank keeps this as the old name of {accepted}. Write that name to join it."))
    return found


def _columns(form: TaxonForm) -> dict[str, object]:
    name = names.parse(form.name)
    return {
        "name": names.text(name),
        "sort_key": names.sort_key(name),
        "family": form.family or load_genera().family(name.genus) or "",
        "spore_class": form.spore_class.value,
        "verified": int(form.verified),
        "old_name": canonical(form.old_name),
        "invasive_note": load_cautions().invasive(name),
    }


def _join(bank: Bank, wrong_id: int, right_id: int, form: TaxonForm) -> None:
    wrong, right = queries.taxon(bank, wrong_id), queries.taxon(bank, right_id)
    with bank.change(f"Join {names.text(wrong.name)} to {names.text(right.name)}") as tx:
        for clone in queries.clones_of(bank, wrong_id):
            tx.update(Clone, clone.id, taxon_id=right_id)
        for line_id in queries.wishes_for(bank, wrong_id):
            tx.update(Line, line_id, taxon_id=right_id)
        for offering_id in queries.offerings_of(bank, wrong_id):
            tx.update(Offering, offering_id, taxon_id=right_id)
        way = queries.giving_row(bank, taxon_id=wrong_id)
        if way is not None:
            kept = queries.giving_row(bank, taxon_id=right_id) is None
            tx.update(Giving, way, **({"taxon_id": right_id} if kept else {"void": 1}))
        tx.update(TaxonTable, wrong_id, void=1)
        tx.update(
            TaxonTable,
            right_id,
            verified=int(right.verified or form.verified),
            old_name=right.old_name or canonical(form.old_name),
        )


def _refuse_first(problems: Sequence[Problem]) -> None:
    for field, sentence in problems:
        raise Refusal(sentence, field=field)
