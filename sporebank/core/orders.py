"""What a round offers, what people order from it, and the rules by which the packets are shared out.

A line of the list is known by its number, an order by its id. `Order.place` is the stored, printed order of a round,
usually that of arrival: it settles every tie, so that a rerun gives the same list.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import StrEnum

from sporebank.core.errors import Refusal


class Standing(StrEnum):
    """The classes of people that a round may serve one after the other."""

    DONOR_ABROAD = "donors abroad"
    DONOR = "donors"
    ABROAD = "abroad"
    REST = "the rest"


class Alternatives(StrEnum):
    """What may fill an order where a first choice cannot be met."""

    NONE = "none"
    LIST = "one list"
    RANKED = "one list, ranked"
    PER_LINE = "one per line"


class Method(StrEnum):
    """How the packets of a class are shared out."""

    FAIR = "fair shares"
    TURNS = "turns"


MOST_WAITING = 366
"""Days; a list that waits longer is a typing slip."""


@dataclass(frozen=True)
class Offered:
    """A line of the list and the packets there are of it; `limited` marks it as scarce.

    `gone` are those that went before to people who asked earlier, where orders are served one by one.
    """

    line: int
    genus: str
    packets: int
    limited: bool = False
    gone: int = 0


@dataclass(frozen=True)
class Wish:
    """A first choice. `alternate` is the line that may come instead, where a round has one per line."""

    line: int
    packets: int = 1
    alternate: int | None = None


@dataclass(frozen=True)
class Order:
    """What one person asks for: wishes in the order of their rank, and alternatives for the whole order.

    `who` is the name of the person, for sentences alone.
    """

    id: int
    place: int
    wishes: tuple[Wish, ...]
    alternatives: tuple[int, ...] = ()
    donor: bool = False
    helper: bool = False
    abroad: bool = False
    who: str = field(default="", compare=False)

    @property
    def called(self) -> str:
        """How a sentence speaks of the order."""
        return f"the order of {self.who}" if self.who else f"order {self.id}"


@dataclass(frozen=True)
class Rules:
    """The rules of a round, each of them optional, and the method; caps count packets, `None` is no cap.

    `classes` are served one after the other, whoever is in none of them last. A donor abroad is in the class of donors
    abroad if the round has it, else in the first of donors and abroad that it has. `cap` is for a person, `extra` comes
    on top of it for donors and helpers, once; `limited_cap` is for all scarce lines of an order together, `line_cap`
    for any one line of it. Sharing waits `wait_days` after the list opens, for far post.
    """

    classes: tuple[Standing, ...] = ()
    alternatives: Alternatives = Alternatives.NONE
    cap: int | None = None
    extra: int = 0
    limited_cap: int | None = None
    line_cap: int | None = None
    wait_days: int = 0
    method: Method = Method.FAIR

    def allowance(self, order: Order) -> int | None:
        """Return the most packets that an order may get by the cap, or None."""
        if self.cap is None:
            return None
        return self.cap + (self.extra if order.donor or order.helper else 0)

    def shared_from(self, opened: date) -> date:
        """Return the first day on which the packets of a list opened that day may be shared out."""
        return opened + timedelta(days=self.wait_days)

    def turn_of(self, order: Order) -> int:
        """Return which class an order is served in, from 0."""
        stands = {
            (True, True): {Standing.DONOR, Standing.ABROAD},
            (True, False): {Standing.DONOR},
            (False, True): {Standing.ABROAD},
            (False, False): {Standing.REST},
        }[order.donor, order.abroad]
        if len(stands) == 2 and Standing.DONOR_ABROAD in self.classes:
            stands = {Standing.DONOR_ABROAD}
        found = [turn for turn, standing in enumerate(self.classes) if standing in stands]
        if not found and Standing.REST in self.classes:
            return self.classes.index(Standing.REST)
        return found[0] if found else len(self.classes)


@dataclass(frozen=True)
class Round:
    """All that is shared out at once; `pins` and `bars` are the keeper's hand, each an order's id and a line.

    A pin gives this order one packet of this line before any sharing; a bar keeps the line from the order.

    Raises:
        Refusal: a rule is no possible number, or a pin and a bar are at odds.
    """

    offered: tuple[Offered, ...]
    orders: tuple[Order, ...]
    rules: Rules = field(default_factory=Rules)
    pins: frozenset[tuple[int, int]] = frozenset()
    bars: frozenset[tuple[int, int]] = frozenset()

    def __post_init__(self) -> None:
        """Refuse what contradicts itself."""
        for name, sentence in problems(self.rules):
            raise Refusal(sentence, field=name)
        called = {order.id: order.called for order in self.orders}
        for order, line in sorted(self.pins & self.bars):
            whom = called.get(order, "an order")
            raise Refusal(f"Line {line} is both pinned to {whom} and barred from it. Take one of them away.")


def problems(rules: Rules) -> tuple[tuple[str, str], ...]:
    """Return `(field, sentence)` for every rule that cannot be."""
    said = {
        "cap": (rules.cap is not None and rules.cap < 1, "A person must be allowed at least one packet."),
        "extra": (rules.extra < 0, "Extra packets cannot be fewer than none."),
        "limited_cap": (
            rules.limited_cap is not None and rules.limited_cap < 0,
            "The cap on limited lines cannot be less than none.",
        ),
        "line_cap": (
            rules.line_cap is not None and rules.line_cap < 1,
            "At least one packet of a line must be allowed.",
        ),
        "wait_days": (
            not 0 <= rules.wait_days <= MOST_WAITING,
            "The days to wait cannot be fewer than none, nor more than a year.",
        ),
        "classes": (
            len(set(rules.classes)) < len(rules.classes),
            "A class can be served only once; take one of them out.",
        ),
    }
    return tuple((name, sentence) for name, (wrong, sentence) in said.items() if wrong)
