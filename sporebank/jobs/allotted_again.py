"""What an order is allotted again once its parcel is open: what closing it took, as far as list and rules allow it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.claims import Basket, claims
from sporebank.core.exchange import Exchange, Listed, OrderLine, Placed, Shape
from sporebank.core.orders import Offered, Round
from sporebank.jobs.sharing_round import BARRED, LineFinder, had_by_year


def allotted_again(
    bank: Bank, exchange_id: int, request_id: int, before: Mapping[int, tuple[int, str]]
) -> list[OrderLine]:
    """Return the lines of an order that are allotted more again, with what they get.

    Args:
        bank: the bank.
        exchange_id: whose list and rules it goes by; its cap is for a person and year on a standing list.
        request_id: the order.
        before: what lines of it had been allotted, and why they were not met then.
    """
    one, lines = queries.exchange(bank, exchange_id), queries.order_lines(bank, exchange_id)
    listed, placed = queries.listed(bank, exchange_id), queries.placed(bank, exchange_id)
    barred = {line for order, line, kind in queries.pins(bank, exchange_id) if kind == BARRED and order == request_id}
    room = _room(one, listed, placed, lines, request_id)
    found = []
    for line in (line for line in lines if line.request_id == request_id and line.number not in barred):
        now, (then, why) = line.allotted or 0, before.get(line.id, (0, ""))
        again = room.take(line, then - now)
        if again:
            found.append(replace(line, allotted=now + again, unmet=why if now + again == then else line.unmet))
    return found


@dataclass
class _Room:
    """What may still come to an order: packets by its allowance, packets left of each line of the list, other limits.

    `chances` has the place in the basket by the line of the order.
    """

    allowed: int
    left: dict[int, int]
    basket: Basket
    chances: dict[int, int]

    def take(self, line: OrderLine, most: int) -> int:
        """Take up to so many packets of a line, and return how many could be taken."""
        chance, taken = self.chances.get(line.id), 0
        if chance is None:
            return 0
        while taken < min(most, self.allowed, self.left[line.offering_id]) and self.basket.takes(chance):
            self.basket.put(chance)
            taken += 1
        self.allowed -= taken
        self.left[line.offering_id] -= taken
        return taken


def _room(
    one: Exchange, listed: Sequence[Listed], placed: Sequence[Placed], lines: Sequence[OrderLine], request_id: int
) -> _Room:
    who = next(each for each in placed if each.request_id == request_id)
    mine = [line for line in lines if line.request_id == request_id]
    rules = one.terms.rules
    offered = [
        Offered(line.number, line.taxon.name.genus, line.packets, line.limited)
        for line in listed
        if line.number is not None
    ]
    (claim,) = claims(Round(tuple(offered), (who.order,), replace(rules, cap=None)))
    written = LineFinder(mine, rules.alternatives)
    room = _Room(
        allowed=sum(line.packets for line in mine),
        left={line.id: line.left for line in listed},
        basket=Basket(claim),
        chances={written.of(request_id, chance): place for place, chance in enumerate(claim.chances)},
    )
    for line in mine:
        if line.id in room.chances:
            room.basket.put(room.chances[line.id], line.allotted or 0)
    allowance = rules.allowance(who.order)
    if allowance is not None:
        counted = lines if one.shape is Shape.STANDING else mine
        room.allowed = max(allowance - had_by_year(placed, counted)[who.contact.id, who.received_on.year], 0)
    return room
