"""What is seen in a pot, from green film to plantlets, and what goes wrong there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from sporebank.core.counted import counted
from sporebank.core.dates import day_label


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

    def said(self) -> str:
        """Return in words what was seen: how many sporelings, where they were counted."""
        if self.count is None:
            return self.what.value
        return counted(self.count, "sporeling")


@dataclass(frozen=True)
class Pot:
    """A pot of a sowing, with the looks at it, the latest first."""

    id: int
    code: str
    number: int
    sowing_id: int
    sown_on: date
    looks: tuple[Look, ...] = ()

    @property
    def last(self) -> Look | None:
        """The latest look, which says how the pot stands; None where nobody looked yet."""
        return self.looks[0] if self.looks else None

    def story(self) -> str:
        """Return every look, the latest first, a line each: its day, the whole weeks since the sowing, and its note."""
        return "\n".join(map(self._line, self.looks))

    def _line(self, look: Look) -> str:
        weeks = (look.on - self.sown_on).days // 7
        after = counted(weeks, "week")
        note = f" – {look.note}" if look.note else ""
        return f"{day_label(look.on)}, {after} after sowing: {look.said()}{note}"


@dataclass(frozen=True)
class Seen:
    """How the pots of a sowing stand by the latest look at each: in how many what was seen, and the day of the last."""

    on: date
    pots: tuple[tuple[LookKind, int], ...]

    def said(self, pots: int) -> str:
        """Return it in words, of so many pots: `prothalli in 3 of 4 pots, mould in 1`."""
        first, *others = self.pots
        of = "the pot" if pots == 1 else "all pots" if first[1] == pots else f"{first[1]} of {pots} pots"
        return ", ".join([f"{first[0].value} in {of}", *(f"{what.value} in {count}" for what, count in others)])


def seen(latest: Sequence[Look]) -> Seen | None:
    """Return how pots stand by the latest look at each, the furthest stage first; None where there is none."""
    if not latest:
        return None
    kinds = [look.what for look in latest]
    order = [LookKind.SPORELINGS, LookKind.PROTHALLI, *LookKind]
    counted = {what: kinds.count(what) for what in sorted(set(kinds), key=order.index)}
    return Seen(max(look.on for look in latest), tuple(counted.items()))
