"""The place tree: adding, naming, setting conditions, moving a box."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sporebank.bank import paths, queries
from sporebank.bank.bank import Bank
from sporebank.bank.change import Change
from sporebank.bank.tables import Place
from sporebank.core import slots
from sporebank.core.errors import Refusal
from sporebank.core.records import PlaceKind
from sporebank.jobs.vials import Move, refuse_future, write_stay

#: A box larger than this is a typing slip.
MOST_SLOTS = 2500


@dataclass(frozen=True)
class PlaceForm:
    """A place as it is made or changed. Conditions left out are those of its parent."""

    kind: PlaceKind
    name: str
    parent_id: int | None = None
    temperature: float | None = None
    humidity: float | None = None
    rows: int = 0
    columns: int = 0


def check(bank: Bank, form: PlaceForm, place_id: int | None = None) -> tuple[tuple[str, str], ...]:
    """Return `(field, sentence)` for everything wrong with a place; `place_id` is its own where it exists already."""
    found: list[tuple[str, str]] = []
    if not form.name.strip() or paths.SEPARATOR.strip() in form.name:
        found.append(("name", "Give the place a name without a slash, such as Fridge 1."))
    elif _named(bank, form, place_id):
        found.append(("name", f"There is already a {form.name.strip()} here. Choose another name."))
    if form.temperature is not None and not -200 <= form.temperature <= 60:
        found.append(("temperature", "Give degrees Celsius between -200 and 60."))
    if form.humidity is not None and not 0 <= form.humidity <= 100:
        found.append(("humidity", "Relative humidity lies between 0 and 100 %."))
    sides = min(form.rows, form.columns)
    if form.kind is PlaceKind.BOX and (sides < 1 or form.rows * form.columns > MOST_SLOTS):
        found.append(("rows", f"A box has rows and columns, up to {MOST_SLOTS} slots in all."))
    if form.kind is PlaceKind.BOX and form.rows > 26 * 27:
        found.append(("rows", "A box cannot have so many rows."))
    return tuple(found)


def _named(bank: Bank, form: PlaceForm, place_id: int | None) -> bool:
    wanted = form.name.strip().casefold()
    return any(
        place.name.casefold() == wanted and place.parent_id == form.parent_id and place.id != place_id
        for place, _, _ in queries.places(bank)
    )


def add_place(bank: Bank, form: PlaceForm) -> int:
    """Make a new place and return its id."""
    for field, sentence in check(bank, form):
        raise Refusal(sentence, field=field)
    if form.parent_id is not None and queries.place(bank, form.parent_id)[0].kind is PlaceKind.BOX:
        raise Refusal("A box holds vials, not other places. Choose another parent.", field="parent_id")
    path, path_key = paths.path_below(bank, form.parent_id, form.name.strip())
    boxed = form.kind is PlaceKind.BOX
    with bank.change(f"Add {path}") as tx:
        return tx.insert(
            Place,
            code=tx.new_code("L"),
            parent_id=form.parent_id,
            kind=form.kind.value,
            name=form.name.strip(),
            temperature=form.temperature,
            humidity=form.humidity,
            rows=form.rows if boxed else 0,
            columns=form.columns if boxed else 0,
            path=path,
            path_key=path_key,
        )


def rename(bank: Bank, place_id: int, name: str) -> None:
    """Give a place another name; every path below follows."""
    place, path = queries.place(bank, place_id)
    form = PlaceForm(place.kind, name, place.parent_id, place.temperature, place.humidity, place.rows, place.columns)
    for field, sentence in check(bank, form, place_id):
        raise Refusal(sentence, field=field)
    with bank.change(f"Rename {path} to {name.strip()}") as tx:
        tx.update(Place, place_id, name=name.strip())
        paths.renew(bank, tx, place_id)


def set_conditions(bank: Bank, place_id: int, temperature: float | None, humidity: float | None, since: date) -> None:
    """Set what is met in a place from a day on; the vials inside begin a new stay that day."""
    place, path = queries.place(bank, place_id)
    form = PlaceForm(place.kind, place.name, place.parent_id, temperature, humidity, place.rows, place.columns)
    for field, sentence in check(bank, form, place_id):
        raise Refusal(sentence, field=field)
    refuse_future(since, bank.today(), "since")
    with bank.change(f"Set conditions of {path}") as tx:
        tx.update(Place, place_id, temperature=temperature, humidity=humidity)
        _restay(bank, tx, place_id, since)


def move_place(bank: Bank, place_id: int, parent_id: int | None, on: date) -> None:
    """Put a box, or any place, into another; the vials inside begin a new stay that day."""
    place, path = queries.place(bank, place_id)
    refuse_future(on, bank.today(), "on")
    target = "the top" if parent_id is None else queries.place(bank, parent_id)[1]
    if parent_id in queries.subtree(bank, place_id):
        raise Refusal("A place cannot go into itself. Choose another parent.", field="parent_id")
    if parent_id is not None and queries.place(bank, parent_id)[0].kind is PlaceKind.BOX:
        raise Refusal("A box holds vials, not other places. Choose another parent.", field="parent_id")
    form = PlaceForm(place.kind, place.name, parent_id, place.temperature, place.humidity, place.rows, place.columns)
    for field, sentence in check(bank, form, place_id):
        raise Refusal(sentence, field="parent_id" if field == "name" else field)
    with bank.change(f"Move {path} to {target}") as tx:
        tx.update(Place, place_id, parent_id=parent_id)
        paths.renew(bank, tx, place_id)
        _restay(bank, tx, place_id, on)


def _restay(bank: Bank, tx: Change, place_id: int, on: date) -> None:
    """Begin a new stay for every vial inside, under the conditions now met there.

    A vial that came in after that day keeps its own day of coming.
    """
    for inside in queries.subtree(bank, place_id):
        boxed = queries.box_vials(bank, inside)
        histories = queries.stays(bank, [row.id for _, row in boxed])
        for slot, row in boxed:
            since = max(on, histories[row.id][-1].since)
            write_stay(bank, tx, Move(row.id, inside, slot), since)


def moves_into(bank: Bank, vial_ids: Sequence[int], place_id: int, slot: int) -> list[Move]:
    """Put vials into a box from a slot on, in their order, each into the next slot that no other vial takes.

    Raises:
        Refusal: the box has too few free slots from there on.
    """
    place, path = queries.place(bank, place_id)
    moving = set(vial_ids)
    taken = {at for at, row in queries.box_vials(bank, place_id) if row.id not in moving}
    free = [at for at in range(slot, place.rows * place.columns) if at not in taken]
    if slot in taken:
        raise Refusal(f"{slots.label(slot, place.columns)} of {path} is taken. Choose a free slot.", field="places")
    if len(free) < len(vial_ids):
        start = slots.label(slot, place.columns)
        raise Refusal(f"{path} has {len(free)} free slots from {start} on. Begin further up, or choose another box.")
    return [Move(vial_id, place_id, at) for vial_id, at in zip(vial_ids, free, strict=False)]
