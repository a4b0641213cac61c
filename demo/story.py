"""Ten years of the demo fernery, told day by day through the same jobs that the window uses.

A hidden truth stands behind every batch (how alive it was when fresh, how fast it ages); tests draw their counts from
it, so that what the bank forecasts can be right or wrong as in life.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from statistics import NormalDist

from demo import exchange, looks, scene
from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.opening import create
from sporebank.core import amounts
from sporebank.core.dates import PartDate
from sporebank.core.layout import Kind
from sporebank.core.records import (
    Advice,
    Basis,
    Cleaning,
    Contact,
    Permission,
    PlaceKind,
    Reason,
    Replicate,
    Source,
    SporeClass,
    VialFilter,
)
from sporebank.core.settings import Settings
from sporebank.formats.label_sheets import sheet_by_id
from sporebank.formats.tables import load_storage
from sporebank.jobs import culling, figures, label_stock, labels, parcel_checks, sharing, sowing, store, vials
from sporebank.jobs.places import PlaceForm, add_place, move_place, rename, set_conditions
from sporebank.jobs.settings import change_settings
from sporebank.jobs.testing import TestForm, record_test

FIRST = date(2016, 4, 2)
BATCHES, CLONES, REQUESTS = 297, 140, 45
POT_UG = 63.6 * 5.0 * amounts.SPORE_NG / 1000
"""Micrograms of fresh spore for a pot by the settings as they come; how alive the spore is is not yet reckoned then."""
LEAST_PRINTED = 18
LAST_PRINTED = date(2026, 5, 1)
SUPPLIES = {
    Kind.VIAL: ("vial-38-tall", "a4-5x13", LEAST_PRINTED),
    Kind.POT_ALONG: ("pot-48", "a4-4x16", LEAST_PRINTED),
    Kind.PACKET: ("packet-48", "a4-3x8", 1),
}
"""The layout and the sheet for each kind of label, and how many must wait to be worth printing."""
_NORMAL = NormalDist()


class Calendar:
    """The clock of the story; every deed comes a few minutes after the last."""

    def __init__(self) -> None:
        self.day = FIRST
        self._minute = 0

    def __call__(self) -> datetime:
        self._minute = (self._minute + 7) % 480
        return datetime.combine(self.day, datetime.min.time()) + timedelta(hours=9, minutes=self._minute)


@dataclass(frozen=True)
class Truth:
    """What nobody in the story knows: the probit of the fresh spore and the days to lose one, in a fridge."""

    fresh: float
    sigma: float
    collected: date


@dataclass
class Story:
    """The bank being told, with its clock and its chance."""

    bank: Bank
    calendar: Calendar
    chance: random.Random
    boxes: list[int]
    tray: int
    truths: dict[int, Truth]
    clones: dict[str, list[str]]
    codes: dict[str, int]


def build(path: Path) -> None:
    """Write the demo bank to a new file."""
    calendar = Calendar()
    bank = create(path, scene.NAME, calendar)
    try:
        story = Story(bank, calendar, random.Random(scene.SEED), [], 0, {}, {}, {})
        change_settings(bank, Settings(keeper=scene.KEEPER, country=scene.COUNTRY))
        _furnish(story)
        for day, deed in sorted(_plan(story), key=lambda planned: planned[0]):
            calendar.day = day
            deed(story)
            _print_labels(story)
        calendar.day = scene.TODAY
        _open_requests(story)
        figures.refresh_all(bank)
        exchange.tell(bank, lambda day: setattr(calendar, "day", day))
        calendar.day = scene.TODAY
        figures.refresh_all(bank)
        bank.fix_day(scene.TODAY)
    finally:
        bank.close()


def _print_labels(story: Story) -> None:
    """Print what waits once it is worth it, on what is left of the last sheet; the last few wait still."""
    bank = story.bank
    for kind, ids in labels.waiting(bank).items():
        layout_id, sheet, least = SUPPLIES[kind]
        if len(ids) >= least and story.calendar.day < LAST_PRINTED:
            free = label_stock.stock(bank).next_cells.get(sheet, 0)
            labels.put_on_record(bank, labels.Run(kind, ids, layout_id, sheet_by_id(sheet), free))


def _furnish(story: Story) -> None:
    """Add the rooms, two fridges, a freezer and their boxes, and the people."""
    bank = story.bank
    shed = add_place(bank, PlaceForm(PlaceKind.ROOM, "Potting shed", temperature=20.0, humidity=55.0))
    store_room = add_place(bank, PlaceForm(PlaceKind.ROOM, "Store room", temperature=16.0, humidity=50.0))
    story.tray = add_place(bank, PlaceForm(PlaceKind.BOX, "Drying tray", shed, rows=6, columns=10))
    colds = (
        ("Fridge 1", PlaceKind.FRIDGE, 4.0, 15.0, 8),
        ("Fridge 2", PlaceKind.FRIDGE, 5.0, 20.0, 6),
        ("Freezer", PlaceKind.FREEZER, -18.0, None, 2),
    )
    for name, kind, temperature, humidity, count in colds:
        cold = add_place(bank, PlaceForm(kind, name, store_room, temperature, humidity))
        for number in range(1, count + 1):
            box = PlaceForm(PlaceKind.BOX, f"Box {number}", cold, rows=9, columns=9)
            story.boxes.append(add_place(bank, box))
    for name, organisation, address, country, note in scene.PEOPLE:
        sharing.save_contact(bank, Contact(0, name, organisation, address, country, "", note))


def _plan(story: Story) -> list[tuple[date, Callable[[Story], None]]]:
    """Return the deeds of ten years, each with its day."""
    chance, plan = story.chance, []
    names = [taxon for taxon in scene.TAXA for _ in range(taxon[2])]
    chance.shuffle(names)
    chosen = [*scene.TAXA, *(names * 2)[: BATCHES - len(scene.TAXA)]]
    for number, (name, spore_class, _) in enumerate(chosen):
        year = 2016 + (number * 7 + chance.randrange(3)) % 10
        gathered = date(year, 6, 1) + timedelta(days=chance.randrange(140))
        stored = gathered + timedelta(days=chance.randrange(3, 20))
        plan.append((stored, _storing(name, spore_class, gathered)))
    for name, gathered in scene.FRESH:
        plan.append((gathered + timedelta(days=2), _storing(name, "", gathered, tray=True)))
    for year in range(2017, 2027):
        spring = date(year, 2, 10)
        rounds = 12 if year < 2024 else 34
        plan += [(spring + timedelta(days=chance.randrange(80)), _test_round) for _ in range(rounds)]
        plan += [(spring + timedelta(days=10 + 7 * week), _sow_one) for week in range(8)]
        plan += [(spring + timedelta(days=chance.randrange(60)), _take_one) for _ in range(3)]
    for number in range(REQUESTS - 9):
        plan.append((date(2020, 1, 20) + timedelta(days=60 * number + chance.randrange(30)), _send_request))
    plan += [(date(2022, 3, 12), _spring_clean), (date(2024, 3, 9), _spring_clean), (date(2025, 4, 5), _spring_clean)]
    plan += [(date(2021, 11, 6), _move_a_box), (date(2023, 7, 8), _fridge_fails), (date(2023, 7, 17), _fridge_mended)]
    plan += [(date(2019 + year, 5, 3), _move_some) for year in range(7)]
    plan += [(day, lambda story: looks.look_round(story.bank)) for day in looks.DAYS]
    return plan


def _storing(name: str, spore_class: str, gathered: date, *, tray: bool = False) -> Callable[[Story], None]:
    return lambda story: _store(story, name, spore_class, gathered, tray=tray)


def _store(story: Story, text: str, spore_class: str, gathered: date, *, tray: bool) -> None:
    bank, chance = story.bank, story.chance
    found = store.look_up(bank, text)
    kind = SporeClass(spore_class) if spore_class else found.spore_class
    basis, said, total = _amount(chance)
    count = chance.choice((2, 3, 4, 4, 4, 5, 6))
    parts = amounts.split(total, [chance.choice((1.0, 1.0, 2.0)) for _ in range(count)])
    near = story.tray if tray else _box(story)
    spots = store.propose_places(bank, count, near)
    cleaning = chance.choice((Cleaning.TILTED, Cleaning.TILTED, Cleaning.BOTH, Cleaning.SCREENED))
    form = store.StoreForm(
        taxon=text,
        clone=_clone(story, found.text),
        collected=_partly(chance, gathered),
        portions=tuple(store.Portion(part, *spot) for part, spot in zip(parts, spots, strict=True)),
        stored_on=story.calendar.day,
        spore_class=kind,
        old_name=scene.OLD_NAMES.get(text, ""),
        received_as=scene.OLD_NAMES.get(text, "") if chance.random() < 0.5 else "",
        verified=chance.random() < 0.85,
        fronds=chance.choice((None, 2, 4, 6, 12, 30)),
        cleaned_on=gathered + timedelta(days=2),
        cleaning=cleaning,
        screen_um=chance.choice((75, 106, 150)) if cleaning is not Cleaning.TILTED else None,
        minutes=chance.choice((10, 15, 20, 25, 35)),
        purity=chance.choice((80, 90, 95, 98)),
        amount_basis=basis,
        amount_said=said,
    )
    done = store.store_batch(bank, form)
    row = load_storage().rows[kind].fridge
    sigma = row.days * 10 ** (0.6 * row.spread * chance.gauss(0.0, 1.0))
    story.truths[done.batch_id] = Truth(chance.gauss(1.7, 0.35), sigma, gathered)


def _box(story: Story) -> int:
    """Return a box of a fridge, now and then one of the freezer."""
    return story.chance.choice(story.boxes[:-2]) if story.chance.random() > 0.06 else story.boxes[-1]


def _amount(chance: random.Random) -> tuple[Basis, str, int]:
    """Return on what the amount was known, as it was said, and the micrograms."""
    milligrams = round(min(240.0, max(3.0, chance.lognormvariate(3.6, 0.8))), 1)
    basis = chance.choice((Basis.WEIGHED, Basis.WEIGHED, Basis.VOLUME, Basis.EYE))
    if basis is Basis.VOLUME:
        cubic = max(5, round(milligrams * 2))
        return basis, f"{cubic} mm³", amounts.from_microlitres(cubic)
    return basis, f"{milligrams} mg", round(milligrams * 1000)


def _partly(chance: random.Random, day: date) -> PartDate:
    """Return the day as the keeper knows it: mostly whole, sometimes the month or the year alone."""
    luck = chance.random()
    if luck < 0.15:
        return PartDate(day.year)
    return PartDate(day.year, day.month) if luck < 0.35 else PartDate.of(day)


def _clone(story: Story, name: str) -> int | store.NewClone:
    chance, known = story.chance, story.clones.setdefault(name, [])
    made = sum(len(codes) for codes in story.clones.values())
    if known and (made >= CLONES or chance.random() > 0.45):
        found = queries.clone_by_code(story.bank, chance.choice(known))
        assert found is not None
        return found.id
    kind, origin = chance.choice(scene.ORIGINS)
    letter = {"garden": "G", "wild": "W", "received": "R", "bought": "N"}[kind]
    story.codes[letter] = story.codes.get(letter, 0) + 1
    code = f"{letter}-{story.codes[letter]:02d}"
    known.append(code)
    network = kind == "received" and chance.random() < 0.2
    return store.NewClone(
        code=code,
        source=Source(kind),
        origin=origin,
        acquired=PartDate(story.calendar.day.year - chance.randrange(6)),
        acquired_from="" if kind in ("garden", "wild") else chance.choice(scene.PEOPLE)[0],
        permission=chance.choice((Permission.YES,) * 7 + (Permission.ASK, Permission.UNKNOWN)),
        permit_note="Letter of consent in the blue folder." if kind == "wild" else "",
        network_number=chance.choice(scene.NETWORK_NUMBERS) if network else "",
    )


def _some_vials(story: Story, count: int, state_left: int = 3_000) -> list[int]:
    ids = queries.vial_ids(story.bank, VialFilter(), "code", descending=False)
    rows = [row for row in queries.vials_by_id(story.bank, ids) if row.left >= state_left]
    return [row.id for row in story.chance.sample(rows, min(count, len(rows)))]


def _test_round(story: Story) -> None:
    """Test a few batches on one day; the counts are drawn from the truth."""
    for vial_id in _some_vials(story, 2):
        row = queries.vial_row(story.bank, vial_id)
        truth, sown_on = story.truths[row.batch_id], story.calendar.day - timedelta(days=21)
        if sown_on <= row.collected.last():
            continue
        alive = _NORMAL.cdf(truth.fresh - (sown_on - truth.collected).days / truth.sigma)
        each = story.chance.choice((50, 100))
        counts = [
            sum(story.chance.random() < alive for _ in range(each)) for _ in range(story.chance.choice((2, 3, 4)))
        ]
        form = TestForm(
            batch_id=row.batch_id,
            vial_id=vial_id,
            sown_on=sown_on,
            counted_on=story.calendar.day,
            replicates=tuple(Replicate(each, count) for count in counts),
            medium=story.chance.choice(("agar, quarter-strength salts", "sieved peat, scalded")),
            temperature=20.0,
            light="12 h lamp",
        )
        record_test(story.bank, form)


def _sow_one(story: Story) -> None:
    for vial_id in _some_vials(story, 1):
        pots = story.chance.choice((2, 3, 4, 6, 8))
        room = story.chance.choice(("Propagation house", "Lean-to", "Bench room"))
        micrograms = min(round(pots * POT_UG), queries.vial_row(story.bank, vial_id).left // 2)
        form = sowing.SowForm(vial_id, room, story.calendar.day, pots, micrograms, knowingly=True)
        sowing.sow(story.bank, form)


def _take_one(story: Story) -> None:
    reason = story.chance.choice((Reason.LOSS, Reason.TEST, Reason.SOWING))
    note = "Spilt on opening." if reason is Reason.LOSS else ""
    for vial_id in _some_vials(story, 1):
        vials.take(story.bank, vials.TakeForm(vial_id, 800, reason, story.calendar.day, Basis.EYE, note))


def _move_some(story: Story) -> None:
    """Put three vials into whatever box of the second fridge has room."""
    free = store.propose_places(story.bank, 3, story.boxes[8 + story.chance.randrange(5)])
    chosen = _some_vials(story, 3)
    moves = [vials.Move(vial_id, *spot) for vial_id, spot in zip(chosen, free, strict=True)]
    vials.move(story.bank, moves, story.calendar.day)


def _move_a_box(story: Story) -> None:
    fridge_2 = queries.place(story.bank, story.boxes[8])[0].parent_id
    box = story.boxes[7]
    rename(story.bank, box, "Box 8 (old)")
    move_place(story.bank, box, fridge_2, story.calendar.day)


def _fridge_fails(story: Story) -> None:
    _set_fridge(story, 14.0)


def _fridge_mended(story: Story) -> None:
    _set_fridge(story, 4.0)


def _set_fridge(story: Story, temperature: float) -> None:
    fridge_1 = queries.place(story.bank, story.boxes[0])[0].parent_id
    assert fridge_1 is not None
    set_conditions(story.bank, fridge_1, temperature, 15.0, story.calendar.day)


def _spring_clean(story: Story) -> None:
    """Cull what is past viability and tested, and half of what is not."""
    figures.refresh_all(story.bank)
    found = culling.candidates(story.bank)
    chosen = [one for one in found if one.advice == Advice.CULL or story.chance.random() < 0.45]
    held = queries.reserved(story.bank)
    chosen = [one for one in chosen if one.vial.id not in held]
    if chosen:
        reasons = {one.vial.id: one.reason for one in chosen}
        culling.cull(story.bank, [one.vial.id for one in chosen], story.calendar.day, reasons)


def _ask(story: Story) -> int:
    chance = story.chance
    wanted = chance.sample(queries.taxa(story.bank), chance.randrange(3, 9))
    wishes = tuple(
        sharing.Wish(chance.choice((1, 1, 2, 3)), chance.choice((1_000, 2_000, 2_000)), taxon_id=taxon.id)
        for taxon in wanted
    )
    contact = chance.choice(queries.contacts(story.bank))
    return sharing.add_request(story.bank, sharing.RequestForm(contact.id, story.calendar.day, wishes))


def _fill(story: Story, request_id: int) -> bool:
    """Fill a request from what qualifies on the day; return whether anything did."""
    batches: set[int] = set()
    for line in queries.request(story.bank, request_id).lines:
        batches |= {row.batch_id for row, *_ in queries.candidates(story.bank, line.taxon_id, line.clone_id)}
    figures.refresh_batches(story.bank, sorted(batches))
    proposal = sharing.propose(story.bank, request_id)
    sharing.keep_fill(story.bank, request_id, proposal)
    return any(filled.vials for filled in proposal.values())


def heed_all(bank: Bank, request_id: int) -> None:
    """Answer every caution of a parcel, so that it may go."""
    for one in parcel_checks.checks(bank, queries.request(bank, request_id)):
        parcel_checks.answer(bank, request_id, one.caution.key, scene.ANSWER)


def _send_request(story: Story) -> None:
    request_id = _ask(story)
    if _fill(story, request_id):
        _print_labels(story)
        heed_all(story.bank, request_id)
        sharing.dispatch(story.bank, request_id, story.calendar.day)
    else:
        sharing.close_request(story.bank, request_id)


def _open_requests(story: Story) -> None:
    """Leave nine requests on the table, two of them filled."""
    for number in range(9):
        story.calendar.day = scene.TODAY - timedelta(days=27 - 3 * number)
        request_id = _ask(story)
        if number < 2:
            _fill(story, request_id)
    story.calendar.day = scene.TODAY
