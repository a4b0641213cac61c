"""Small money: what an order costs, and what is still owed for it. Sums are in hundredths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sporebank.core.exchange import Terms
from sporebank.core.offer_list import money


@dataclass(frozen=True)
class Account:
    """What an order costs, what of that is still owed, and the credit that its person keeps beyond all orders."""

    charge: int
    owed: int
    kept: int
    currency: str

    def sums(self) -> tuple[tuple[str, str], ...]:
        """Return what is owed and what is kept, in words."""
        said = [("Owed", money(self.owed, self.currency))]
        if self.kept:
            said.append(("Credit kept", money(self.kept, self.currency)))
        return tuple(said)


def charges(terms: Terms) -> bool:
    """Return whether an exchange asks for money at all."""
    return bool(terms.packet_cents or terms.postage_cents or terms.postage_abroad_cents)


def charge(terms: Terms, packets: int, *, abroad: bool) -> int:
    """Return what so many packets cost with their postage; nothing is sent and charged where there are none."""
    postage = terms.postage_abroad_cents if abroad else terms.postage_cents
    return packets * terms.packet_cents + postage if packets else 0


def settle(costs: Sequence[int], paid: int) -> tuple[list[int], int]:
    """Return what is still owed for each order of a person, and what is left over; the oldest order is paid first."""
    owed = []
    for cost in costs:
        used = min(max(paid, 0), cost)
        paid -= used
        owed.append(cost - used)
    return owed, paid
