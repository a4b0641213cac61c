"""What has to be minded before a parcel goes, by its taxa, where they come from, and where it goes.

No sentence here says what the law is: each says what may apply, how old the list is, and whom to ask.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from sporebank.core import names
from sporebank.core.cautions import Cautions
from sporebank.core.dates import day_label
from sporebank.core.permits import Permit, PermitKind
from sporebank.core.records import Source, TaxonName

_ASK = "Ask the authorities of both countries first; what they say comes before anything written here."


@dataclass(frozen=True)
class Going:
    """A packet of a parcel: its name, what its clone is, and the country where that comes from, or nothing."""

    name: TaxonName
    source: Source
    country: str = ""


@dataclass(frozen=True)
class Country:
    """A country: its code (ISO 3166-1 alpha-2) and its name; both are empty where it is not known."""

    code: str = ""
    name: str = ""


@dataclass(frozen=True)
class Journey:
    """A parcel on its way: from where to where, on which day, what is in it, and the papers that who gets it holds."""

    home: Country
    destination: Country
    on: date
    packets: tuple[Going, ...]
    permits: tuple[Permit, ...] = ()

    @property
    def abroad(self) -> bool:
        """Whether it is known to cross a border."""
        return bool(self.home.code and self.destination.code) and self.home.code != self.destination.code

    @property
    def at_home(self) -> bool:
        """Whether it is known not to cross a border."""
        return bool(self.home.code) and self.home.code == self.destination.code


@dataclass(frozen=True)
class ParcelCaution:
    """A caution about a parcel; `key` is the same whenever it arises anew, `settles` says what answers it."""

    key: str
    title: str
    sentence: str
    settles: str


def arising(journey: Journey, cautions: Cautions) -> tuple[ParcelCaution, ...]:
    """Return every caution that a parcel raises, each once."""
    found = {
        one.key: one
        for part in (_taxa(journey, cautions), _border(journey, cautions), _wild(journey, cautions), _papers(journey))
        for one in part
    }
    return tuple(found.values())


def _taxa(journey: Journey, cautions: Cautions) -> Iterator[ParcelCaution]:
    countries = frozenset(filter(None, (journey.home.code, journey.destination.code)))
    listed = countries if journey.destination.code else frozenset()
    for name in {names.text(one.name): one.name for one in journey.packets}.values():
        text = names.text(name)
        if cautions.invasive_in(name, listed):
            yield ParcelCaution(
                f"invasive:{text}",
                f"{text}: invasive",
                f"{cautions.invasive(name)} {_ASK}",
                "The number of a permission, or who said that it may go, and when.",
            )
        if cautions.protected(name) and not journey.at_home:
            yield ParcelCaution(
                f"protected:{text}",
                f"{text}: protected",
                f"{cautions.protected(name)} {_ASK}",
                "The number of a paper, or who said that spore needs none, and when.",
            )


def _border(journey: Journey, cautions: Cautions) -> Iterator[ParcelCaution]:
    if journey.abroad:
        yield ParcelCaution(
            f"plant health:{journey.destination.code}",
            f"Plant health, {journey.destination.name}",
            f"{cautions.work('plant health')} {_on_record(journey)} {_ASK} ({cautions.dated})",
            "The number of a certificate or permit, or who said that none is needed, and when.",
        )


def _on_record(journey: Journey) -> str:
    held = [permit.words() for permit in journey.permits if permit.kind is PermitKind.IMPORT]
    return f"On record: {'; '.join(held)}." if held else "No import permit of theirs is on record."


def _wild(journey: Journey, cautions: Cautions) -> Iterator[ParcelCaution]:
    """Yield a caution for each country whose wild plants leave home, or came from abroad."""
    for one in journey.packets:
        foreign = bool(one.country and journey.home.code) and one.country != journey.home.code
        wild = one.source is Source.WILD
        passed_on = one.source is Source.RECEIVED and foreign
        if (wild and (journey.abroad or foreign)) or passed_on:
            origin = one.country or "a country that is not known"
            yield ParcelCaution(
                f"access:{one.country}",
                f"Access to wild plants, {origin}",
                f"{names.text(one.name)} comes from {origin}. {cautions.work('access')} {_ASK} ({cautions.dated})",
                "The number of the paper under which it was collected, or why there is none.",
            )


def _papers(journey: Journey) -> Iterator[ParcelCaution]:
    for permit in journey.permits:
        if permit.expires is not None and permit.expires < journey.on:
            yield ParcelCaution(
                f"expired:{permit.id}",
                f"{permit.kind.value.capitalize()} {permit.number} has run out",
                f"It ran out on {day_label(permit.expires)}. Ask them for the one that follows it.",
                "The number of the new one, or why the parcel may go without.",
            )
        elif permit.labels_left == 0 and journey.abroad:
            yield ParcelCaution(
                f"labels:{permit.id}",
                f"No labels are left of {permit.kind.value} {permit.number}",
                "Every one-use label of it has gone with a parcel. Ask them for more.",
                "Where the label of this parcel comes from, or why it needs none.",
            )
