from dataclasses import replace
from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.bank.queries import orders
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Shape, Stage
from sporebank.core.orders import Alternatives, Wish
from sporebank.core.records import Contact
from sporebank.jobs import undo
from sporebank.jobs.asking import change_order, keep_order, withdraw
from sporebank.jobs.sharing import save_contact
from sporebank.jobs.sharing_round import BARRED, PINNED, set_hand
from tests.exchange_builders import CLOSES, allot, gave, order_form, ordered, round_of, set_stage


def placed(bank, exchange_id):
    return queries.placed(bank, exchange_id)


def events(bank):
    return len(queries.events(bank))


def test_an_order_is_kept_with_its_person_in_one_deed(bank):
    spring = round_of(bank, alternatives=Alternatives.RANKED)
    before = events(bank)
    ordered(bank, spring, "5x2 3", "9 7", note="Please call.", helper=True)
    (order,) = placed(bank, spring)
    assert order.contact.name == "Marit Olden"
    assert order.note == "Please call."
    assert order.order.wishes == (Wish(5, 2), Wish(3))
    assert order.order.alternatives == (9, 7)
    assert order.order.helper
    assert not order.order.donor
    assert events(bank) == before + 1
    undo.undo(bank)
    assert placed(bank, spring) == []
    assert queries.contacts(bank) == []


def hand(bank, exchange_id):
    return {(request, line): kind for request, line, kind in queries.pins(bank, exchange_id)}


def test_pins_and_bars_go_with_the_lines_that_an_order_no_longer_names(bank):
    spring = round_of(bank, alternatives=Alternatives.LIST)
    order, other = ordered(bank, spring, "5 3", "9 7"), ordered(bank, spring, "3", who="Ida Falk")
    lines = {line.number: line.id for line in queries.listed(bank, spring)}
    for request, line, kind in (
        (order, 5, PINNED), (order, 3, PINNED), (order, 9, PINNED), (order, 7, BARRED), (other, 3, BARRED),
    ):  # fmt: skip
        set_hand(bank, request, lines[line], kind)
    before = hand(bank, spring)
    change_order(bank, order, replace(order_form(spring, "5 8", "9"), received_on=date(2026, 2, 1)))
    assert hand(bank, spring) == {(order, 5): PINNED, (order, 9): PINNED, (other, 3): BARRED}
    undo.undo(bank)
    assert hand(bank, spring) == before
    withdraw(bank, order)
    assert orders.hands(bank, order) == {}
    assert hand(bank, spring) == {(other, 3): BARRED}


def test_an_alternate_beside_a_line_stays_with_it(bank):
    spring = round_of(bank, alternatives=Alternatives.PER_LINE)
    ordered(bank, spring, "5x2/6 3")
    (order,) = placed(bank, spring)
    assert order.order.wishes == (Wish(5, 2, 6), Wish(3))
    assert order.order.alternatives == ()


def test_orders_stand_in_the_order_of_arrival(bank):
    spring = round_of(bank)
    for who in ("Marit Olden", "Ida Falk", "Jon Brandt"):
        ordered(bank, spring, "1", who=who)
    withdraw(bank, placed(bank, spring)[2].request_id)
    ordered(bank, spring, "2", who="Pia Lund")
    assert [(one.contact.name, one.order.place) for one in placed(bank, spring)] == [
        ("Marit Olden", 1),
        ("Ida Falk", 2),
        ("Pia Lund", 4),
    ]


def test_a_person_has_one_order_in_a_round_and_many_in_a_standing_list(bank):
    who = save_contact(bank, Contact(0, "Ida Falk", country="SE"))
    known = {"contact_id": who, "new_contact": None}
    spring = round_of(bank)
    keep_order(bank, order_form(spring, "1", **known))
    with pytest.raises(Refusal, match="Ida Falk has an order in Spring round 2026 already. Change that one"):
        keep_order(bank, order_form(spring, "2", **known))
    standing = round_of(bank, shape=Shape.STANDING, closes=None, name="All year")
    for numbers in ("1", "2"):
        keep_order(bank, order_form(standing, numbers, **known))
    assert len(placed(bank, standing)) == 2


def test_the_yearly_cap_remembers_the_last_order(bank):
    """20 packets per person and year; the tool must remember last spring's order (trade facts, 1.3)."""
    who = save_contact(bank, Contact(0, "Ida Falk", country="SE"))
    known = {"contact_id": who, "new_contact": None}
    standing = round_of(bank, 30, shape=Shape.STANDING, closes=None, opens=date(2025, 1, 1), cap=20)
    many = " ".join(map(str, range(1, 19)))
    keep_order(bank, order_form(standing, many, received_on=date(2025, 12, 30), **known))
    first = keep_order(bank, order_form(standing, many, received_on=date(2026, 1, 3), **known))
    keep_order(bank, order_form(standing, "1 2 3 4", received_on=date(2026, 2, 3), **known))
    assert [len(one.order.wishes) for one in placed(bank, standing)] == [18, 18, 2]
    with pytest.raises(Refusal, match="20 came before"):
        keep_order(bank, order_form(standing, "5", received_on=date(2026, 2, 9), **known))
    change_order(bank, first, order_form(standing, many, received_on=date(2026, 1, 3)))
    assert len(placed(bank, standing)[1].order.wishes) == 18
    withdraw(bank, first)
    keep_order(bank, order_form(standing, many, received_on=date(2026, 2, 9), **known))
    assert len(placed(bank, standing)[-1].order.wishes) == 18


def test_donors_may_ask_for_more(bank):
    who = save_contact(bank, Contact(0, "Ida Falk", country="SE"))
    spring = round_of(bank, cap=2, extra=1)
    gave(bank, spring, who)
    keep_order(bank, order_form(spring, "1 2 3 4", contact_id=who, new_contact=None))
    ordered(bank, spring, "1 2 3 4")
    assert [len(one.order.wishes) for one in placed(bank, spring)] == [3, 2]


def test_orders_come_in_only_while_the_list_is_open(bank):
    spring = round_of(bank, stage=Stage.GATHERING)
    for stage, why in (
        (Stage.GATHERING, "not out yet"),
        (Stage.SHARED, "shared out"),
        (Stage.CLOSED, "is closed"),
    ):
        set_stage(bank, spring, stage)
        with pytest.raises(Refusal, match=why):
            ordered(bank, spring, "1")
    set_stage(bank, spring, Stage.OPEN)
    with pytest.raises(Refusal, match="opened on 1 Jan 2026") as before:
        ordered(bank, spring, "1", received_on=date(2025, 12, 31))
    with pytest.raises(Refusal, match="not come yet"):
        ordered(bank, spring, "1", received_on=date(2026, 3, 20))
    assert before.value.field == "received_on"
    assert placed(bank, spring) == []


def test_a_late_order_is_taken_only_where_it_is_meant(bank, clock):
    spring = round_of(bank)
    clock.day = date(2026, 4, 2)
    late = order_form(spring, "1", received_on=date(2026, 4, 1))
    with pytest.raises(Refusal, match="last day for wishes was 31 Mar 2026. Tick “late”"):
        keep_order(bank, late)
    keep_order(bank, replace(late, late=True))
    assert queries.events(bank)[0].title == "Late order of Marit Olden in Spring round 2026"
    on_the_day = replace(late, received_on=CLOSES, new_contact=Contact(0, "Ida Falk"))
    keep_order(bank, on_the_day)
    assert queries.events(bank)[0].title.startswith("Order of Ida Falk")


def test_an_order_of_nothing_is_refused_with_all_that_is_wrong(bank):
    spring = round_of(bank)
    with pytest.raises(Refusal, match="at least one number") as empty:
        ordered(bank, spring, "")
    assert empty.value.field == "first"
    with pytest.raises(Refusal, match="981 is not on the list, which ends at 12"):
        ordered(bank, spring, "981")
    with pytest.raises(Refusal, match="Give a name"):
        ordered(bank, spring, "1", who=" ")
    assert queries.contacts(bank) == []


def test_an_order_is_changed_and_that_is_taken_back(bank):
    spring = round_of(bank, alternatives=Alternatives.PER_LINE)
    request_id = ordered(bank, spring, "5/6 3")
    (before,) = placed(bank, spring)
    change_order(bank, request_id, order_form(spring, "3 5/7", helper=True, received_on=date(2026, 2, 3)))
    (after,) = placed(bank, spring)
    assert after.order.wishes == (Wish(3), Wish(5, 1, 7))
    assert after.order.place == before.order.place
    assert after.order.helper
    assert after.received_on == date(2026, 2, 3)
    undo.undo(bank)
    assert placed(bank, spring) == [before]


def test_a_withdrawn_order_counts_no_more_and_leaves_room_for_another(bank):
    spring = round_of(bank)
    request_id = ordered(bank, spring, "1")
    withdraw(bank, request_id)
    assert placed(bank, spring) == []
    with pytest.raises(Refusal, match="was withdrawn"):
        change_order(bank, request_id, order_form(spring, "2"))
    who = queries.contacts(bank)[0].id
    keep_order(bank, order_form(spring, "2", contact_id=who, new_contact=None))
    assert len(placed(bank, spring)) == 1


def test_what_is_shared_out_changes_no_more(bank):
    spring = round_of(bank)
    request_id = ordered(bank, spring, "1")
    allot(bank, request_id, 1)
    for do in (
        lambda: withdraw(bank, request_id),
        lambda: change_order(bank, request_id, order_form(spring, "2")),
    ):
        with pytest.raises(Refusal, match="shared out"):
            do()
    set_stage(bank, spring, Stage.CLOSED)
    with pytest.raises(Refusal, match="is closed"):
        withdraw(bank, request_id)


def test_what_is_sold_out_cannot_be_had_from_a_standing_list(bank):
    standing = round_of(bank, packets=1, shape=Shape.STANDING, closes=None)
    allot(bank, ordered(bank, standing, "1"), 1)
    ordered(bank, standing, "1 2", who="Ida Falk")
    assert placed(bank, standing)[1].order.wishes == (Wish(2),)
