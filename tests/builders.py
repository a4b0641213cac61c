"""Small builders of banks and of what is in them."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from sporebank.bank import bank as banks
from sporebank.bank import invariants, tables
from sporebank.bank.bank import Bank
from sporebank.bank.opening import create, open_bank
from sporebank.bank.sql import rows as read
from sporebank.core.dates import PartDate
from sporebank.core.records import Contact, Permission, PlaceKind, Replicate, SporeClass
from sporebank.jobs import figures
from sporebank.jobs.places import PlaceForm, add_place
from sporebank.jobs.sharing import RequestForm, Wish, add_request, save_contact
from sporebank.jobs.store import NewClone, Portion, Stored, StoreForm, propose_places, store_batch
from sporebank.jobs.testing import TestForm, record_test

TODAY = date(2026, 3, 14)

#: The figures of vials with what is foreseen of each, but for the numbers of outlooks, which are given out anew.
EVERY_FIGURE = """SELECT vial_id, surplus, advice, clone_good, outlook.batch_id, on_day, state, low, middle, high,
    chance_below, crosses_earliest, crosses, crosses_latest, next_test, first_day, last_day, ends, tested, unsettled
    FROM figure JOIN outlook ON outlook.id = outlook_id"""


class Clock:
    """A clock that tests set by hand."""

    def __init__(self, day: date = TODAY) -> None:
        self.day = day

    def __call__(self) -> datetime:
        return datetime(self.day.year, self.day.month, self.day.day, 9, 30)


def empty_bank(path: Path, name: str, clock: banks.Clock) -> Bank:
    """Make an empty bank, as a copy of the first of its name and moment: making its tables takes much longer."""
    path.write_bytes(_empty_file(name, clock()))
    return open_bank(path, clock)


@cache
def _empty_file(name: str, made: datetime) -> bytes:
    with TemporaryDirectory() as folder:
        bank = create(Path(folder) / "empty.sporebank", name, lambda: made)
        bank.close()
        return bank.path.read_bytes()


def new_bank(folder: Path, name: str = "Glasshouse bank", clock: Clock | None = None) -> Bank:
    """Make an empty bank whose figures follow its deeds."""
    bank = empty_bank(folder / "glasshouse.sporebank", name, clock or Clock())
    figures.keep_fresh(bank)
    return bank


def figured(bank: Bank, vial_id: int, *, surplus: bool = False, **foreseen: object) -> None:
    """Give a vial figures of a test's own, by the columns of its outlook."""
    (batch_id,) = read(bank, "SELECT batch_id FROM vial WHERE id = ?", vial_id)[0]
    outlook = {"id": vial_id, "batch_id": batch_id, "on_day": TODAY.isoformat(), **foreseen}
    tables.Outlook.insert(outlook).execute(bank.database)
    tables.Figure.insert(vial_id=vial_id, outlook_id=vial_id, surplus=surplus).execute(bank.database)


def fridge(bank: Bank, boxes: int = 1, rows: int = 9, columns: int = 9) -> list[int]:
    """Add a fridge at 4 degrees with so many boxes; return the ids of the boxes."""
    room = add_place(bank, PlaceForm(PlaceKind.ROOM, "Potting shed", temperature=20.0, humidity=50.0))
    cold = add_place(bank, PlaceForm(PlaceKind.FRIDGE, "Fridge 1", room, temperature=4.0, humidity=15.0))
    return [
        add_place(bank, PlaceForm(PlaceKind.BOX, f"Box {number}", cold, rows=rows, columns=columns))
        for number in range(1, boxes + 1)
    ]


def clone(code: str = "C-01", **more: object) -> NewClone:
    """Return a clone that may be shared."""
    return NewClone(code, **{"permission": Permission.YES, **more})  # type: ignore[arg-type]  # fields by name


def batch_form(bank: Bank, name: str = "Dryopteris affinis", **more: object) -> StoreForm:
    """Return a filled form of three vials of 10 mg."""
    vials = int(more.pop("vials", 3))  # type: ignore[call-overload]  # a number
    each = int(more.pop("each", 10_000))  # type: ignore[call-overload]  # a number
    spots = propose_places(bank, vials)
    spots += [(None, None)] * (vials - len(spots))  # type: ignore[list-item]  # no free slot: not put away
    fields = {
        "taxon": name,
        "clone": clone(),
        "collected": PartDate(2025, 8, 14),
        "portions": tuple(Portion(each, place, slot) for place, slot in spots),
        "stored_on": date(2025, 8, 20),
        "spore_class": SporeClass.NON_GREEN,
        **more,
    }
    return StoreForm(**fields)  # type: ignore[arg-type]  # fields by name


def stored(bank: Bank, name: str = "Dryopteris affinis", **more: object) -> Stored:
    """Store a batch of three vials of 10 mg."""
    return store_batch(bank, batch_form(bank, name, **more))


def counted(bank: Bank, batch_id: int, germinated: int, sown: int = 100, on: date = date(2026, 1, 10)) -> int:
    """Record a test of one replicate."""
    return record_test(bank, TestForm(batch_id, None, on, on, (Replicate(sown, germinated),)))


def asked(bank: Bank, *wishes: Wish, who: str = "Marit Olden", on: date = TODAY) -> int:
    """Add a person and a request of these wishes."""
    contact_id = save_contact(bank, Contact(0, who, country="NL"))
    return add_request(bank, RequestForm(contact_id, on, wishes))


def caught_up(bank: Bank) -> None:
    """Bring all figures up to date, as the window does behind the keeper's work."""
    for piece in figures.chunks(bank):
        piece(bank)


def sound(bank: Bank) -> None:
    """Fail where any invariant of the bank does not hold."""
    assert invariants.broken(bank) == []
