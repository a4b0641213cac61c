"""What is seen in a pot, from green film to plantlets, and what goes wrong there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class LookKind(StrEnum):
    """What a look found; the first three are stages, in their order."""

    FILM = "green film"
    PROTHALLI = "prothalli"
    SPORELINGS = "sporelings"
    MOULD = "mould"
    STRANGER = "a stranger"
    LOST = "lost"


@dataclass(frozen=True)
class Look:
    """A dated observation of a pot; `count` is how many sporelings there were, where they were counted."""

    id: int
    pot_id: int
    on: date
    what: LookKind
    count: int | None = None
    note: str = ""
