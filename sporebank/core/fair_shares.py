"""Fair shares: the packets of a class shared out so that they are as even as the wishes allow.

A person's share is the number of packets that come to him, first choices and alternatives together; it is full when it
reaches his number of first choices or his cap. Of all ways to share, that one is taken which makes the smallest share
as large as can be, then the next smallest, and so on (leximin; Megiddo 1974, Mathematical Programming 7: 97-107, for
flows from many sources, from memory). Shares are compared in packets, not as parts of what was asked: somebody who
wants two packets and gets them is content and holds nobody back, and the packets he leaves go on to those who want
more.

The shares that are possible form a polymatroid. There one and the same outcome has the largest total, is leximin, and
maximises any strictly concave sum over the shares (Frank and Murota 2022, Mathematical Programming 195: 977-1025, from
memory), so a linear programme finds it, with one step a packet, each step worth less than the one before it. Further
programmes choose among all leximin outcomes: most first choices, then the smallest sum of ranks; alternatives that are
not ranked spread over genera; more and better packets for those earlier in the stored order; and last a fixed scramble
of order and line, so that what is still open does not depend on the solver.

Every programme has the rows of a network matrix (`claims` says why). Such a matrix is totally unimodular: with whole
numbers on the right, all corners of what is possible are whole, and with whole costs the prices of the rows are, too.
The simplex method ends in a corner. The outcomes that are best for one programme are those that keep at their bound all
variables and rows with a price; the next programme is solved on these alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from sporebank.core.claims import Claim
from sporebank.core.lookup import Floats

STEPS = 5
"""How often `share` calls `step`."""

_NEAR = 1e-6  # how far a solver's number may lie from a whole one


def share(claims: Sequence[Claim], stock: Mapping[int, int], step: Callable[[], object]) -> list[list[int]]:
    """Return the packets given for each chance of each claim.

    Args:
        claims: of one class, in the stored order.
        stock: the packets there are of each line, those pinned to these claims included.
        step: called before each of the `STEPS` programmes; it may raise `Stopped`.
    """
    network = _Network(claims, stock)
    for costs in (network.evenness, network.choices, network.spread, network.order, network.scramble):
        step()
        network.minimise(costs())
    return network.given()


class _Network:
    """The linear programme of a class, narrowed by each objective to the outcomes that are best by it.

    Its variables are the packets given for each chance, the steps of each share, and the steps of each set of
    alternatives of one genus.
    """

    def __init__(self, claims: Sequence[Claim], stock: Mapping[int, int]) -> None:
        self._claims = claims
        flat = [(owner, chance) for owner, claim in enumerate(claims) for chance in claim.chances]
        self._chances = [chance for _, chance in flat]
        self._owner = np.array([owner for owner, _ in flat], dtype=np.int64)
        self._first = np.array([chance.first for chance in self._chances], dtype=bool)
        self._rank = np.array([chance.rank for chance in self._chances], dtype=float)
        self._worst = float(self._rank.max(initial=0))
        self._shares = [number for claim in claims for number in range(claim.reach)]
        self._kinds = _kinds(claims)
        self._repeats = [number for places in self._kinds for number in range(len(places))]
        self._low = np.zeros(len(flat) + len(self._shares) + len(self._repeats))
        self._low[: len(flat)] = [packets for claim in claims for packets in claim.pinned]
        self._high = np.ones(len(self._low))
        self._high[: len(flat)] = [chance.most for chance in self._chances]
        self._rows, self._most, self._tight = self._limits(stock)
        self._best = self._low

    def _limits(self, stock: Mapping[int, int]) -> tuple[Any, Floats, np.ndarray[Any, np.dtype[np.bool_]]]:
        """Return the rows, what each may reach, and whether it must."""
        from scipy.sparse import csr_array

        own = _spans(0, [len(claim.chances) for claim in self._claims])
        shares = _spans(len(self._chances), [claim.reach for claim in self._claims])
        repeats = _spans(len(self._chances) + len(self._shares), [len(kind) for kind in self._kinds])
        lines: dict[int, list[int]] = {}
        for place, chance in enumerate(self._chances):
            lines.setdefault(chance.line, []).append(place)
        # each row: what counts, what counts against it, how much that may come to, whether it must be just so much
        rows: list[tuple[Sequence[int], range, int, bool]] = [
            *((chances, steps, 0, True) for chances, steps in zip(own, shares, strict=True)),
            *((chances, steps, 0, True) for chances, steps in zip(self._kinds, repeats, strict=True)),
            *((chances, range(0), stock.get(line, 0), False) for line, chances in lines.items()),
            *(
                ([chances[one] for one in limit.chances], range(0), limit.most, False)
                for chances, claim in zip(own, self._claims, strict=True)
                for limit in claim.limits
            ),
        ]
        columns = [one for plus, minus, _, _ in rows for one in (*plus, *minus)]
        signs = [sign for plus, minus, _, _ in rows for sign in (*(1.0 for _ in plus), *(-1.0 for _ in minus))]
        ends = np.cumsum([0, *(len(plus) + len(minus) for plus, minus, _, _ in rows)])
        matrix = csr_array((signs, columns, ends), shape=(len(rows), len(self._low)))
        most, exact = zip(*((most, exact) for _, _, most, exact in rows), strict=True)
        return matrix, np.array(most, dtype=float), np.array(exact)

    def minimise(self, costs: Floats) -> None:
        """Keep only the outcomes with the smallest sum of costs, which are whole numbers."""
        from scipy.optimize import linprog

        if not costs.any():
            return
        slack = ~self._tight
        found = linprog(
            costs,
            self._rows[slack], self._most[slack],
            self._rows[self._tight], self._most[self._tight],
            np.column_stack([self._low, self._high]),
            method="highs-ds",
        )  # fmt: skip
        assert found.status == 0, found.message  # nothing but the pins is always possible
        self._best = whole(found.x)
        self._high = np.where(whole(found.lower.marginals) != 0, self._low, self._high)
        self._low = np.where(whole(found.upper.marginals) != 0, self._high, self._low)
        self._tight[np.flatnonzero(slack)[whole(found.ineqlin.marginals) != 0]] = True

    def given(self) -> list[list[int]]:
        """Return the packets of the last outcome for each chance of each claim."""
        packets = iter(self._best.astype(int).tolist())
        return [[next(packets) for _ in claim.chances] for claim in self._claims]

    def evenness(self) -> Floats:
        """Return costs that are smallest for the leximin shares."""
        most = max((claim.reach for claim in self._claims), default=0)
        return self._costs(shares=np.array([number - most for number in self._shares], dtype=float))

    def choices(self) -> Floats:
        """Return costs that are smallest for most first choices, then for the smallest sum of ranks.

        Two outcomes differ by cycles, each of which meets a line once, so that no cycle changes ranks by more than the
        number of lines times the worst rank.
        """
        lines = len({chance.line for chance in self._chances})
        return self._costs(self._rank - self._first * (lines * self._worst + 1))

    def spread(self) -> Floats:
        """Return costs that grow with every further alternative of one genus in one order."""
        return self._costs(repeats=np.array(self._repeats, dtype=float))

    def order(self) -> Floats:
        """Return costs that are smallest where those earlier in the stored order have more and better packets."""
        liked = 2 * self._worst + 1 - self._rank - self._worst * ~self._first
        return self._costs((self._owner - len(self._claims)) * liked)

    def scramble(self) -> Floats:
        """Return costs without any pattern, the same whenever they are asked for: squares, modulo a prime number."""
        lines = np.array([chance.line for chance in self._chances], dtype=np.int64)
        return self._costs(((self._owner * 499_979 + lines * 97_003) % 1_000_003) ** 2 % 1_000_003)

    def _costs(self, chances: Any = 0.0, shares: Any = 0.0, repeats: Any = 0.0) -> Floats:  # noqa: ANN401 - arrays or 0
        costs = np.zeros(len(self._low))
        ends = np.cumsum([len(self._chances), len(self._shares)])
        costs[: ends[0]], costs[ends[0] : ends[1]], costs[ends[1] :] = chances, shares, repeats
        return costs


def _kinds(claims: Sequence[Claim]) -> list[list[int]]:
    """Return the places of chances that are alternatives of one order and genus, none of them ranked.

    Those under a further limit, that on limited lines, count apart, so that the rows stay those of a network.
    """
    found: dict[tuple[int, str, bool], list[int]] = {}
    start = 0
    for owner, claim in enumerate(claims):
        under = {one for limit in claim.limits for one in limit.chances}
        for place, chance in enumerate(claim.chances):
            if not chance.first and not chance.rank:
                found.setdefault((owner, chance.offered.genus, place in under), []).append(start + place)
        start += len(claim.chances)
    return [places for places in found.values() if len(places) > 1]


def _spans(start: int, sizes: Sequence[int]) -> list[range]:
    """Return ranges of these sizes, one behind the other."""
    ends = [start, *(start + int(end) for end in np.cumsum(sizes))]
    return [range(one, other) for one, other in pairwise(ends)]


def whole(numbers: Floats) -> Floats:
    """Return the whole numbers that a solver meant; it is a fault of the programme if they lie further off."""
    rounded = np.round(numbers)
    assert np.all(np.abs(numbers - rounded) < _NEAR * np.maximum(1, np.abs(rounded))), "these shares are not whole"
    return rounded
