"""What the bank holds, as frozen records. Amounts are whole micrograms; ids are the bank file's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from sporebank.core.dates import PartDate
from sporebank.core.looks import Seen


class SporeClass(StrEnum):
    """How spore keeps; the rows of the storage table in resources/storage.toml."""

    GREEN = "green"
    NON_GREEN = "non-green"
    DRYING_SENSITIVE = "drying-sensitive"
    DICKSONIA = "dicksonia"
    DRY_LAND = "dry-land"
    UNKNOWN = "unknown"


class Source(StrEnum):
    """Where a clone came from."""

    GARDEN = "garden"
    WILD = "wild"
    RECEIVED = "received"
    BOUGHT = "bought"
    UNKNOWN = "unknown"


class Permission(StrEnum):
    """Whether spore of a clone may be given on."""

    YES = "yes"
    ASK = "ask first"
    NO = "no"
    UNKNOWN = "unknown"


class Basis(StrEnum):
    """On what an amount was known."""

    WEIGHED = "weighed"
    VOLUME = "volume"
    CHAMBER = "chamber count"
    EYE = "by eye"


class Cleaning(StrEnum):
    """How a batch was worked clean of chaff."""

    TILTED = "tilted on paper"
    SCREENED = "screened"
    BOTH = "tilted and screened"
    NONE = "not cleaned"


class Before(StrEnum):
    """Where spore lay from its collecting until it came into the bank."""

    ROOM = "in a room"
    FRIDGE = "in a fridge"
    UNKNOWN = "not known"


class MishapKind(StrEnum):
    """What can befall spore that no model of slow ageing knows."""

    WET = "got wet"
    THAWED = "froze and thawed"
    HOT = "got hot"


class Advice(StrEnum):
    """What to do about a vial."""

    KEEP = "keep"
    SOW = "sow first"
    TEST = "test first"
    COLLECT = "collect again"
    CULL = "cull"


class PlaceKind(StrEnum):
    """The levels of the place tree; a slot is a cell of a box, not a place of its own."""

    ROOM = "room"
    FRIDGE = "fridge"
    FREEZER = "freezer"
    SHELF = "shelf"
    BOX = "box"


class Reason(StrEnum):
    """Why spore went into or out of a vial."""

    STORED = "stored"
    SOWING = "sowing"
    TEST = "test"
    GIFT = "gift"
    LOSS = "loss"
    CORRECTION = "correction"
    CULL = "cull"


#: For what spore is taken out by hand; storing, culling and gifts of a parcel are booked by their own jobs.
TAKEN_FOR = (Reason.SOWING, Reason.TEST, Reason.GIFT, Reason.LOSS)


class State(StrEnum):
    """How alive a vial is, in a word."""

    ALIVE = "alive"
    FADING = "fading"
    SPENT = "spent"
    UNKNOWN = "unknown"


class Fate(StrEnum):
    """What became of a parcel that never arrived."""

    NONE = ""
    RETURNED = "returned"
    LOST = "lost"


class RequestState(StrEnum):
    """How far a request has come."""

    OPEN = "open"
    FILLED = "filled"
    SENT = "sent"
    CLOSED = "closed"


@dataclass(frozen=True)
class TaxonName:
    """The parts of a name; epithets without marks, ranks as written on labels (`subsp.`, `var.`, `f.`).

    `ex` is true for plants raised from spore of the cultivar, which may not come true.
    `qualifier` is `cf.`, `aff.` or `sp.`. `authorship` is kept as written and never printed on labels.
    """

    genus: str
    epithet: str = ""
    rank: str = ""
    infra: str = ""
    group: str = ""
    cultivar: str = ""
    hybrid_genus: bool = False
    hybrid_epithet: bool = False
    ex: bool = False
    qualifier: str = ""
    authorship: str = ""


@dataclass(frozen=True)
class Run:
    """A stretch of text that is italic or upright."""

    text: str
    italic: bool = False


@dataclass(frozen=True)
class Taxon:
    """A name in the bank. `old_name` stands beside the accepted one; `verified` is the keeper's word."""

    id: int
    name: TaxonName
    family: str
    spore_class: SporeClass
    verified: bool
    old_name: str = ""
    invasive_note: str = ""


@dataclass(frozen=True)
class Contact:
    """A person or a garden who gives or asks. `country` is ISO 3166-1 alpha-2 or empty."""

    id: int
    name: str
    organisation: str = ""
    address: str = ""
    country: str = ""
    email: str = ""
    note: str = ""


@dataclass(frozen=True)
class Clone:
    """One source plant. `network_number` is a garden's four-part number, kept to the letter.

    `country` is the one of its origin, ISO 3166-1 alpha-2, or empty.
    """

    id: int
    code: str
    taxon: Taxon
    source: Source
    origin: str = ""
    acquired: PartDate | None = None
    acquired_from: str = ""
    permission: Permission = Permission.UNKNOWN
    permit_note: str = ""
    network_number: str = ""
    received_as: str = ""
    parent_id: int | None = None
    note: str = ""
    country: str = ""


@dataclass(frozen=True)
class Batch:
    """The spore of one clone, collected on one date and cleaned together. `purity` is in percent."""

    id: int
    code: str
    clone: Clone
    collected: PartDate
    cleaned_on: date | None
    fronds: int | None
    cleaning: Cleaning
    screen_um: int | None
    minutes: int | None
    purity: int | None
    purity_basis: Basis
    amount_basis: Basis
    amount_said: str
    spore_class: SporeClass
    note: str = ""
    before: Before = Before.ROOM


@dataclass(frozen=True)
class Place:
    """A node of the place tree. Temperature in degrees Celsius, humidity in % RH; None: as its parent."""

    id: int
    code: str
    parent_id: int | None
    kind: PlaceKind
    name: str
    temperature: float | None
    humidity: float | None
    rows: int = 0
    columns: int = 0


@dataclass(frozen=True)
class Stay:
    """A vial in a place from one day on, with the conditions met there; it ends where the next begins.

    `place` is the path for people (`Fridge 1 / Box 2 / C3`), empty when out of the bank.
    """

    since: date
    temperature: float | None
    humidity: float | None
    place: str = ""


@dataclass(frozen=True)
class Mishap:
    """Something that befell a vial on a day."""

    on: date
    kind: MishapKind
    note: str = ""


@dataclass(frozen=True)
class Movement:
    """One line of the ledger: micrograms into (+) or out of (-) a vial."""

    id: int
    vial_id: int
    on: date
    micrograms: int
    reason: Reason
    basis: Basis
    note: str = ""
    reversed: bool = False


@dataclass(frozen=True)
class Replicate:
    """One count of a test: `germinated` of `sown` spores."""

    sown: int
    germinated: int


@dataclass(frozen=True)
class Test:
    """A germination test of a batch, or of one vial of it. Temperature in degrees Celsius.

    `left_out` says why the forecast does not go by it; empty where it does. `befell` is what had befallen the vial
    before it was tested.
    """

    __test__ = False  # pytest must not take it for a test of ours

    id: int
    batch_id: int
    vial_id: int | None
    sown_on: date
    counted_on: date
    replicates: tuple[Replicate, ...]
    medium: str = ""
    temperature: float | None = None
    light: str = ""
    note: str = ""
    left_out: str = ""
    befell: tuple[Mishap, ...] = ()

    @property
    def sown(self) -> int:
        """Spores sown over all replicates."""
        return sum(replicate.sown for replicate in self.replicates)

    @property
    def germinated(self) -> int:
        """Spores germinated over all replicates."""
        return sum(replicate.germinated for replicate in self.replicates)


@dataclass(frozen=True)
class Share:
    """A share of spore alive, from 0 to 1: the 5, 50 and 95 % points of what is likely."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Crossing:
    """When a line is crossed: the days by which it has with 5, 50 and 95 % chance; None is never foreseen."""

    earliest: date | None
    likely: date | None
    latest: date | None


@dataclass(frozen=True)
class Course:
    """The probits of low, middle and high share alive and of the chance of being below the line, on two days."""

    first: date
    last: date
    ends: tuple[tuple[float, ...], tuple[float, ...]]


@dataclass(frozen=True)
class Forecast:
    """How alive spore is on a day, and until when; `share` is None where storage is not modelled."""

    on: date
    share: Share | None
    chance_below: float | None
    crossing: Crossing | None
    next_test: date | None
    basis: str
    cautions: tuple[str, ...] = ()
    course: Course | None = None


@dataclass(frozen=True)
class Contribution:
    """How alive spore would be judged by what a source and those before it know: `class`, `kin`, `tests`."""

    source: str
    share: Share


@dataclass(frozen=True)
class Event:
    """A deed on record: what was done, when, and by whom. `undone` is set while it is taken back."""

    id: int
    at: datetime
    by: str
    title: str
    undone: bool = False


@dataclass(frozen=True)
class Sowing:
    """One session of sowing from one vial in one room on one day; `seen` is how its pots stand, as looked at."""

    id: int
    code: str
    vial_id: int
    batch: str
    clone: str
    name: TaxonName
    room: str
    sown_on: date
    micrograms: int
    pots: tuple[str, ...]
    note: str = ""
    seen: Seen | None = None


@dataclass(frozen=True)
class Packet:
    """One unit to be given, drawn from a vial; `code` is empty where it has none, `packed` if it is in its parcel."""

    id: int
    line_id: int
    parcel_id: int
    vial_id: int
    vial: str
    place: str
    place_key: str
    micrograms: int
    code: str = ""
    packed: bool = False


@dataclass(frozen=True)
class Line:
    """One wish of a request; `unmet` says why what is missing cannot be filled."""

    id: int
    rank: int
    name: TaxonName
    taxon_id: int
    clone_id: int | None
    clone: str
    packets: int
    packet_ug: int
    unmet: str
    filled: tuple[Packet, ...] = ()


@dataclass(frozen=True)
class Request:
    """Somebody's wishes, in the order of their rank, and their parcel.

    The parcel is closed from `packed_on`; `gap` is why it was closed incomplete. `exchange` is the name of the round or
    list that this is an order of.
    """

    id: int
    contact: Contact
    received_on: date
    state: RequestState
    note: str
    lines: tuple[Line, ...]
    parcel_id: int | None = None
    parcel: str = ""
    dispatched_on: date | None = None
    packed_on: date | None = None
    gap: str = ""
    fate: Fate = Fate.NONE
    fate_on: date | None = None
    exchange: str = ""

    @property
    def packets(self) -> tuple[Packet, ...]:
        """Every packet held or sent, line by line."""
        return tuple(packet for line in self.lines for packet in line.filled)


@dataclass(frozen=True)
class CullCandidate:
    """A vial past viability, with the advice (`cull` or `test first`) and its reason in a sentence."""

    vial: VialRow
    chance_below: float
    last_test: date | None
    last_of_clone: bool
    invasive_note: str
    advice: Advice
    reason: str


@dataclass(frozen=True)
class Due:
    """One thing that waits: `green`, `late`, `crossing`, `test` or `request`, and the vials, batch or request it is.

    `late` is green spore that has likely crossed the line already.
    """

    kind: str
    name: TaxonName | None
    who: str
    day: date
    vials: int = 0
    batch_id: int | None = None
    request_id: int | None = None


@dataclass(frozen=True)
class VialRow:
    """A vial as a table shows it; `place` is the path for people, `place_key` sorts as one walks."""

    id: int
    code: str
    taxon_id: int
    name: TaxonName
    verified: bool
    clone_id: int
    clone: str
    batch_id: int
    batch: str
    collected: PartDate
    place: str
    place_key: str
    left: int
    state: State
    share: Share | None
    crosses: date | None
    surplus: bool
    note: str = ""
    culled_on: date | None = None
    advice: Advice = Advice.KEEP


@dataclass(frozen=True)
class VialFilter:
    """Which vials a table shows; empty fields do not narrow. `text` is looked for in every word field."""

    text: str = ""
    state: State | None = None
    place_id: int | None = None
    year: int | None = None
    surplus: bool = False
    taxon_id: int | None = None
    clone_id: int | None = None
    batch_id: int | None = None
    advice: Advice | None = None
    vial_ids: tuple[int, ...] | None = None


@dataclass(frozen=True)
class VialCounts:
    """The line above the vial table."""

    vials: int
    clones: int
    taxa: int
    fading: int
    spent: int


@dataclass(frozen=True)
class Changed:
    """What a deed changed: the kinds of things (`vial`, `batch`, `test` ...) and which of them."""

    event_id: int
    title: str
    ids: Mapping[str, frozenset[int]]

    @property
    def kinds(self) -> frozenset[str]:
        """The kinds of things that changed."""
        return frozenset(self.ids)
