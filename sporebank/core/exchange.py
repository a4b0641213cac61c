"""The shapes of an exchange, a yearly round and a standing list: what it lists, on what terms, who asks for what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date, timedelta
from enum import StrEnum
from typing import Any

from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.orders import Alternatives, Method, Order, Rules, Standing, problems
from sporebank.core.records import Contact, Share, Source, Taxon


class Shape(StrEnum):
    """The shapes of an exchange."""

    ROUND = "round"
    STANDING = "standing list"


class Stage(StrEnum):
    """How far an exchange has come: all is coming in, the list is out, packets are shared out, it is over."""

    GATHERING = "gathering"
    OPEN = "open"
    SHARED = "shared out"
    CLOSED = "closed"


@dataclass(frozen=True)
class Terms:
    """The terms of an exchange that are kept with it: its rules, which lines are scarce, and small money.

    A line with fewer packets than `limited_below` is marked as limited when the list is numbered. Charges are in
    hundredths of `currency`, and nothing where the exchange asks for no money.
    """

    rules: Rules = field(default_factory=Rules)
    limited_below: int = 0
    currency: str = ""
    packet_cents: int = 0
    postage_cents: int = 0
    postage_abroad_cents: int = 0


@dataclass(frozen=True)
class Exchange:
    """A round or a standing list; `ships` is about when the parcels of a round go."""

    id: int
    name: str
    shape: Shape
    stage: Stage
    opens: date
    closes: date | None
    ships: date
    terms: Terms = field(default_factory=Terms)
    note: str = ""


@dataclass(frozen=True)
class Part:
    """A clone whose spore is in a line of the list, and the codes of the donors who gave it.

    `collected` is the oldest and the youngest spore of it that may go, `share` how alive that is on the day it ships.
    """

    clone_id: int
    clone: str
    source: Source
    origin: str
    country: str
    note: str
    donors: tuple[str, ...] = ()
    collected: tuple[PartDate, PartDate] | None = None
    share: Share | None = None


@dataclass(frozen=True)
class Listed:
    """A line of the list; `number` is None until all is in and the list is numbered. `left` is not allotted yet.

    `short` is how many of its packets there is no spore for any more, as things stand.
    """

    id: int
    number: int | None
    taxon: Taxon
    packet_ug: int
    packets: int
    left: int
    limited: bool
    note: str
    parts: tuple[Part, ...] = ()
    short: int = 0


@dataclass(frozen=True)
class Placed:
    """An order of an exchange with who placed it; the lines in `order` are the numbers of the list."""

    request_id: int
    contact: Contact
    received_on: date
    order: Order
    note: str = ""


@dataclass(frozen=True)
class OrderLine:
    """A line of an order as it is kept: `number` is that of the list, `allotted` None until it was shared out.

    `stands_for` is the first choice that an alternate belongs to, `held` how many of its packets are held back in their
    vials, and `sent` how many are gone.
    """

    id: int
    request_id: int
    number: int
    alternative: bool
    stands_for: int | None
    packets: int
    allotted: int | None
    unmet: str
    offering_id: int
    packet_ug: int
    held: int
    sent: int


SOON = timedelta(days=7)
"""From a standing list spore goes within a week of being asked for; our own choice."""


def judged_on(exchange: Exchange, today: date) -> date:
    """Return the day on which spore of an exchange must be alive enough: when its parcels go, never a day gone by."""
    if exchange.shape is Shape.STANDING:
        return today + SOON
    return max(exchange.ships, today)


def terms_values(terms: Terms) -> dict[str, Any]:
    """Return terms as plain values, to be kept as JSON."""
    return asdict(terms)


def terms_from(values: Mapping[str, Any]) -> Terms:
    """Return the terms that were kept as plain values; what is not among them is as in new terms."""
    rules = dict(values.get("rules", {}))
    rules["classes"] = tuple(Standing(one) for one in rules.get("classes", ()))
    rules["alternatives"] = Alternatives(rules.get("alternatives", Alternatives.NONE))
    rules["method"] = Method(rules.get("method", Method.FAIR))
    return Terms(**{**values, "rules": Rules(**rules)})


def refuse_odd(exchange: Exchange) -> None:
    """Refuse an exchange that cannot be.

    Raises:
        Refusal: a date, a charge or a rule contradicts another, or is no possible number.
    """
    terms = exchange.terms
    if not exchange.name.strip():
        raise Refusal("Give the exchange a name, such as Spring round 2027.", field="name")
    if exchange.closes is not None and exchange.closes < exchange.opens:
        raise Refusal("The last day for wishes lies before the day on which the list opens.", field="closes")
    if exchange.shape is Shape.ROUND and exchange.closes is None:
        raise Refusal("A round has a last day for wishes. Give it, or choose a standing list.", field="closes")
    if exchange.closes is not None and exchange.ships < exchange.closes:
        raise Refusal("The parcels cannot go before the last day for wishes.", field="ships")
    for name, sentence in problems(terms.rules):
        raise Refusal(sentence, field=name)
    if terms.limited_below < 0:
        raise Refusal("A line is limited below so many packets; that cannot be less than none.", field="limited_below")
    for name in ("packet_cents", "postage_cents", "postage_abroad_cents"):
        if getattr(terms, name) < 0:
            raise Refusal("A charge cannot be less than nothing.", field=name)
