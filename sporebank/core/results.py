"""What comes back from those who got spore: results, complaints, and the notes that follow from a complaint."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from sporebank.core import counted, names
from sporebank.core.codes import grouped
from sporebank.core.dates import PartDate, day_label
from sporebank.core.records import Contact, TaxonName


class ComplaintKind(StrEnum):
    """What is said to be wrong with a batch."""

    MISNAMED = "misnamed"
    STRANGER = "a stranger in it"
    DEAD = "dead"


@dataclass(frozen=True)
class Sent:
    """A packet that somebody got, with the last word on it; what was not told is None."""

    packet_id: int
    contact: Contact
    sent_on: date
    parcel: str
    batch_id: int
    name: TaxonName
    vial: str
    germinated: bool | None = None
    true_name: bool | None = None
    told_on: date | None = None
    note: str = ""


@dataclass(frozen=True)
class Complaint:
    """What was said of a batch, and how it was settled; empty while it is not."""

    id: int
    batch_id: int
    on: date
    kind: ComplaintKind
    by: str
    note: str
    settled: str


@dataclass(frozen=True)
class Concern:
    """A batch that is complained of, and everyone whom it concerns.

    `packed` are the packets of it that lie in parcels not sent yet: the code of the parcel, and that of the packet.
    """

    batch_id: int
    batch: str
    clone: str
    name: TaxonName
    collected: PartDate
    left: int
    held: int
    packed: tuple[tuple[str, str], ...]
    donor: Contact | None
    sent: tuple[Sent, ...]
    complaints: tuple[Complaint, ...]

    def people(self) -> tuple[Contact, ...]:
        """Return everyone who got of it, once each."""
        return tuple({one.contact.id: one.contact for one in self.sent}.values())


@dataclass(frozen=True)
class Tally:
    """What was told of spore: how many packets germinated of how many told, and how many were true to name."""

    sent: int
    germinated: int
    told_germinated: int
    true_name: int
    told_name: int

    def words(self) -> str:
        """Return the tally in a sentence, empty where nothing was told."""
        said = []
        if self.told_germinated:
            said.append(f"{self.germinated} of {self.told_germinated} germinated")
        if self.told_name:
            said.append(f"{self.true_name} of {self.told_name} true to name")
        if not said:
            return ""
        return f"Told by those who got it ({counted.packets(self.sent)} sent): {', '.join(said)}."


_CLAIM = {
    ComplaintKind.MISNAMED: "may not be what its label says",
    ComplaintKind.STRANGER: "may hold spore of another fern as well",
    ComplaintKind.DEAD: "may no longer be alive",
}
_ASK = {
    ComplaintKind.MISNAMED: (
        "If you sowed it, please tell us what came up; until it is settled, do not pass it on under this name."
    ),
    ComplaintKind.STRANGER: "If you sowed it, please look whether something else comes up, and tell us.",
    ComplaintKind.DEAD: "If you sowed it, please tell us whether anything came up.",
}


def note_to_recipient(concern: Concern, kind: ComplaintKind, to: Contact, bank: str) -> str:
    """Return a note to somebody who got spore of a batch that is complained of; it names nobody else."""
    mine = [one for one in concern.sent if one.contact.id == to.id]
    sent = " and ".join(dict.fromkeys(day_label(one.sent_on) for one in mine))
    return (
        f"Dear {to.name},\n\non {sent} you got {counted.packets(len(mine))} of {names.text(concern.name)} from us "
        f"(batch {grouped(concern.batch)}). We are told that it {_CLAIM[kind]}. {_ASK[kind]}\n\n"
        f"With good wishes,\n{bank}"
    )


def question_to_donor(concern: Concern, kind: ComplaintKind, note: str, bank: str) -> str:
    """Return a friendly question to the donor of a batch."""
    assert concern.donor is not None  # asked only where one is known
    said = f" What was said: “{note}”." if note else ""
    return (
        f"Dear {concern.donor.name},\n\nthank you again for the spore of {names.text(concern.name)}, collected "
        f"{concern.collected.label()}. Somebody who sowed it tells us that it {_CLAIM[kind]}.{said} Could you look at "
        "the plant it came from, and tell us what you think? Such things happen to everybody who cleans spore.\n\n"
        f"With good wishes,\n{bank}"
    )


def letters(concern: Concern, kind: ComplaintKind, note: str, bank: str) -> tuple[tuple[Contact, str], ...]:
    """Return every letter that follows from a complaint: to all who got of it, then to the donor."""
    written = [(to, note_to_recipient(concern, kind, to, bank)) for to in concern.people()]
    if concern.donor is not None:
        written.append((concern.donor, question_to_donor(concern, kind, note, bank)))
    return tuple(written)


def tally(sent: Sequence[Sent]) -> Tally:
    """Return what was told of these packets."""
    return Tally(
        sent=len(sent),
        germinated=sum(one.germinated is True for one in sent),
        told_germinated=sum(one.germinated is not None for one in sent),
        true_name=sum(one.true_name is True for one in sent),
        told_name=sum(one.true_name is not None for one in sent),
    )
