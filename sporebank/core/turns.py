"""Turns: people pick one packet after the other, in the stored order and back again, until nothing is left for anybody.

In each round everybody picks once, so that nobody for whom there is something left is ever behind by more than one.
Hence the shares are envy-free up to one packet (round-robin picking; Caragiannis and others 2019, ACM
Transactions on Economics and Computation 7(3): 12, credit it as folklore), in this sense: what another got and the
rules would let one have beside one's own, but for one packet of it, is worth no more than one's own. That is the
published notion where a line has one packet and no cap binds. The words "beside one's own" matter where lines have
several packets, since a second packet of a line is of no use to who asked for one: somebody who picks plentiful ferns
first, while others pick the scarce ones, may come to less than they do. Fair shares look ahead; picking does not.

Everybody picks a first choice as long as there is one for him, the best by rank, then alternatives. Of alternatives
that are not ranked he takes one of the genus of which he has the fewest, then of the line with most packets left. A
packet pinned to an order counts as one of its picks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence

from sporebank.core.claims import Basket, Claim


def back_and_forth(claims: Sequence[Claim]) -> Iterator[int]:
    """Yield whose turn it is, by place in `claims`, the order of which is reversed each round."""
    for number in range(max((claim.reach for claim in claims), default=0)):
        yield from range(len(claims)) if number % 2 == 0 else reversed(range(len(claims)))


def pick(claims: Sequence[Claim], stock: Mapping[int, int], turns: Iterable[int]) -> list[list[int]]:
    """Return the packets picked for each chance of each claim.

    Args:
        claims: of one class, in the stored order.
        stock: the packets there are of each line, those pinned to these claims included.
        turns: whose turn it is, one pick after the other, by place in `claims`.
    """
    left = Counter(stock)
    baskets = [Basket(claim) for claim in claims]
    for basket in baskets:
        for place, packets in enumerate(basket.claim.pinned):
            basket.put(place, packets)
            left[basket.claim.chances[place].line] -= packets
    waits = [basket.size for basket in baskets]
    done = set[int]()  # what is out of reach once stays so
    for person in turns:
        if waits[person]:
            waits[person] -= 1
        elif person not in done:
            choice = _best(baskets[person], left)
            if choice is None:
                done.add(person)
            else:
                baskets[person].put(choice)
                left[baskets[person].claim.chances[choice].line] -= 1
    return [basket.held for basket in baskets]


def _best(basket: Basket, left: Counter[int]) -> int | None:
    """Return the chance that a person would pick, or None where nothing is left for him."""
    chances = basket.claim.chances
    possible = [one for one, chance in enumerate(chances) if left[chance.line] > 0 and basket.takes(one)]
    if not possible:
        return None
    liked = min(chances[one].preference for one in possible)
    best = [one for one in possible if chances[one].preference == liked]
    if len(best) == 1:
        return best[0]
    genera = Counter[str]()
    for chance, packets in zip(chances, basket.held, strict=True):
        genera[chance.offered.genus] += packets
    return min(best, key=lambda one: (genera[chances[one].offered.genus], -left[chances[one].line], chances[one].line))
