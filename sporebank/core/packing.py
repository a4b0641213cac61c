"""Parcels at the packing bench: how far each has come, and what a scan there tells."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sporebank.core.records import Fate


@dataclass(frozen=True)
class Parcel:
    """A parcel as the bench and the tables know it; `packets` are those held or sent, `packed` those scanned in."""

    request_id: int
    code: str
    who: str
    country: str
    packets: int
    packed: int
    packed_on: date | None = None
    gap: str = ""
    sent_on: date | None = None
    fate: Fate = Fate.NONE
    fate_on: date | None = None

    @property
    def to_pack(self) -> bool:
        """Whether something is still to be done at the bench."""
        return self.packed_on is None and self.sent_on is None and self.packets > 0

    @property
    def state(self) -> str:
        """How far it has come, in words."""
        if self.fate is not Fate.NONE:
            return "came back" if self.fate is Fate.RETURNED else "lost"
        if self.sent_on is not None:
            return "sent"
        if self.packed_on is not None:
            return "closed"
        return f"packing {self.packed} of {self.packets}" if self.packed else "to pack"


@dataclass(frozen=True)
class Scanned:
    """What a packet's scan did: the sentence, how many packets of the parcel are in it now, and of how many."""

    text: str
    packed: int
    packets: int

    @property
    def complete(self) -> bool:
        """Whether nothing is missing any more."""
        return self.packed == self.packets


@dataclass(frozen=True)
class Opened:
    """A parcel that was opened again: whom it is for, and how many packets wait to be held back for it by that.

    `closed` is the name of its exchange where that is closed, so that nothing is held back before it is open again.
    """

    who: str
    waiting: int
    closed: str = ""
