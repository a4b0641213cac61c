from dataclasses import replace
from datetime import date

import pytest

from sporebank.core.errors import Refusal
from sporebank.core.orders import Order, Round, Rules, Standing, Wish, problems

DONOR_ABROAD, DONOR, ABROAD, REST = Standing
PEOPLE = [
    Order(1, 1, (), donor=True, abroad=True),
    Order(2, 2, (), donor=True),
    Order(3, 3, (), abroad=True),
    Order(4, 4, (), helper=True),
]


@pytest.mark.parametrize(
    ("classes", "turns"),
    [
        ((), [0, 0, 0, 0]),
        ((DONOR_ABROAD, DONOR, ABROAD, REST), [0, 1, 2, 3]),
        ((DONOR, ABROAD, REST), [0, 0, 1, 2]),
        ((ABROAD, DONOR), [0, 1, 0, 2]),
        ((ABROAD, DONOR_ABROAD), [1, 2, 0, 2]),
        ((REST, DONOR), [1, 1, 0, 0]),
    ],
)
def test_classes_are_served_in_the_order_of_the_round(classes, turns):
    assert [Rules(classes).turn_of(order) for order in PEOPLE] == turns


def test_donors_and_helpers_get_their_extra_packets_once():
    """23 packets and 7 more for donors or packers is the rule of a large exchange seen in 2019 (trade facts, 1.3)."""
    rules = Rules(cap=23, extra=7)
    both = replace(PEOPLE[1], helper=True)
    assert [rules.allowance(order) for order in (*PEOPLE, both)] == [30, 30, 23, 30, 30]
    assert Rules(extra=7).allowance(both) is None


def test_sharing_waits_for_far_post():
    """A list of 1 January whose picking starts after a fortnight of waiting for overseas post (trade facts, 1.1)."""
    assert Rules(wait_days=13).shared_from(date(2027, 1, 1)) == date(2027, 1, 14)
    assert Rules().shared_from(date(2027, 1, 1)) == date(2027, 1, 1)


@pytest.mark.parametrize(
    ("rules", "field"),
    [
        (Rules(cap=0), "cap"),
        (Rules(extra=-1), "extra"),
        (Rules(limited_cap=-1), "limited_cap"),
        (Rules(line_cap=0), "line_cap"),
        (Rules(wait_days=-1), "wait_days"),
        (Rules(wait_days=10**15), "wait_days"),
        (Rules((DONOR, DONOR)), "classes"),
    ],
)
def test_rules_that_cannot_be_are_refused_beside_their_field(rules, field):
    assert [name for name, _ in problems(rules)] == [field]
    with pytest.raises(Refusal) as refused:
        Round((), (), rules)
    assert refused.value.field == field


def test_rules_that_can_be_have_no_problems():
    assert problems(Rules(tuple(Standing), cap=20, extra=5, limited_cap=0, line_cap=1, wait_days=14)) == ()


def test_a_pin_and_a_bar_are_not_both_kept():
    with pytest.raises(Refusal, match="both pinned to order 4 and barred from it"):
        Round((), (Order(4, 1, (Wish(1),)),), Rules(), frozenset({(4, 1)}), frozenset({(4, 1)}))
