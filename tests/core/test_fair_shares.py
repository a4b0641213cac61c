"""Fair shares against complete enumeration, a formulation of its own in networkx, and published tables."""

from collections import Counter
from dataclasses import replace
from random import Random

import networkx as nx
import numpy as np
import pytest

from sporebank.core.claims import claims
from sporebank.core.fair_shares import STEPS, share, whole
from sporebank.core.orders import Alternatives, Offered, Order, Round, Rules, Wish
from sporebank.core.sharing_out import share_out
from tests.core.rounds import baskets, by_turns, holdings, made_up, plain


def ranks(sharing, held):
    """Return the sum of the ranks held; alternatives in one unranked list have none."""
    total = 0
    for order in sharing.orders:
        wished = {wish.line for wish in order.wishes}
        named = [line for line in order.alternatives if line not in wished]
        for (first, wish, line), count in held[order.id].items():
            if first or wish is not None:
                total += count * (wish + 1)
            elif sharing.rules.alternatives is Alternatives.RANKED:
                total += count * (named.index(line) + 1)
    return total


def crowding(sharing, held):
    """Return how far alternatives that are not ranked repeat genera: 1 for the second of a genus, 2 for the third.

    Where an order names more limited lines than it may get, those count apart.
    """
    rules, lines, total = sharing.rules, {one.line: one for one in sharing.offered if one.packets}, 0
    for order in sharing.orders if rules.alternatives is Alternatives.LIST else ():
        packets = {wish.line: min(wish.packets, rules.line_cap or 99) for wish in order.wishes}
        named = {**dict.fromkeys(order.alternatives, 1), **packets}
        scarce = {
            line for line in named if line in lines and lines[line].limited and (order.id, line) not in sharing.bars
        }
        apart = rules.limited_cap is not None and sum(named[line] for line in scarce) > rules.limited_cap
        kinds = Counter((lines[line].genus, apart and line in scarce) for first, _, line in held[order.id] if not first)
        total += sum(count * (count - 1) // 2 for count in kinds.values())
    return total


def merit(sharing, held):
    """Return what the method maximises, the more important first."""
    shares = [packets.total() for packets in held.values()]
    firsts = sum(count for packets in held.values() for (first, _, _), count in packets.items() if first)
    return sorted(shares), firsts, -ranks(sharing, held), -crowding(sharing, held)


def enumerated(sharing):
    """Yield every way to share a round out, each order within the rules and each line within its packets."""
    orders = [(order.id, list(baskets(sharing, order))) for order in sharing.orders]

    def go(number, left, held):
        if number == len(orders):
            yield dict(held)
            return
        who, ways = orders[number]
        for way in ways:
            after = Counter(left)
            for (_, _, line), count in way.items():
                after[line] -= count
            if min(after.values()) >= 0:
                yield from go(number + 1, after, {**held, who: way})

    yield from go(0, {one.line: one.packets for one in sharing.offered}, {})


@pytest.mark.parametrize("part", range(10))
def test_fair_shares_are_the_best_of_all_that_is_possible(part):
    """Complete enumeration, 50 rounds a part: leximin, then first choices, then ranks, then genera."""
    random = Random(part)
    for _ in range(50):
        people = random.choice((2, 3, 3))
        sharing = made_up(random, people, 4, 3 if people == 2 else 2, random.choice((1, 2, 3)), hand=True)
        best = max(merit(sharing, held) for held in enumerated(sharing))
        assert merit(sharing, holdings(share_out(sharing))) == best, sharing


@pytest.mark.parametrize("part", range(2))
def test_alternatives_of_one_order_are_the_best_of_all_that_is_possible(part):
    """Complete enumeration of 40 longer orders a part, where genera and limited lines cross."""
    random = Random(40 + part)
    for _ in range(40):
        sharing = made_up(random, 1, 8, 4, 8)
        sharing = replace(
            sharing, rules=replace(sharing.rules, alternatives=Alternatives.LIST, cap=None, limited_cap=2)
        )
        best = max(merit(sharing, held) for held in enumerated(sharing))
        assert merit(sharing, holdings(share_out(sharing))) == best, sharing


def test_limited_lines_of_a_genus_count_apart_where_they_are_capped():
    genera = ("Adiantum", "Adiantum", "Adiantum", "Adiantum", "Blechnum")
    offered = tuple(Offered(line, genus, 90, limited=line < 3) for line, genus in enumerate(genera, 1))
    orders = tuple(Order(who, who, (Wish(97), Wish(98), Wish(99)), (1, 2, 3, 4, 5)) for who in range(12))
    outcome = share_out(Round(offered, orders, Rules(alternatives=Alternatives.LIST, limited_cap=1)))
    for held in holdings(outcome).values():
        lines = {line for _, _, line in held}
        assert (len(lines & {1, 2}), len(lines & {3, 4}), len(lines & {5})) == (1, 1, 1)


def test_alternatives_do_not_eat_up_the_first_letters_of_the_alphabet():
    """Ten lines of ten genera, plenty of each, stand in for one that is gone, in any order: all are drawn upon."""
    offered = tuple(Offered(line, f"genus {line}", 90) for line in range(1, 11))
    orders = tuple(Order(who, who, (Wish(99),), tuple(range(1, 11))) for who in range(40))
    outcome = share_out(Round(offered, orders, Rules(alternatives=Alternatives.LIST)))
    taken = Counter(given.line for given in outcome.given)
    assert len(taken) == 10
    assert max(taken.values()) <= 8


def test_the_odd_packet_goes_to_the_earlier_in_the_stored_order():
    sharing = plain([[1, 2], [1, 2], [1, 2]], [2, 2])
    assert [tally.packets for tally in share_out(sharing).tallies] == [2, 1, 1]


def test_who_wants_little_holds_nobody_back():
    sharing = plain([[1], [1, 2, 3, 4], [2, 3, 4, 5]], [2, 2, 2, 2, 2])
    assert [tally.packets for tally in share_out(sharing).tallies] == [1, 4, 4]


def flow(sharing):
    """Return what each order gets by a flow in a graph of steps, orders and lines, whole costs as large as need be.

    The costs put all aims in one sum, each so much dearer than the next that no sum of the next outweighs it; Python's
    whole numbers have no limit, and network_simplex keeps to them.
    """
    graph, rules = nx.DiGraph(), sharing.rules
    limited = {one.line for one in sharing.offered if one.limited}
    packets = sum(len(order.wishes) for order in sharing.orders)
    first_cost = packets * max(len(order.wishes) + len(order.alternatives) for order in sharing.orders) + 1
    step_cost = (packets + 1) * first_cost
    for order in sharing.orders:
        who = ("order", order.id)
        for number in range(min(len(order.wishes), rules.cap)):
            graph.add_edge("in", ("step", order.id, number), capacity=1, weight=step_cost * number)
            graph.add_edge(("step", order.id, number), who, capacity=1)
        graph.add_edge(who, ("scarce", order.id), capacity=rules.limited_cap)
        costs = {wish.line: rank - first_cost for rank, wish in enumerate(order.wishes, 1)}
        costs |= {line: rank for rank, line in enumerate(order.alternatives, 1)}
        for line, cost in costs.items():
            graph.add_edge(("scarce", order.id) if line in limited else who, line, capacity=1, weight=cost)
    for one in sharing.offered:
        graph.add_edge(one.line, "out", capacity=one.packets, weight=-step_cost * packets)
    graph.add_edge("out", "in", capacity=packets)
    found = nx.min_cost_flow(graph)
    held = {}
    for order in sharing.orders:
        wished = [wish.line for wish in order.wishes]
        arcs = {**found["order", order.id], **found["scarce", order.id]}
        got = [line for line, much in arcs.items() if much and line != ("scarce", order.id)]
        held[order.id] = Counter((line in wished, wished.index(line) if line in wished else None, line) for line in got)
    return held


@pytest.mark.parametrize(("people", "lines"), [(40, 30), (60, 25), (15, 60)])
def test_a_flow_in_a_graph_comes_to_the_same(people, lines):
    random = Random(people)
    offered = tuple(Offered(line, "Dryopteris", random.randint(0, 6), line % 3 == 0) for line in range(1, lines + 1))
    orders = []
    for who in range(people):
        named = random.sample(range(1, lines + 1), 12)
        orders.append(Order(who, who, tuple(map(Wish, named[: random.randint(2, 8)])), tuple(named[8:])))
    sharing = Round(offered, tuple(orders), Rules(alternatives=Alternatives.RANKED, cap=7, limited_cap=2))
    assert merit(sharing, holdings(share_out(sharing))) == merit(sharing, flow(sharing))


CONSTRAINED_EQUAL_AWARDS = [
    (100, (33.33, 33.33, 33.33)),
    (200, (66.67, 66.67, 66.67)),
    (300, (100, 100, 100)),
    (400, (100, 150, 150)),
]
"""Claims of 100, 200 and 300: Aumann & Maschler 1985, Journal of Economic Theory 36: 195-213 (paper from memory)."""


@pytest.mark.parametrize(("estate", "awards"), CONSTRAINED_EQUAL_AWARDS)
def test_one_line_is_shared_by_constrained_equal_awards_in_whole_packets(estate, awards):
    orders = tuple(Order(who, who, (Wish(1, claim),)) for who, claim in enumerate((100, 200, 300), 1))
    sharing = Round((Offered(1, "Dryopteris", estate),), orders)
    for one in (sharing, by_turns(sharing)):
        got = [tally.packets for tally in share_out(one).tallies]
        assert sum(got) == estate
        assert all(abs(packets - award) < 1 for packets, award in zip(got, awards, strict=True))
        assert max(got) - min(got) <= 1 or estate == 400
    assert [tally.packets for tally in share_out(sharing).tallies] == {
        100: [34, 33, 33], 200: [67, 67, 66], 300: [100, 100, 100], 400: [100, 150, 150],
    }[estate]  # fmt: skip


def test_vector_a_in_packets():
    """Four lines, two people: relative leximin gives two to each (exq.pages.dev, on egalitarian item allocation).

    The absolute one counts what each says a thing is worth to him; here a packet counts as one for everybody.
    """
    sharing = plain([[1, 2, 3, 4], [1, 2, 3, 4]], [1, 1, 1, 1])
    for one in (sharing, by_turns(sharing)):
        assert [tally.packets for tally in share_out(one).tallies] == [2, 2]


def test_a_step_is_told_before_each_programme():
    told = []
    sharing = plain([[1]], [1])
    assert share(claims(sharing), {1: 1}, lambda: told.append(1)) == [[1]]
    assert len(told) == STEPS


def test_shares_that_are_not_whole_are_a_fault():
    assert whole(np.array([1.0 + 1e-9, -2.0])).tolist() == [1.0, -2.0]
    with pytest.raises(AssertionError, match="not whole"):
        whole(np.array([0.5]))


def test_nothing_to_share_is_no_fault():
    assert share_out(Round((), ())).tallies == ()
    assert share_out(plain([[1]], [])).total == 0
