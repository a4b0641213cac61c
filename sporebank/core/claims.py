"""What each order may get at most, worked out from the rules of a round before anything is shared out.

Both methods of sharing go by the same claims: chances (a line that may come to an order, as first choice or instead of
one) and limits over sets of chances. The limits that concern a person nest in each other, and so do those that concern
a line; two such families are the rows of a network matrix, so that shares in whole packets are the corners of what is
possible. One pair of rules would not nest: a cap on limited lines cuts across a wish and its alternate. With one
alternate per line the cap is therefore on what is asked: the first limited lines of an order, first choices before
alternates, stay open to it, and the others are closed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from sporebank.core.errors import Refusal
from sporebank.core.orders import Alternatives, Offered, Order, Round, Rules

_Named = tuple[int, int, int, int | None]


@dataclass(frozen=True)
class Chance:
    """A line that may come to an order: up to `most` packets, as a first choice or instead of one.

    `rank` counts from 1, and is 0 for alternatives that are not ranked; `wish` is the place of the first choice among
    the wishes, for alternatives that of the wish they stand in for, or None where they may stand in for any.
    """

    offered: Offered
    first: bool
    rank: int
    most: int
    wish: int | None

    @property
    def line(self) -> int:
        """The number of the line."""
        return self.offered.line

    @property
    def preference(self) -> tuple[bool, int]:
        """The smaller, the better liked: first choices before alternatives, each by rank."""
        return (not self.first, self.rank)


@dataclass(frozen=True)
class Limit:
    """At most so many packets of some chances together; they are named by their places in the claim."""

    most: int
    chances: tuple[int, ...]


@dataclass(frozen=True)
class Claim:
    """An order with its chances, the packets that fill it, further limits, and packets pinned per chance."""

    order: Order
    allowed: int
    chances: tuple[Chance, ...]
    limits: tuple[Limit, ...]
    pinned: tuple[int, ...]

    @property
    def reach(self) -> int:
        """The most packets that can come to the order: those that fill it, or fewer where there are no more."""
        return min(self.allowed, sum(chance.most for chance in self.chances))


class Basket:
    """What an order holds while packets are given one by one."""

    def __init__(self, claim: Claim) -> None:
        self.claim = claim
        self.held = [0] * len(claim.chances)
        self.size = 0
        self._limits: dict[int, list[Limit]] = defaultdict(list)
        for limit in claim.limits:
            for chance in limit.chances:
                self._limits[chance].append(limit)

    def takes(self, chance: int) -> bool:
        """Return whether one more packet of a chance is within all limits."""
        if self.size >= self.claim.allowed or self.held[chance] >= self.claim.chances[chance].most:
            return False
        return all(sum(self.held[one] for one in limit.chances) < limit.most for limit in self._limits[chance])

    def put(self, chance: int, packets: int = 1) -> None:
        """Add packets of a chance."""
        self.held[chance] += packets
        self.size += packets


def claims(sharing: Round) -> tuple[Claim, ...]:
    """Return the claims of all orders in their stored order.

    Raises:
        Refusal: more is pinned than an order asked for or may get, or than there is of a line.
    """
    offered = {one.line: one for one in sharing.offered}
    pins: dict[int, list[int]] = defaultdict(list)
    for order, line in sorted(sharing.pins):
        pins[order].append(line)
    barred: dict[int, set[int]] = defaultdict(set)
    for order, line in sharing.bars:
        barred[order].add(line)
    for line, packets in Counter(line for _, line in sharing.pins).items():
        if line not in offered or offered[line].packets < packets:
            raise Refusal(f"More packets of line {line} are pinned than there are. Take a pin away.")
    if pins.keys() - {one.id for one in sharing.orders}:
        raise Refusal("A line is pinned to an order that is not in this round. Take the pin away.")
    return tuple(
        _pinned(_claim(order, sharing.rules, offered, barred[order.id]), pins[order.id])
        for order in sorted(sharing.orders, key=lambda one: (one.place, one.id))
    )


def _claim(order: Order, rules: Rules, offered: Mapping[int, Offered], barred: Collection[int]) -> Claim:
    chances = [
        Chance(offered[line], first, rank, most, wish)
        for first, named in ((True, _firsts(order, rules)), (False, _alternatives(order, rules)))
        for line, rank, most, wish in named
        if line in offered and offered[line].packets and line not in barred
    ]
    if rules.limited_cap is not None and rules.alternatives is Alternatives.PER_LINE:
        chances = _closed(chances, rules.limited_cap)
    chances = [replace(chance, most=min(chance.most, chance.offered.packets)) for chance in chances]
    asked = sum(most for _, _, most, _ in _firsts(order, rules))
    allowance = rules.allowance(order)
    allowed = asked if allowance is None else min(asked, allowance)
    return Claim(order, allowed, tuple(chances), tuple(_limits(order, rules, chances)), (0,) * len(chances))


def _firsts(order: Order, rules: Rules) -> list[_Named]:
    """Return line, rank, most packets and wish of the first choices."""
    return [
        (wish.line, number + 1, _at_most(wish.packets, rules.line_cap), number)
        for number, wish in enumerate(order.wishes)
    ]


def _alternatives(order: Order, rules: Rules) -> list[_Named]:
    """Return line, rank, most packets and wish of the alternatives, leaving out what is a first choice anyway."""
    if rules.alternatives is Alternatives.NONE:
        return []
    if rules.alternatives is Alternatives.PER_LINE:
        return [
            (wish.alternate, number + 1, _at_most(wish.packets, rules.line_cap), number)
            for number, wish in enumerate(order.wishes)
            if wish.alternate is not None and wish.alternate != wish.line
        ]
    wished = {wish.line for wish in order.wishes}
    named = [line for line in dict.fromkeys(order.alternatives) if line not in wished]
    ranked = rules.alternatives is Alternatives.RANKED
    return [(line, number + 1 if ranked else 0, 1, None) for number, line in enumerate(named)]


def _at_most(packets: int, cap: int | None) -> int:
    return packets if cap is None else min(packets, cap)


def _closed(chances: Sequence[Chance], cap: int) -> list[Chance]:
    """Return the chances that stay open when only so many packets of limited lines may be asked for."""
    kept = []
    for chance in chances:
        if chance.offered.limited:
            chance = replace(chance, most=min(chance.most, cap))
            cap -= chance.most
        if chance.most:
            kept.append(chance)
    return kept


def _limits(order: Order, rules: Rules, chances: Sequence[Chance]) -> list[Limit]:
    """Return the limits beside the order's own size, without those that can never bind."""
    wishes, lines, limited = defaultdict[int, list[int]](list), defaultdict[int, list[int]](list), list[int]()
    for place, chance in enumerate(chances):
        lines[chance.line].append(place)
        if chance.wish is not None:
            wishes[chance.wish].append(place)
        if chance.offered.limited:
            limited.append(place)
    found = [(_at_most(order.wishes[wish].packets, rules.line_cap), places) for wish, places in wishes.items()]
    if rules.limited_cap is not None and rules.alternatives is not Alternatives.PER_LINE:
        found.append((rules.limited_cap, limited))
    for places in lines.values():
        asked = sum(chances[one].most for one in places if chances[one].first)
        once = max(chances[one].most for one in places)
        found.append((_at_most(max(asked, once), rules.line_cap), places))
    return [Limit(most, tuple(of)) for most, of in found if sum(chances[one].most for one in of) > most]


def _pinned(claim: Claim, lines: Sequence[int]) -> Claim:
    """Return a claim with packets of lines pinned, first choices before alternatives."""
    basket = Basket(claim)
    ways = {line: [one for one, chance in enumerate(claim.chances) if chance.line == line] for line in lines}
    for line in sorted(lines, key=lambda one: ways[one]):
        if not ways[line]:
            sentence = f"Line {line} is pinned to {claim.order.called}, which does not ask for it, or may not have it."
            raise Refusal(f"{sentence} Take the pin away.")
        open_ways = [one for one in ways[line] if basket.takes(one)]
        if not open_ways:
            raise Refusal(
                f"More is pinned to {claim.order.called} than the rules of the round let it hold. "
                "Take a pin away, or change a cap."
            )
        basket.put(open_ways[0])
    return replace(claim, pinned=tuple(basket.held))
