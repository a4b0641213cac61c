"""Small money: what an order costs, what was paid, what is owed and what is kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.bank import forgetting, queries, undo
from sporebank.bank.bank import Bank
from sporebank.core import money as core
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Terms
from sporebank.core.money import Account
from sporebank.core.records import Contact, Fate
from sporebank.documents import packing as document
from sporebank.jobs import money, packing, papers, parcel_checks, sharing
from sporebank.jobs.settings import change_settings
from tests.builders import TODAY, new_bank, sound
from tests.documents.examples import text_of
from tests.jobs.test_packing import two_parcels
from tests.jobs.test_sharing_round import ROUND, ask, held_back, opened, shared

TERMS = replace(ROUND.terms, currency="EUR", packet_cents=50, postage_cents=200, postage_abroad_cents=450)


@pytest.fixture
def bank(tmp_path: Path) -> Bank:
    return new_bank(tmp_path)


def charged(bank: Bank) -> tuple[int, int, int]:
    """A round that charges, with an order of two packets at home and one of a packet abroad."""
    change_settings(bank, replace(bank.settings, country="NL"))
    number = opened(bank, replace(ROUND, terms=TERMS))
    for who, country in (("Ida Brekke", "NL"), ("Tom Arkwell", "NO")):
        sharing.save_contact(bank, Contact(0, who, country=country))
    first, second = ask(bank, number, "Ida Brekke", (1, 2)), ask(bank, number, "Tom Arkwell", (3,))
    shared(bank, number)
    held_back(bank, number)
    return number, first, second


def test_an_order_owes_its_packets_and_its_postage(bank: Bank) -> None:
    number, first, second = charged(bank)
    assert money.accounts(bank, number) == {
        first: Account(300, 300, 0, "EUR"),  # 2 × 0.50 + 2.00
        second: Account(500, 500, 0, "EUR"),  # 0.50 + 4.50
    }
    assert money.sums(bank, first) == (("Owed", "3.00 EUR"),)


def test_what_is_paid_is_owed_no_more_and_what_is_too_much_is_kept(bank: Bank) -> None:
    _, first, second = charged(bank)
    money.pay(bank, first, 100, TODAY)
    assert money.sums(bank, first) == (("Owed", "2.00 EUR"),)
    money.pay(bank, first, 300, TODAY, "by letter")
    assert money.sums(bank, first) == (("Owed", "0.00 EUR"), ("Credit kept", "1.00 EUR"))
    assert money.sums(bank, second) == (("Owed", "5.00 EUR"),)
    with pytest.raises(Refusal, match="Only 1.00 EUR is kept"):
        money.pay(bank, first, -101, TODAY)
    money.pay(bank, first, -100, TODAY)
    assert money.sums(bank, first) == (("Owed", "0.00 EUR"),)
    undo.undo(bank)
    assert money.sums(bank, first)[1] == ("Credit kept", "1.00 EUR")
    sound(bank)


def test_what_was_lost_is_not_charged_and_what_was_paid_for_it_is_kept(bank: Bank) -> None:
    _, first, _ = charged(bank)
    money.pay(bank, first, 300, TODAY)
    sharing.dispatch(bank, first, TODAY)
    packing.come_back(bank, first, TODAY, Fate.LOST)
    assert money.account(bank, first) == Account(0, 0, 300, "EUR")


def gone(bank: Bank, request_id: int) -> None:
    """Dispatch a parcel, with every caution answered."""
    for check in parcel_checks.checks(bank, queries.request(bank, request_id)):
        parcel_checks.answer(bank, request_id, check.caution.key, "asked")
    sharing.dispatch(bank, request_id, TODAY)


def test_postage_goes_by_the_country_on_record_when_the_parcel_went(bank: Bank) -> None:
    _, first, second = charged(bank)
    who = {one.name: one for one in queries.contacts(bank)}
    ida, tom = who["Ida Brekke"], who["Tom Arkwell"]

    def costs() -> list[int]:
        found = [money.account(bank, request_id) for request_id in (first, second)]
        return [one.charge for one in found if one is not None]

    sharing.save_contact(bank, replace(tom, country="NL"))
    assert costs() == [300, 250]  # 2 × 0.50 + 2.00; 0.50 + 2.00: neither has gone, so both go where people live now
    sharing.dispatch(bank, first, TODAY)
    for country in ("NO", "DE"):
        sharing.save_contact(bank, replace(ida, country=country))
    sharing.save_contact(bank, replace(ida, country="DE", email="ida@example.org"))
    assert costs() == [300, 250]
    sharing.save_contact(bank, replace(tom, country="NO"))
    assert costs() == [300, 500]  # 0.50 + 4.50: it goes abroad after all
    gone(bank, second)
    forgetting.forget(bank, tom.id)
    sharing.save_contact(bank, replace(queries.contact(bank, tom.id), country="NL"))
    assert costs() == [300, 500]
    sound(bank)


def test_a_dispatch_done_again_goes_by_the_country_of_that_day(bank: Bank) -> None:
    _, first, _ = charged(bank)
    ida = next(one for one in queries.contacts(bank) if one.name == "Ida Brekke")
    sharing.dispatch(bank, first, TODAY)
    undo.undo(bank)
    done = len(undo.stacks(bank)[0])
    sharing.save_contact(bank, replace(ida, country="NO"))
    assert money.account(bank, first) == Account(550, 550, 0, "EUR")  # 2 × 0.50 + 4.50
    gone(bank, first)
    sharing.save_contact(bank, replace(ida, country="NL"))
    assert money.account(bank, first) == Account(550, 550, 0, "EUR")
    while len(undo.stacks(bank)[0]) > done:
        undo.undo(bank)
    assert money.account(bank, first) == Account(300, 300, 0, "EUR")
    while undo.stacks(bank)[1]:
        undo.redo(bank)
    assert money.account(bank, first) == Account(550, 550, 0, "EUR")


def test_the_packing_list_says_so_only_where_money_is_asked_for(bank: Bank) -> None:
    _, first, _ = charged(bank)
    money.pay(bank, first, 400, TODAY)
    read = text_of(document.render(papers.packing_list(bank, first, TODAY)))
    assert "Owed 0.00 EUR" in " ".join(read.split())
    assert "Credit kept 1.00 EUR" in " ".join(read.split())


def test_nothing_is_said_of_money_where_none_is_asked_for(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    assert papers.packing_list(bank, first, TODAY).sums == ()
    with pytest.raises(Refusal, match="asks for no money"):
        money.pay(bank, first, 100, TODAY)
    number = opened_free(bank)
    assert money.accounts(bank, number) == {}


def opened_free(bank: Bank) -> int:
    from sporebank.jobs import exchange

    return exchange.begin(bank, ROUND)


@pytest.mark.parametrize(("cents", "says"), [(0, "Give the sum"), (-1, "Only 0.00 EUR is kept")])
def test_an_odd_sum_is_refused(bank: Bank, cents: int, says: str) -> None:
    _, first, _ = charged(bank)
    with pytest.raises(Refusal, match=says) as told:
        money.pay(bank, first, cents, TODAY)
    assert told.value.field == "cents"
    assert queries.request(bank, first).packets


@given(costs=st.lists(st.integers(0, 10_000), max_size=6), paid=st.integers(-5_000, 40_000))
def test_money_is_neither_made_nor_lost(costs: list[int], paid: int) -> None:
    owed, kept = core.settle(costs, paid)
    assert all(0 <= one <= cost for one, cost in zip(owed, costs, strict=True))
    assert sum(costs) - sum(owed) + kept == paid
    assert kept <= 0 or not any(owed)


def test_nothing_sent_costs_nothing() -> None:
    assert core.charge(Terms(packet_cents=50, postage_cents=200), 0, abroad=True) == 0
