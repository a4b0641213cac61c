"""Small rounds for tests, and what each order may hold, read from the rules by trying everything."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from random import Random

from sporebank.core.orders import Alternatives, Method, Offered, Order, Round, Rules, Standing, Wish

GENERA = ("Adiantum", "Dryopteris", "Polystichum")


def plain(wishes, packets, **rules):
    """Return a round from lists of lines in order of rank, and the packets of line 1, 2, ..."""
    offered = tuple(Offered(line, "Dryopteris", count) for line, count in enumerate(packets, 1))
    orders = tuple(Order(who, who, tuple(map(Wish, lines))) for who, lines in enumerate(wishes, 1))
    return Round(offered, orders, Rules(**rules))


def by_turns(sharing):
    return replace(sharing, rules=replace(sharing.rules, method=Method.TURNS))


def made_up(random: Random, people=3, lines=4, wishes=3, alternatives=1, classes=False, hand=False) -> Round:
    """Return a round drawn by chance, with any of the rules."""
    offered = tuple(
        Offered(line, random.choice(GENERA), random.randint(0, 2), random.random() < 0.4)
        for line in range(1, lines + 1)
    )

    def some(most):
        return random.sample(range(1, lines + 1), random.randint(1, min(most, lines)))

    orders = tuple(
        Order(
            who,
            place,
            tuple(
                Wish(line, random.choice((1, 1, 1, 2)), random.choice((None, *range(1, lines))))
                for line in some(wishes)
            ),
            tuple(some(alternatives)) if alternatives else (),
            random.random() < 0.5,
            random.random() < 0.3,
            random.random() < 0.5,
        )
        for place, who in enumerate(random.sample(range(10, 10 + people), people))
    )
    rules = Rules(
        tuple(random.sample(list(Standing), random.randint(0, 4))) if classes else (),
        random.choice(list(Alternatives)),
        random.choice((None, None, 1, 2, 3)),
        random.choice((0, 1)),
        random.choice((None, 1, 2)),
        random.choice((None, 1, 2)),
    )
    bars = {(order.id, random.randint(1, lines)) for order in orders if random.random() < 0.2} if hand else set()
    return Round(offered, orders, rules, bars=frozenset(bars))


Held = Counter[tuple[bool, int | None, int]]
"""What an order holds: packets by whether they are first choices, the wish they fill (or None), and the line."""


def baskets(sharing: Round, order: Order) -> Iterator[Held]:
    """Yield all that an order may hold, by going through the rules one by one."""
    rules, lines = sharing.rules, {one.line: one for one in sharing.offered}
    per_line = rules.alternatives is Alternatives.PER_LINE
    ways = {(True, number, wish.line): wish.packets for number, wish in enumerate(order.wishes)}
    if per_line:
        for number, wish in enumerate(order.wishes):
            if wish.alternate is not None and wish.alternate != wish.line:
                ways[False, number, wish.alternate] = wish.packets
    elif rules.alternatives is not Alternatives.NONE:
        wished = {wish.line for wish in order.wishes}
        ways |= {(False, None, line): 1 for line in order.alternatives if line not in wished}
    ways = {way: most for way, most in ways.items() if way[2] in lines and (order.id, way[2]) not in sharing.bars}
    if per_line and rules.limited_cap is not None:
        ways = _asked_within(ways, lines, rules)
    for counts in product(*(range(min(most, lines[way[2]].packets) + 1) for way, most in ways.items())):
        held = Counter({way: count for way, count in zip(ways, counts, strict=True) if count})
        if allowed(sharing, order, held):
            yield held


def _asked_within(ways, lines, rules):
    """Keep, with one alternate per line, as many packets of limited lines as may be asked for."""
    room, kept = rules.limited_cap, {}
    for way, most in ways.items():
        packets = most if rules.line_cap is None else min(most, rules.line_cap)
        if not lines[way[2]].packets:
            continue
        if lines[way[2]].limited:
            packets = min(packets, room)
            room -= packets
        if packets:
            kept[way] = packets
    return kept


def allowed(sharing: Round, order: Order, held: Held) -> bool:
    """Return whether an order may hold this, by the rules alone, whatever the stock."""
    rules, lines = sharing.rules, {one.line: one for one in sharing.offered}
    line_cap = rules.line_cap or 99
    asked = sum(min(wish.packets, line_cap) for wish in order.wishes)
    most = asked if rules.cap is None else min(asked, rules.cap + rules.extra * (order.donor or order.helper))
    of_line, of_wish = Counter[int](), Counter[int | None]()
    for (_, wish, line), count in held.items():
        of_line[line] += count
        of_wish[wish] += count
    limited = sum(count for line, count in of_line.items() if lines[line].limited)
    return (
        held.total() <= most
        and all(count <= min(line_cap, _wanted(order, line, rules)) for line, count in of_line.items())
        and all(wish is None or n <= min(order.wishes[wish].packets, line_cap) for wish, n in of_wish.items())
        and (rules.limited_cap is None or limited <= rules.limited_cap)
    )


def _wanted(order: Order, line: int, rules: Rules) -> int:
    """Return the most packets of a line that an order names at once."""
    first = sum(wish.packets for wish in order.wishes if wish.line == line)
    if rules.alternatives is Alternatives.PER_LINE:
        return max([first, *(wish.packets for wish in order.wishes if wish.alternate == line)])
    return max(first, int(line in order.alternatives))


def holdings(outcome) -> dict[int, Held]:
    """Return what each order got."""
    found = {tally.order: Counter() for tally in outcome.tallies}
    for given in outcome.given:
        found[given.order][given.first, given.wish, given.line] += given.packets
    return found
