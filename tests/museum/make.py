"""Make the bank file of the current schema that the museum keeps: python -m tests.museum.make

Run it once for a new schema, before that schema is released, and never for an older one: a bank file in the museum
is proof that what keepers have on their disks still opens. It holds one of everything that a bank can hold.
"""

from __future__ import annotations

import sqlite3
import sys
from contextlib import closing
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from sporebank.bank import queries, upgrades
from sporebank.bank.bank import Bank
from sporebank.bank.opening import create
from sporebank.core import asking as typed
from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.donations import Gift
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.layout import Kind
from sporebank.core.looks import LookKind
from sporebank.core.orders import Alternatives, Rules, Standing
from sporebank.core.permits import Permit, PermitKind
from sporebank.core.records import (
    Basis,
    Cleaning,
    Contact,
    Permission,
    PlaceKind,
    Reason,
    Replicate,
    Source,
    SporeClass,
)
from sporebank.core.results import ComplaintKind
from sporebank.core.settings import Settings
from sporebank.core.sheets import PrinterFit
from sporebank.core.surplus import RELEASED, Way
from sporebank.jobs import (
    allotting,
    asking,
    culling,
    donations,
    exchange,
    figures,
    label_stock,
    labels,
    looks,
    money,
    packing,
    parcel_checks,
    people,
    results,
    sharing,
    sharing_round,
    sowing,
    store,
    testing,
    undo,
    vials,
)
from sporebank.jobs.places import PlaceForm, add_place, move_place, rename, set_conditions
from sporebank.jobs.settings import change_settings
from tests.builders import TODAY, Clock

MUSEUM = Path(__file__).resolve().parent


def make(path: Path) -> None:
    """Write a small bank with one of everything to a new file."""
    bank = create(path, "Museum fernery", Clock())
    try:
        change_settings(bank, Settings(keeper="Odile Marchbank", reserve_ug=1_000))
        boxes = _furnish(bank)
        first = _store(bank, boxes[0])
        _work(bank, first, boxes)
        figures.refresh_all(bank)
        _share(bank, first)
        _exchange(bank)
        _label(bank, first)
        _take_back(bank, first)
        figures.refresh_all(bank)
    finally:
        bank.close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = delete")
        connection.execute("VACUUM")
    path.with_name(f".{path.name}.lock").unlink(missing_ok=True)


def _furnish(bank: Bank) -> list[int]:
    shed = add_place(bank, PlaceForm(PlaceKind.ROOM, "Potting shed", temperature=18.5, humidity=55.0))
    cold = add_place(bank, PlaceForm(PlaceKind.FRIDGE, "Fridge", shed, temperature=4.0, humidity=15.0))
    return [
        add_place(bank, PlaceForm(PlaceKind.BOX, f"Box {number}", cold, rows=9, columns=9)) for number in range(1, 3)
    ]


def _store(bank: Bank, box: int) -> store.Stored:
    parent = store.NewClone(
        "R-01",
        source=Source.RECEIVED,
        origin="As a packet in the winter round",
        acquired=PartDate(2021, 2),
        acquired_from="Marit Olden",
        permission=Permission.YES,
        permit_note="Letter in the blue folder",
        network_number="XX-0-VALSO-1998/0417",
        note="Slow in its first year",
    )
    form = store.StoreForm(
        taxon="Polystichum setiferum (Plumosodivisilobum Group) 'Dahlem'",
        clone=parent,
        collected=PartDate(2025, 8),
        portions=tuple(store.Portion(10_000, box, slot) for slot in range(4)),
        stored_on=date(2025, 9, 1),
        spore_class=SporeClass.NON_GREEN,
        received_as="Polystichum 'Dahlem'",
        verified=True,
        fronds=12,
        cleaned_on=date(2025, 8, 30),
        cleaning=Cleaning.BOTH,
        screen_um=106,
        minutes=25,
        purity=95,
        purity_basis=Basis.CHAMBER,
        amount_basis=Basis.VOLUME,
        amount_said="83 mm³",
        note="Picked after rain",
    )
    done = store.store_batch(bank, form)
    child = store.StoreForm(
        taxon="Struthiopteris spicant",
        clone=store.NewClone("R-02", permission=Permission.ASK, parent="R-01"),
        collected=PartDate(2019),
        portions=(store.Portion(2_000),),
        stored_on=date(2025, 9, 2),
        spore_class=SporeClass.NON_GREEN,
        old_name="Blechnum spicant",
    )
    store.store_batch(bank, child)
    return done


def _work(bank: Bank, batch: store.Stored, boxes: list[int]) -> None:
    first, second, third, fourth = batch.vial_ids
    vials.take(bank, vials.TakeForm(first, 500, Reason.LOSS, TODAY, Basis.EYE, "Spilt"))
    vials.correct(bank, second, 9_800, TODAY, Basis.WEIGHED, "Weighed again")
    vials.move(bank, [vials.Move(third, boxes[1], 80)], TODAY)
    vials.note(bank, [first, second], "Smells of cellar")
    counts = (Replicate(100, 81), Replicate(100, 77))
    form = testing.TestForm(batch.batch_id, second, date(2026, 1, 10), date(2026, 2, 2), counts, "agar", 20.0, "12 h")
    testing.record_test(bank, form)
    mouldy = testing.TestForm(batch.batch_id, first, date(2026, 1, 10), date(2026, 2, 2), (Replicate(100, 4),))
    testing.leave_out(bank, testing.record_test(bank, mouldy), "Mould on the dish")
    sowing.sow(bank, sowing.SowForm(first, "Bench room", TODAY, 3, 300, "Under lamps"))
    rename(bank, boxes[1], "Box 2 (old)")
    cold = queries.place(bank, boxes[0])[0].parent_id
    assert cold is not None
    set_conditions(bank, cold, 6.5, None, TODAY - timedelta(days=3))
    move_place(bank, boxes[1], None, TODAY)
    culling.cull(bank, [fourth], TODAY, {fourth: "Broken vial"})


def _share(bank: Bank, batch: store.Stored) -> None:
    """Leave three requests: one sent, one filled, one closed."""
    contact = Contact(0, "Clémence Aubry", "Jardin botanique", "1 allée des Fougères", "FR", "c@example.org", "Garden")
    contact_id = sharing.save_contact(bank, contact)
    clone_id = queries.batch(bank, batch.batch_id).clone.id
    wish = sharing.Wish(1, 2_000, clone_id=clone_id)
    ids = [sharing.add_request(bank, sharing.RequestForm(contact_id, TODAY, (wish,), "By post")) for _ in range(3)]
    for request_id in ids:
        sharing.keep_fill(bank, request_id, sharing.propose(bank, request_id))
    sharing.dispatch(bank, ids[0], TODAY)
    sharing.close_request(bank, ids[2])


def _exchange(bank: Bank) -> None:
    """Leave looks, a round with a donation and an order that was sent, what came of it, and a list open all year."""
    change_settings(bank, replace(bank.settings, country="GB"))
    pots = queries.pots(bank, queries.sowings(bank)[0].id)
    looks.record(bank, looks.LookForm(tuple(pot.id for pot in pots), TODAY, LookKind.FILM, note="Under lamps"))
    rules = Rules((Standing.DONOR, Standing.REST), Alternatives.RANKED, cap=4, extra=2)
    days = (TODAY, TODAY + timedelta(days=30), TODAY + timedelta(days=45))
    terms = Terms(rules, limited_below=3, currency="EUR", packet_cents=50, postage_cents=200)
    number = exchange.begin(bank, Exchange(0, "Spring round", Shape.ROUND, Stage.GATHERING, *days, terms, "By post"))
    given = (Gift("Dryopteris affinis", 6, PartDate(2025, 9), Source.WILD, "a gully", "NO", resealed=True),)
    donor = Contact(0, "Hedda Rosvik", country="NO")
    (batch_id,) = donations.take_in(bank, donations.DonationForm(number, 0, TODAY, given, donor))
    exchange.set_way(bank, Way(own_ug=500, packet_ug=1_000), clone_ids=[queries.batch(bank, batch_id).clone.id])
    exchange.hold(bank, [queries.batch(bank, batch_id).clone.id], RELEASED)
    exchange.add_lines(bank, number, [one.surplus.stock.clone_id for one in exchange.preview(bank, number)])
    exchange.number(bank, number)
    asked = typed.read("1", " ".join(str(one.number) for one in queries.listed(bank, number)[1:]))
    order = asking.OrderForm(number, 0, TODAY, asked, True, "Any will do", Contact(0, "Tom Arkwell", country="NL"))
    request_id = asking.keep_order(bank, order)
    sharing_round.set_hand(bank, request_id, queries.listed(bank, number)[0].id, sharing_round.PINNED)
    gathered = sharing_round.gather(bank, number)
    sharing_round.keep(bank, sharing_round.work_out(gathered, lambda *_: None, lambda: False))
    for piece in list(allotting.pieces(bank, number)):
        piece(bank)
    for packet in queries.request(bank, request_id).packets:
        packing.scan_in(bank, request_id, codes.parse(packet.code, bank.tag))
    packing.close(bank, request_id)
    money.pay(bank, request_id, 250, TODAY, "cash")
    for check in parcel_checks.checks(bank, queries.request(bank, request_id)):
        parcel_checks.answer(bank, request_id, check.caution.key, "asked, and told it may go")
    sharing.dispatch(bank, request_id, TODAY)
    told = [results.Told(one.packet_id, True, None, "Quickly") for one in queries.sent_of_request(bank, request_id)]
    results.record(bank, request_id, TODAY, told)
    results.complain(bank, results.ComplaintForm(batch_id, TODAY, ComplaintKind.STRANGER, note="A stray one"))
    who = queries.request(bank, request_id).contact.id
    people.save_permit(
        bank, Permit(0, who, PermitKind.IMPORT, "12/3", TODAY + timedelta(days=300), 6, "Copy in the file")
    )
    standing = Exchange(0, "All year", Shape.STANDING, Stage.GATHERING, TODAY, None, TODAY, Terms())
    exchange.begin(bank, standing)


def _label(bank: Bank, batch: store.Stored) -> None:
    """Leave labels printed and labels waiting, and a layout, a sheet and a printer of the keeper's own."""
    own = label_stock.stock(bank)
    label_stock.keep_layout(bank, replace(own.layouts[0], id="", title="My vial wrap"))
    sheet = replace(own.sheets[0], id="", title="The leftover sheets", left=5.0)
    own_sheet = replace(sheet, id=label_stock.keep_sheet(bank, sheet))
    fit = PrinterFit(0.6, -1.2, 1.004, 0.997, 600)
    label_stock.keep_printer(bank, label_stock.Printer(0, "Office printer", fit))
    chosen = batch.vial_ids[:2]
    labels.put_on_record(bank, labels.Run(Kind.VIAL, chosen, own.layouts[0].id, own_sheet, first_cell=3, copies=2))


def _take_back(bank: Bank, batch: store.Stored) -> None:
    """Leave a deed taken back, and one taken back and done again."""
    for again in (False, True):
        vials.take(bank, vials.TakeForm(batch.vial_ids[1], 700, Reason.GIFT, TODAY))
        undo.undo(bank)
        if again:
            undo.redo(bank)


def main() -> None:
    """Make the file for the current schema, unless it is there."""
    path = MUSEUM / f"schema_{upgrades.CURRENT:04d}.sporebank"
    if path.exists():
        sys.exit(f"{path.name} is in the museum already. It must stay as it was when its schema was released.")
    make(path)
    print(f"{path.name} is in the museum now.")


if __name__ == "__main__":
    main()
