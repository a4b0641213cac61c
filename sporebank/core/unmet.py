"""Why a first choice was not met, in a sentence that the one who asked for it can read."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from sporebank.core import counted
from sporebank.core.claims import claims
from sporebank.core.orders import Method, Offered, Order, Round, Wish
from sporebank.core.sharing_out import Given, Outcome


@dataclass(frozen=True)
class Unmet:
    """The packets of a wish that were not given, and why."""

    order: int
    line: int
    packets: int
    reason: str


def unmet(sharing: Round, outcome: Outcome) -> tuple[Unmet, ...]:
    """Return every first choice of a round that was not met in full, by the stored order and the rank."""
    reasons = _Reasons(sharing, outcome)
    found = []
    for order in sorted(sharing.orders, key=lambda one: (one.place, one.id)):
        for number, wish in enumerate(order.wishes):
            missing = wish.packets - reasons.met(order, number)
            if missing > 0:
                found.append(Unmet(order.id, wish.line, missing, reasons.reason(order, number, wish)))
    return tuple(found)


class _Reasons:
    """An outcome, seen by order and by line."""

    def __init__(self, sharing: Round, outcome: Outcome) -> None:
        self._sharing, self._rules, self._method = sharing, sharing.rules, outcome.method
        self._offered = {one.line: one for one in sharing.offered}
        self._turn = {order.id: sharing.rules.turn_of(order) for order in sharing.orders}
        self._full = {tally.order for tally in outcome.tallies if tally.packets >= tally.allowed}
        self._open = {
            (claim.order.id, chance.wish): chance.most
            for claim in claims(sharing)
            for chance in claim.chances
            if chance.first
        }
        self._of_order: dict[int, list[Given]] = defaultdict(list)
        self._of_line: dict[int, list[Given]] = defaultdict(list)
        self._asked: dict[int, set[int]] = defaultdict(set)
        for given in outcome.given:
            self._of_order[given.order].append(given)
            self._of_line[given.line].append(given)
        for order in sharing.orders:
            for wish in order.wishes:
                self._asked[wish.line].add(order.id)

    def met(self, order: Order, number: int) -> int:
        """Return how many packets a wish got."""
        return sum(one.packets for one in self._of_order[order.id] if one.first and one.wish == number)

    def reason(self, order: Order, number: int, wish: Wish) -> str:
        """Return why a wish of an order was not met in full."""
        offered = self._offered.get(wish.line)
        if (order.id, wish.line) in self._sharing.bars:
            return "The keeper barred it from this order."
        if offered is None:
            return "It is not on the list."
        if not offered.packets:
            return "It was gone before you asked." if offered.gone else "There is no packet of it to share out."
        if self._held(order.id, wish.line) >= offered.packets:
            return _all_there_were(offered)
        return self._rule(order, number, offered) or self._scarce(order, number, offered)

    def _held(self, order: int, line: int) -> int:
        """Return how many packets of a line an order got, in whatever way."""
        return sum(one.packets for one in self._of_line[line] if one.order == order)

    def _rule(self, order: Order, number: int, offered: Offered) -> str:
        """Return which rule of the round stands in the way, or nothing."""
        given, rules = self._of_order[order.id], self._rules
        if rules.line_cap is not None and rules.line_cap <= self._held(order.id, offered.line):
            return f"No more than {counted.packets(rules.line_cap)} of a line can go to one order."
        left = offered.packets - sum(one.packets for one in self._of_line[offered.line])
        if order.id in self._full and (left or all(one.first for one in given)):
            return f"The order is full at {counted.packets(sum(one.packets for one in given))}."
        limited = sum(one.packets for one in given if self._offered[one.line].limited)
        closed = self.met(order, number) >= self._open.get((order.id, number), 0)
        if rules.limited_cap is not None and offered.limited and (closed or limited >= rules.limited_cap):
            return f"No more than {counted.packets(rules.limited_cap)} of limited lines can go to one order."
        return ""

    def _scarce(self, order: Order, number: int, offered: Offered) -> str:
        """Return who had the packets of a line that was not enough for all."""
        there = [one for one in self._of_line[offered.line] if one.order != order.id]
        mine = self._turn[order.id]
        before = [one for one in there if self._turn[one.order] < mine]
        if sum(one.packets for one in before) >= offered.packets:
            ahead = {one.order for one in before} | {one for one in self._asked[offered.line] if self._turn[one] < mine}
            return f"{counted.packets(offered.packets)}, {counted.people(len(ahead))} in line before you."
        served = sum(one.packets for one in before)
        pinned = sum(one.pinned for one in there if one not in before)
        asked = self._asked[offered.line] | {one.order for one in there}
        said = [f"{counted.packets(offered.packets)}, {counted.people(len(asked))} asked"]
        if served:
            said.append(f"{served} went to people in line before you")
        if pinned:
            said.append(f"{pinned} went where the keeper pinned {'it' if pinned == 1 else 'them'}")
        fits = (None, number) if order.id in self._full else (number,)
        if any(not one.first and one.wish in fits for one in self._of_order[order.id]):
            said.append("an alternative came instead")
        elif served + pinned < sum(one.packets for one in there) and self._method is Method.FAIR:
            said.append("without theirs, the others who got one would have no more packets than you")
        elif served + pinned < sum(one.packets for one in there):
            said.append("the last was gone before it was your turn to pick it")
        return "; ".join(said) + "."


def _all_there_were(offered: Offered) -> str:
    """Return what is said to the one who got every packet of a line and asked for more."""
    when = "left when you asked" if offered.gone else "to share out"
    if offered.packets == 1:
        return f"There was only 1 packet of it {when}, which is yours."
    return f"There were only {counted.packets(offered.packets)} of it {when}, which are yours."
