"""Sharing out a round: what is pinned is set aside, then class after class is served from what is left.

The packets of a class are gone before the next class is served, so that nobody gains or loses by who comes after him.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from sporebank.core import fair_shares, turns
from sporebank.core.claims import Claim, claims
from sporebank.core.errors import Stopped
from sporebank.core.orders import Method, Round

Report = Callable[[int, int], object]
Cancelled = Callable[[], bool]


@dataclass(frozen=True)
class Given:
    """Packets of a line that go to an order.

    `wish` is the place of the wish they fill among those of the order, None for alternatives to any of them; `pinned`
    says how many of them the keeper pinned.
    """

    order: int
    line: int
    packets: int
    first: bool
    wish: int | None
    pinned: int = 0


@dataclass(frozen=True)
class Tally:
    """What an order came to: the packets that would fill it, those it got, and how many of these are first choices."""

    order: int
    allowed: int
    packets: int
    first: int


@dataclass(frozen=True)
class Outcome:
    """What goes to whom, in the order in which the classes are served and people are stored."""

    method: Method
    given: tuple[Given, ...]
    tallies: tuple[Tally, ...]

    @property
    def total(self) -> int:
        """All packets given."""
        return sum(tally.packets for tally in self.tallies)

    @property
    def first(self) -> int:
        """First choices met, in packets."""
        return sum(tally.first for tally in self.tallies)

    @property
    def worst(self) -> int | None:
        """The fewest packets in an order that could not be filled, None where all were."""
        return min((tally.packets for tally in self.tallies if tally.packets < tally.allowed), default=None)

    @property
    def spread(self) -> tuple[tuple[int, int], ...]:
        """How many orders got how many packets: `(packets, orders)` from the fewest packets on."""
        return tuple(sorted(Counter(tally.packets for tally in self.tallies).items()))


def _unheard(done: int, of: int) -> None:
    """Tell nobody how far it is."""


def _never() -> bool:
    return False


def share_out(sharing: Round, report: Report = _unheard, cancelled: Cancelled = _never) -> Outcome:
    """Return how the packets of a round are shared out by its rules.

    Args:
        sharing: the round.
        report: told how many steps of how many are done.
        cancelled: asked before each step.

    Raises:
        Refusal: more is pinned than there is, or than an order may hold.
        Stopped: it was cancelled.
    """
    by_turn = sorted(claims(sharing), key=lambda claim: sharing.rules.turn_of(claim.order))
    classes = [tuple(group) for _, group in groupby(by_turn, lambda claim: sharing.rules.turn_of(claim.order))]
    fair = sharing.rules.method is Method.FAIR
    steps = _Steps(report, cancelled, len(classes) * (fair_shares.STEPS if fair else 1))
    left = Counter({one.line: one.packets for one in sharing.offered})
    left.subtract(_taken(by_turn, [claim.pinned for claim in by_turn]))
    held: list[list[int]] = []
    for served in classes:
        stock = left + _taken(served, [claim.pinned for claim in served])
        if fair:
            packets = fair_shares.share(served, stock, steps.next)
        else:
            steps.next()
            packets = turns.pick(served, stock, turns.back_and_forth(served))
        left = stock - _taken(served, packets)
        held += packets
    report(steps.of, steps.of)
    return _outcome(sharing.rules.method, by_turn, held)


def compare(sharing: Round, report: Report = _unheard, cancelled: Cancelled = _never) -> tuple[Outcome, Outcome]:
    """Return what comes of a round by fair shares and by turns, all other rules as they are.

    Raises:
        Refusal: more is pinned than there is, or than an order may hold.
        Stopped: it was cancelled.
    """
    by_turns = share_out(replace(sharing, rules=replace(sharing.rules, method=Method.TURNS)), cancelled=cancelled)
    fair = replace(sharing, rules=replace(sharing.rules, method=Method.FAIR))
    return share_out(fair, report, cancelled), by_turns


class _Steps:
    """How far a sharing is, told before each step, and left there when it was cancelled."""

    def __init__(self, report: Report, cancelled: Cancelled, of: int) -> None:
        self.of = of
        self._report, self._cancelled, self._done = report, cancelled, 0

    def next(self) -> None:
        """Begin a step."""
        if self._cancelled():
            raise Stopped
        self._report(self._done, self.of)
        self._done += 1


def _taken(served: Sequence[Claim], held: Sequence[Sequence[int]]) -> Counter[int]:
    """Return how many packets of each line are held."""
    taken = Counter[int]()
    for claim, packets in zip(served, held, strict=True):
        for chance, count in zip(claim.chances, packets, strict=True):
            taken[chance.line] += count
    return taken


def _outcome(method: Method, everyone: Sequence[Claim], held: Sequence[Sequence[int]]) -> Outcome:
    given: list[Given] = []
    tallies: list[Tally] = []
    for claim, packets in zip(everyone, held, strict=True):
        number = claim.order.id
        chances = list(zip(claim.chances, packets, claim.pinned, strict=True))
        given += [
            Given(number, chance.line, count, chance.first, chance.wish, pinned)
            for chance, count, pinned in chances
            if count
        ]
        firsts = sum(count for chance, count, _ in chances if chance.first)
        tallies.append(Tally(number, claim.allowed, sum(packets), firsts))
    return Outcome(method, tuple(given), tuple(tallies))
