"""Sharing out a round: what holds of every round by both methods, classes, pins and bars, and the reasons."""

from collections import Counter
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.core.claims import claims
from sporebank.core.errors import Refusal, Stopped
from sporebank.core.orders import Alternatives, Method, Offered, Order, Round, Rules, Standing, Wish
from sporebank.core.sharing_out import compare, share_out
from sporebank.core.unmet import Unmet, unmet
from tests.core.rounds import allowed, baskets, by_turns, holdings, made_up, plain


@st.composite
def rounds(draw):
    """Rounds with any of the rules by either method, and pins that can be held."""
    random = Random(draw(st.integers(0, 1_000_000)))
    sharing = made_up(random, random.randint(1, 5), 5, 3, 3, classes=True, hand=True)
    if draw(st.booleans()):
        sharing = by_turns(sharing)
    if draw(st.booleans()):
        given = share_out(made_up_method(sharing)).given
        pins = random.sample(given, random.randint(0, min(2, len(given))))
        sharing = replace(sharing, pins=frozenset((one.order, one.line) for one in pins))
    return sharing


def made_up_method(sharing):
    """Return the round with its orders the other way round, so that its outcome is possible but no foregone one."""
    orders = tuple(replace(order, place=-order.place) for order in sharing.orders)
    return replace(sharing, orders=orders)


@settings(max_examples=60, deadline=None)
@given(rounds())
def test_every_order_is_within_the_rules_and_every_line_within_its_packets(sharing):
    outcome = share_out(sharing)
    held = holdings(outcome)
    packets = {one.line: one.packets for one in sharing.offered}
    taken = Counter(line for lots in held.values() for _, _, line in lots.elements())
    assert all(packets[line] >= count for line, count in taken.items())
    for order in sharing.orders:
        assert allowed(sharing, order, held[order.id])
        assert held[order.id] in list(baskets(sharing, order))
    for order, line in sharing.pins:
        assert any(given.order == order and given.line == line and given.pinned for given in outcome.given)
    assert not {(given.order, given.line) for given in outcome.given} & sharing.bars
    assert outcome.total == sum(given.packets for given in outcome.given)
    assert outcome.first == sum(given.packets for given in outcome.given if given.first)


@settings(max_examples=60, deadline=None)
@given(rounds())
def test_nothing_that_an_order_could_still_have_is_left_over(sharing):
    held = holdings(share_out(sharing))
    left = Counter({one.line: one.packets for one in sharing.offered})
    left.subtract(line for lots in held.values() for _, _, line in lots.elements())
    for order in sharing.orders:
        for way in {way for basket in baskets(sharing, order) for way in basket}:
            if left[way[2]]:
                assert held[order.id] + Counter([way]) not in list(baskets(sharing, order))


@settings(max_examples=60, deadline=None)
@given(rounds(), st.randoms(use_true_random=False))
def test_a_rerun_is_the_same_whatever_the_order_in_which_orders_and_lines_are_told(sharing, random):
    orders, offered = list(sharing.orders), list(sharing.offered)
    random.shuffle(orders)
    random.shuffle(offered)
    again = replace(sharing, orders=tuple(orders), offered=tuple(offered))
    assert share_out(again) == share_out(sharing)
    assert unmet(again, share_out(again)) == unmet(sharing, share_out(sharing))


@settings(max_examples=60, deadline=None)
@given(rounds())
def test_nobody_gains_or_loses_by_who_is_served_later(sharing):
    last = max(sharing.rules.turn_of(order) for order in sharing.orders)
    kept = tuple(order for order in sharing.orders if sharing.rules.turn_of(order) < last)
    pins = {(order, line) for order, line in sharing.pins if order in {one.id for one in kept}}
    if pins == sharing.pins and kept:
        alone = holdings(share_out(replace(sharing, orders=kept)))
        together = holdings(share_out(sharing))
        assert alone == {order: together[order] for order in alone}


@settings(max_examples=60, deadline=None)
@given(rounds())
def test_within_one_class_fair_shares_leave_nobody_worse_off_than_turns_leave_the_worst(sharing):
    one_class = replace(sharing, rules=replace(sharing.rules, classes=()))
    fair, turns = compare(one_class)
    assert (fair.method, turns.method) == (Method.FAIR, Method.TURNS)
    assert fair.total >= turns.total
    assert fair.worst is None or (turns.worst is not None and fair.worst >= turns.worst)
    assert sum(orders for _, orders in fair.spread) == len(sharing.orders)


@settings(max_examples=60, deadline=None)
@given(rounds())
def test_every_wish_not_met_says_why(sharing):
    outcome = share_out(sharing)
    said = unmet(sharing, outcome)
    asked = Counter({(order.id, wish.line): wish.packets for order in sharing.orders for wish in order.wishes})
    asked.subtract(Counter({(one.order, one.line): one.packets for one in outcome.given if one.first}))
    assert {(one.order, one.line): one.packets for one in said} == {key: n for key, n in asked.items() if n}
    assert all(one.reason.endswith(".") for one in said)
    shares = {tally.order: tally.packets for tally in outcome.tallies}
    for one in said:
        if "no more packets than you" in one.reason:
            turn = {order.id: sharing.rules.turn_of(order) for order in sharing.orders}
            others = [other for other in outcome.given if other.line == one.line and not other.pinned]
            same = [other.order for other in others if turn[other.order] == turn[one.order]]
            assert all(shares[other] - 1 <= shares[one.order] for other in same)


def reasons(sharing):
    return {(one.order, one.line): one.reason for one in unmet(sharing, share_out(sharing))}


def test_a_wish_that_met_too_few_packets_says_who_had_them():
    donors = [Order(who, who, (Wish(1),), donor=True) for who in range(1, 12)]
    sharing = Round(
        (Offered(1, "Dryopteris", 6),), (*donors, Order(12, 12, (Wish(1),))), Rules(classes=(Standing.DONOR,))
    )
    assert reasons(sharing)[12, 1] == "6 packets, 11 people in line before you."
    assert reasons(sharing)[11, 1] == (
        "6 packets, 12 people asked; without theirs, the others who got one would have no more packets than you."
    )
    assert reasons(by_turns(sharing))[7, 1] == (
        "6 packets, 12 people asked; the last was gone before it was your turn to pick it."
    )
    some = replace(sharing, orders=(*donors[:5], *(Order(who, who, (Wish(1),)) for who in (20, 21, 22))))
    some = replace(some, offered=(Offered(1, "Dryopteris", 7),), pins=frozenset({(22, 1)}))
    assert reasons(some) == {
        (21, 1): "7 packets, 8 people asked; 5 went to people in line before you; 1 went where the keeper pinned it; "
        "without theirs, the others who got one would have no more packets than you."
    }


def test_who_got_all_there_was_is_not_told_of_others():
    alone = Round((Offered(1, "Dryopteris", 1),), (Order(1, 1, (Wish(1, 3),)),))
    for one in (alone, by_turns(alone), replace(alone, pins=frozenset({(1, 1)}))):
        assert reasons(one) == {(1, 1): "There was only 1 packet of it to share out, which is yours."}
    later = replace(alone, offered=(Offered(1, "Dryopteris", 2, gone=3),))
    assert reasons(later) == {(1, 1): "There were only 2 packets of it left when you asked, which are yours."}
    gone = replace(alone, offered=(Offered(1, "Dryopteris", 0, gone=5),))
    assert reasons(gone) == {(1, 1): "It was gone before you asked."}


def test_a_pin_of_ones_own_is_not_told_as_one_elsewhere():
    offered = (Offered(1, "Dryopteris", 3),)
    sharing = Round(offered, tuple(Order(who, who, (Wish(1, 3),)) for who in (1, 2)), pins=frozenset({(1, 1)}))
    others = "without theirs, the others who got one would have no more packets than you."
    assert reasons(sharing) == {
        (1, 1): f"3 packets, 2 people asked; {others}",
        (2, 1): f"3 packets, 2 people asked; 1 went where the keeper pinned it; {others}",
    }


def test_who_got_a_line_as_an_alternative_counts_among_those_who_asked():
    offered = tuple(Offered(line, "Dryopteris", 1) for line in (1, 2))
    orders = (Order(1, 1, (Wish(2),)), Order(2, 2, (Wish(2), Wish(1))), Order(3, 3, (Wish(2),), (1,)))
    sharing = Round(offered, orders, Rules(alternatives=Alternatives.LIST), pins=frozenset({(1, 2), (3, 1)}))
    assert reasons(sharing)[2, 1] == "1 packet, 2 people asked; 1 went where the keeper pinned it."


@settings(max_examples=60, deadline=None)
@given(rounds())
def test_nobody_is_told_of_others_where_nobody_else_got_or_asked(sharing):
    for outcome in compare(sharing):
        for one in unmet(sharing, outcome):
            others = [g for g in outcome.given if g.line == one.line and g.order != one.order]
            assert others or not any(word in one.reason for word in ("theirs", "went", "before you", "your turn"))
            assert not others or "1 person asked" not in one.reason


def test_a_wish_that_a_rule_stopped_says_which():
    capped = plain([[1, 2, 3]], [1, 1, 1], cap=2)
    assert reasons(capped) == {(1, 3): "The order is full at 2 packets."}
    twice = Round((Offered(1, "Dryopteris", 5),), (Order(1, 1, (Wish(1, 3),)),), Rules(line_cap=1))
    assert unmet(twice, share_out(twice)) == (Unmet(1, 1, 2, "No more than 1 packet of a line can go to one order."),)
    scarce = tuple(Offered(line, "Dryopteris", 1, limited=True) for line in (1, 2))
    one = Order(1, 1, (Wish(1, alternate=3), Wish(2, alternate=3)))
    for form in Alternatives:
        sharing = Round((*scarce, Offered(3, "Dryopteris", 0)), (one,), Rules(limited_cap=1, alternatives=form))
        assert reasons(sharing) == {(1, 2): "No more than 1 packet of limited lines can go to one order."}
    rival = Order(0, 0, (Wish(1),))
    closed = Round(scarce, (rival, one), Rules(limited_cap=1, alternatives=Alternatives.PER_LINE))
    assert reasons(closed)[1, 2] == "No more than 1 packet of limited lines can go to one order."
    assert reasons(replace(closed, rules=Rules(limited_cap=1))).keys() == {(1, 1)}
    barred = replace(plain([[1, 2, 3]], [1, 0]), bars=frozenset({(1, 1)}))
    assert reasons(barred) == {
        (1, 1): "The keeper barred it from this order.",
        (1, 2): "There is no packet of it to share out.",
        (1, 3): "It is not on the list.",
    }


def test_a_wish_for_which_an_alternative_came_says_so():
    offered = (Offered(1, "Dryopteris", 1), Offered(2, "Cyathea", 1))
    orders = (Order(1, 1, (Wish(1),)), Order(2, 2, (Wish(1, alternate=2),), (2,)))
    for form in (Alternatives.LIST, Alternatives.RANKED, Alternatives.PER_LINE):
        sharing = Round(offered, orders, Rules(alternatives=form))
        assert [tally.packets for tally in share_out(sharing).tallies] == [1, 1]
        assert reasons(sharing) == {(2, 1): "1 packet, 2 people asked; an alternative came instead."}


def test_an_alternative_that_does_not_fill_the_order_explains_no_wish():
    donor = Order(1, 1, (Wish(1), Wish(2)), donor=True)
    order = Order(2, 2, (Wish(1), Wish(2)), (3,))
    rules = Rules((Standing.DONOR,), alternatives=Alternatives.LIST)
    offered = (Offered(1, "Dryopteris", 1), Offered(2, "Dryopteris", 2), Offered(3, "Cyathea", 1))
    sharing = Round(offered, (donor, order, replace(order, id=3, place=3, alternatives=())), rules)
    assert [tally.packets for tally in share_out(sharing).tallies] == [2, 1, 1]
    assert reasons(sharing)[2, 2] == (
        "2 packets, 3 people asked; 1 went to people in line before you; "
        "without theirs, the others who got one would have no more packets than you."
    )


def test_an_order_that_a_pinned_alternative_filled_is_said_to_be_full():
    order = Order(1, 1, (Wish(1),), (2,))
    offered = (Offered(1, "Dryopteris", 1), Offered(2, "Dryopteris", 1))
    sharing = Round(offered, (order,), Rules(alternatives=Alternatives.LIST), pins=frozenset({(1, 2)}))
    assert reasons(sharing) == {(1, 1): "The order is full at 1 packet."}


def test_alternatives_fill_an_order_only_up_to_its_first_choices():
    sharing = plain([[1, 2]], [0, 1, 1, 1], alternatives=Alternatives.LIST)
    order = replace(sharing.orders[0], alternatives=(2, 3, 4))
    outcome = share_out(replace(sharing, orders=(order,)))
    assert (outcome.total, outcome.first) == (2, 1)


def test_an_alternate_that_is_the_first_choice_itself_takes_no_room_of_another():
    offered = tuple(Offered(line, "Dryopteris", 1, limited=True) for line in (1, 2, 3))
    orders = (Order(1, 1, (Wish(2),)), Order(2, 2, (Wish(1, alternate=1), Wish(2, alternate=3))))
    sharing = Round(offered, orders, Rules(alternatives=Alternatives.PER_LINE, limited_cap=3))
    assert [tally.packets for tally in share_out(sharing).tallies] == [1, 2]


def test_a_pin_is_set_aside_before_the_first_class():
    orders = (Order(1, 1, (Wish(1),), donor=True), Order(2, 2, (Wish(1),)))
    sharing = Round((Offered(1, "Dryopteris", 1),), orders, Rules(classes=(Standing.DONOR,)), frozenset({(2, 1)}))
    for one in (sharing, by_turns(sharing)):
        assert [given.order for given in share_out(one).given] == [2]
    assert reasons(sharing) == {(1, 1): "1 packet, 2 people asked; 1 went where the keeper pinned it."}


def test_pinned_packets_count_as_turns():
    sharing = replace(by_turns(plain([[1, 2, 3], [2, 3, 1]], [1, 1, 1])), pins=frozenset({(1, 1)}))
    assert [tally.packets for tally in share_out(sharing).tallies] == [1, 2]
    twice = replace(by_turns(plain([[3, 4], [1, 2, 3, 4]], [1, 1, 1, 1])), pins=frozenset({(2, 1), (2, 2)}))
    assert [tally.packets for tally in share_out(twice).tallies] == [2, 2]


@pytest.mark.parametrize(
    ("pins", "sentence"),
    [
        ({(1, 3)}, "More packets of line 3 are pinned than there are"),
        ({(1, 9)}, "More packets of line 9 are pinned than there are"),
        ({(1, 1), (2, 1)}, "More packets of line 1 are pinned than there are"),
        ({(7, 1)}, "A line is pinned to an order that is not in this round"),
        ({(2, 4)}, "Line 4 is pinned to order 2, which does not ask for it"),
        ({(1, 1), (1, 2)}, "More is pinned to order 1 than the rules of the round let it hold"),
    ],
)
def test_pins_that_cannot_be_held_are_refused(pins, sentence):
    sharing = replace(plain([[1, 2, 3], [1]], [1, 1, 0, 1], cap=1), pins=frozenset(pins))
    with pytest.raises(Refusal, match=sentence):
        share_out(sharing)


def test_refusals_name_the_person_and_not_the_number_of_a_row():
    sharing = plain([[1, 2], [1]], [1, 1], cap=1)
    orders = tuple(
        replace(order, who=who) for order, who in zip(sharing.orders, ("Ida Falk", "Jon Brandt"), strict=True)
    )
    for pins, sentence in (
        ({(2, 2)}, "Line 2 is pinned to the order of Jon Brandt, which does not ask for it"),
        ({(1, 1), (1, 2)}, "More is pinned to the order of Ida Falk than"),
    ):
        with pytest.raises(Refusal, match=sentence):
            share_out(replace(sharing, orders=orders, pins=frozenset(pins)))
    with pytest.raises(Refusal, match="Line 1 is both pinned to the order of Ida Falk and barred"):
        replace(sharing, orders=orders, pins=frozenset({(1, 1)}), bars=frozenset({(1, 1)}))


def test_wishes_for_more_than_there_is_share_as_those_for_all_there_is():
    """And the programmes stay as small as the list, however much is asked for."""
    much, all_there_is = (
        Round(
            tuple(Offered(line, "Dryopteris", 3, limited=line == 2) for line in (1, 2, 3)),
            tuple(Order(who, who, tuple(Wish(line, packets) for line in (1, 2, 3))) for who in range(1, 8)),
        )
        for packets in (999, 3)
    )
    for one, other in zip(compare(much), compare(all_there_is), strict=True):
        assert one.given == other.given
    assert {claim.reach for claim in claims(much)} == {9}


def test_it_tells_how_far_it_is_and_can_be_stopped():
    sharing = plain([[1], [1]], [1])
    told = []
    share_out(sharing, lambda done, of: told.append((done, of)))
    assert told == [(number, 5) for number in range(6)]
    for one in (sharing, by_turns(sharing)):
        with pytest.raises(Stopped):
            share_out(one, cancelled=lambda: True)
    left = iter([False, False, True])
    with pytest.raises(Stopped):
        compare(sharing, cancelled=lambda: next(left))
