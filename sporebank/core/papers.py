"""What is printed: labels, packing lists, manifests and cull sheets, as frozen records.

Codes are the plain ten characters; documents group them for people. Amounts are whole micrograms,
except on labels, where they are the words to print.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass
from datetime import date

from sporebank.core import names
from sporebank.core.dates import PartDate
from sporebank.core.records import Permission, Share, Source, State, TaxonName

MANIFEST_VERSION = 2
"""The version of the manifest's schema that is written; earlier ones are still read."""
_LATER = frozenset({"country", "permits", "version"})
"""What a manifest of the first version does not have."""


@dataclass(frozen=True)
class VialLabel:
    """The label of a vial, its cap or its bag, or of a whole batch; `place` is the path to where it lies."""

    code: str
    name: TaxonName
    clone: str
    collected: PartDate
    amount: str
    place: str = ""
    origin: str = ""
    note: str = ""


@dataclass(frozen=True)
class PotLabel:
    """The label of a sown pot; `batch` is the code of the batch that was sown."""

    code: str
    name: TaxonName
    clone: str
    sown: date
    batch: str
    note: str = ""


@dataclass(frozen=True)
class PacketLabel:
    """The label of one packet given away; `code` is its own, `vial` that of the vial it was drawn from.

    A packet from before packets had codes carries that of its vial, and `vial` is empty. `alive` says in words how
    alive it is; `cautions` are short, such as `Seal and bin, do not compost`.
    """

    code: str
    name: TaxonName
    clone: str
    collected: PartDate
    amount: str
    alive: str
    parcel: str
    line: int
    cautions: tuple[str, ...] = ()
    origin: str = ""
    note: str = ""
    vial: str = ""


@dataclass(frozen=True)
class PlaceLabel:
    """The label of a box, a shelf, a fridge or a room; `path` is where it stands, without itself."""

    code: str
    title: str
    path: str = ""
    conditions: str = ""
    content: str = ""
    note: str = ""


@dataclass(frozen=True)
class AddressLabel:
    """Where a letter or a parcel goes, line by line as it is written, and who sends it."""

    address: tuple[str, ...]
    sender: str = ""
    note: str = ""


@dataclass(frozen=True)
class ParcelLabel:
    """The label of a parcel with its code, its address and what is in it."""

    code: str
    address: tuple[str, ...]
    sender: str = ""
    sent: date | None = None
    content: str = ""
    note: str = ""


Label = VialLabel | PotLabel | PacketLabel | PlaceLabel | AddressLabel | ParcelLabel


@dataclass(frozen=True)
class PackingItem:
    """One vial to draw from; `line` is the line of the request, `place_key` sorts as one walks."""

    line: int
    place: str
    place_key: str
    vial: str
    name: TaxonName
    clone: str
    take: int
    remains: int
    note: str = ""


@dataclass(frozen=True)
class Unfilled:
    """A wish that cannot be filled, with the reason in a sentence; `wish` is as the person wrote it."""

    line: int
    wish: str
    why: str


@dataclass(frozen=True)
class Declared:
    """One packet as a border asks for it: its number in the parcel, and the country of origin in words."""

    number: int
    code: str
    name: TaxonName
    micrograms: int
    country: str


@dataclass(frozen=True)
class Declaration:
    """What a parcel abroad says of itself.

    `permits` are the papers of who gets it as they stand on record, `answers` what its cautions were answered with.
    """

    exporter: str
    destination: str
    packets: tuple[Declared, ...]
    permits: tuple[str, ...]
    answers: tuple[str, ...]
    caution: str


@dataclass(frozen=True)
class PackingList:
    """What the packer ticks for one parcel; `sums` are what is owed for it and credit that is kept, in words.

    `border` is there for a parcel abroad, and goes into it.
    """

    bank: str
    parcel: str
    recipient: str
    on: date
    items: tuple[PackingItem, ...]
    unfilled: tuple[Unfilled, ...] = ()
    sums: tuple[tuple[str, str], ...] = ()
    border: Declaration | None = None

    def walk(self) -> tuple[PackingItem, ...]:
        """Return the items in the order of their places, so that the packer walks once."""
        return tuple(sorted(self.items, key=lambda item: (item.place_key, item.line, item.vial)))


@dataclass(frozen=True)
class PickItem:
    """One vial on a walk: what to take out of it in all, what must remain, and for which parcels in packets."""

    place: str
    place_key: str
    vial: str
    name: TaxonName
    clone: str
    take: int
    remains: int
    packets: tuple[str, ...]


@dataclass(frozen=True)
class PickList:
    """What is taken out of which vials for many parcels in one walk past their places."""

    bank: str
    title: str
    on: date
    parcels: int
    packets: int
    items: tuple[PickItem, ...]

    def walk(self) -> tuple[PickItem, ...]:
        """Return the items in the order of their places."""
        return tuple(sorted(self.items, key=lambda item: (item.place_key, item.vial)))


@dataclass(frozen=True)
class Counted:
    """A test as its receiver can count with it: sown and counted on which days, and `(germinated, sown)` a count."""

    sown_on: date
    counted_on: date
    counts: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Kept:
    """From which day on spore lay at a temperature in degrees Celsius; None where it is not known."""

    since: date
    celsius: float | None


@dataclass(frozen=True)
class ManifestItem:
    """One packet of a manifest with all that its receiver must know.

    `share` is None where no figure can be given; `basis` says on what the figure rests and `as_of` for
    which day it holds. `network_number` is a garden's four-part number, kept to the letter. `kept` and `tests` are the
    storage history and the tests that the figure goes by, so that it can be worked out anew.
    """

    line: int
    code: str
    name: TaxonName
    clone: str
    source: Source
    origin: str
    collected: PartDate
    micrograms: int
    share: Share | None
    state: State
    basis: str
    as_of: date
    spore_class: str
    permission: Permission
    permit: str = ""
    network_number: str = ""
    cautions: tuple[str, ...] = ()
    batch: str = ""
    kept: tuple[Kept, ...] = ()
    tests: tuple[Counted, ...] = ()
    country: str = ""


@dataclass(frozen=True)
class Manifest:
    """What travels with a parcel and can be read back by another bank.

    `permits` are the papers under which it travels, in words with their numbers. `version` is that of the schema it was
    written by, which its checksum goes by.
    """

    parcel: str
    bank: str
    bank_tag: str
    sent_on: date
    recipient: str
    items: tuple[ManifestItem, ...]
    cautions: tuple[str, ...] = ()
    permits: tuple[str, ...] = ()
    version: int = MANIFEST_VERSION

    def checksum(self) -> str:
        """Return 16 hexadecimal digits of SHA-256 over the contents, in fours, to tell a changed copy."""
        text = "\x1f".join(_flat(self, _LATER if self.version == 1 else frozenset()))
        digits = hashlib.sha256(text.encode("utf-8")).hexdigest().upper()[:16]
        return "-".join(digits[start : start + 4] for start in range(0, 16, 4))


@dataclass(frozen=True)
class CullItem:
    """One vial to throw out; `left` is what is in it, `disposal` how, where that matters."""

    place: str
    place_key: str
    code: str
    name: TaxonName
    clone: str
    left: int
    why: str
    last_of_clone: bool = False
    disposal: str = ""


@dataclass(frozen=True)
class CullSheet:
    """What was, or is to be, thrown out on one day, to be ticked and signed."""

    bank: str
    on: date
    items: tuple[CullItem, ...]
    signed_by: str = ""

    def walk(self) -> tuple[CullItem, ...]:
        """Return the items in the order of their places."""
        return tuple(sorted(self.items, key=lambda item: (item.place_key, item.code)))


def _flat(value: object, without: frozenset[str]) -> Iterator[str]:
    """Yield all that a record holds as text, a tuple with its length before it so that no two look alike."""
    if isinstance(value, TaxonName):
        yield names.text(value)  # authorship is not sent
    elif isinstance(value, tuple):
        yield f"#{len(value)}"
        for part in value:
            yield from _flat(part, without)
    elif is_dataclass(value):
        for field in fields(value):
            if field.name not in without:
                yield from _flat(getattr(value, field.name), without)
    else:
        yield str(value)
