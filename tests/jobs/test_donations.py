"""Taking donations in."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.dates import PartDate
from sporebank.core.donations import Gift
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.layout import Kind
from sporebank.core.orders import Rules, Standing
from sporebank.core.records import Contact, Permission, Source
from sporebank.core.settings import Settings
from sporebank.core.surplus import Way
from sporebank.core.thanks import words
from sporebank.documents import thanks as document
from sporebank.jobs import donations, exchange, labels, sharing, undo
from sporebank.jobs.donations import DonationForm, Known
from sporebank.jobs.settings import change_settings
from tests.builders import TODAY, clone, fridge, stored
from tests.documents.examples import text_of
from tests.jobs.test_sharing_round import ask

ROUND = Exchange(
    0, "Spring round", Shape.ROUND, Stage.GATHERING, TODAY, date(2026, 4, 30), date(2026, 5, 10),
    Terms(Rules((Standing.DONOR, Standing.REST), cap=3, extra=2)),
)  # fmt: skip
YEAR = PartDate(2025)
NEW = Contact(0, "Odile Ferrand", country="FR")


def given(*gifts: Gift, **more: object) -> DonationForm:
    fields = {"contact_id": 0, "new_contact": NEW, **more}
    return DonationForm(1, received_on=TODAY, gifts=gifts, **fields)  # type: ignore[arg-type]  # fields by name


@pytest.fixture
def round_(bank: Bank) -> int:
    fridge(bank)
    stored(bank, "Dryopteris affinis")
    return exchange.begin(bank, ROUND)


def test_each_packet_becomes_a_batch_that_may_be_given_on(bank: Bank, round_: int) -> None:
    gifts = (
        Gift("Dryopteris affinis", 3, PartDate(2025, 8), Source.WILD, "a gully", "NO", resealed=True),
        Gift("Polystichum setiferum", 1, YEAR),
    )
    first, second = donations.take_in(bank, given(*gifts))
    batch = queries.batch(bank, first)
    assert (batch.clone.permission, batch.clone.source, batch.clone.country) == (Permission.YES, Source.WILD, "NO")
    assert batch.clone.acquired_from == "donor D-01"
    assert [row.left for row in queries.batch_vials(bank, first)] == [3 * bank.settings.packet_ug]
    assert queries.batch(bank, second).collected == YEAR
    assert [(one.name and one.name.genus, one.packets, one.resealed) for one in queries.donations(bank, round_)] == [
        ("Polystichum", 1, False),
        ("Dryopteris", 3, True),
    ]
    assert len(labels.waiting(bank)[Kind.VIAL]) == 5  # three of the batch stored before


def test_the_packet_counts_in_the_size_of_its_taxon(bank: Bank, round_: int) -> None:
    taxon = queries.taxon_named(bank, "Dryopteris affinis")
    assert taxon is not None
    exchange.set_way(bank, Way(packet_ug=700), taxon_id=taxon.id)
    (batch,) = donations.take_in(bank, given(Gift("Dryopteris affinis", 4, YEAR)))
    assert [row.left for row in queries.batch_vials(bank, batch)] == [2_800]


def test_a_donor_keeps_one_code_and_stands_among_the_donors(bank: Bank, round_: int) -> None:
    donations.take_in(bank, given(Gift("Osmunda regalis", 1, YEAR)))
    donor = queries.contacts(bank, "Odile")[0]
    donations.take_in(bank, given(Gift("Dryopteris affinis", 9, YEAR), contact_id=donor.id, new_contact=None))
    donations.take_in(bank, given(Gift("Osmunda regalis", 1, YEAR), new_contact=Contact(0, "Bo Halvard")))
    assert queries.donor_codes(bank) == ["D-01", "D-02"]
    exchange.add_lines(bank, round_, [one.surplus.stock.clone_id for one in exchange.preview(bank, round_)])
    exchange.number(bank, round_)
    ask(bank, round_, "Odile Ferrand", (1,))
    ask(bank, round_, "Tom Arkwell", (1,))
    assert [one.order.donor for one in queries.placed(bank, round_)] == [True, False]


def test_names_are_told_apart_by_what_the_bank_knows(bank: Bank, round_: int) -> None:
    stored(bank, "Struthiopteris spicant", old_name="Blechnum spicant", clone=clone("C-07"))
    exchange.add_lines(bank, round_, [one.surplus.stock.clone_id for one in exchange.preview(bank, round_)][:1])
    later = exchange.begin(bank, replace(ROUND, name="Next round"))
    said = ("Dryopteris affinis", "Blechnum spicant", "Struthiopteris spicant", "Osmunda regalis", "12")
    gifts = [Gift(text, 1, YEAR) for text in said]
    found = donations.look(bank, later, gifts)
    assert [one.known for one in found] == [Known.LISTED, Known.OLD, Known.KNOWN, Known.NEW, None]
    assert found[4].problem
    (misspelt,) = donations.look(bank, later, [Gift("Dryopteris afinnis", 1, YEAR)])
    assert (misspelt.known, misspelt.near) == (Known.NEW, "Dryopteris affinis")


@pytest.mark.parametrize(
    ("gift", "why"),
    [
        (Gift("42", 1, YEAR), "Packet 2, 42"),
        (Gift("Osmunda regalis", 1, YEAR, country="XX"), "two letters"),
        (Gift("Osmunda regalis", collected=PartDate(2027)), "after today"),
        (Gift("Osmunda regalis"), "Give the year of collecting"),
    ],
)
def test_one_wrong_packet_keeps_the_whole_donation_out(bank: Bank, round_: int, gift: Gift, why: str) -> None:
    with pytest.raises(Refusal, match=why):
        donations.take_in(bank, given(Gift("Osmunda regalis", 1, YEAR), gift))
    assert queries.donations(bank, round_) == []
    assert queries.contacts(bank, "Odile") == []


def test_a_donation_is_undone_as_one_deed(bank: Bank, round_: int) -> None:
    donations.take_in(bank, given(Gift("Osmunda regalis", 1, YEAR), Gift("Osmunda regalis", 1, YEAR)))
    undo.undo(bank)
    assert queries.donations(bank, round_) == []
    assert queries.taxon_named(bank, "Osmunda regalis") is None
    undo.redo(bank)
    assert len(queries.donations(bank, round_)) == 2


def test_all_that_is_given_may_go_on_the_list_unless_it_is_to_be_kept(bank: Bank, round_: int) -> None:
    (all_of_it,) = donations.take_in(bank, given(Gift("Polystichum setiferum", 9, YEAR)))
    donor = queries.contacts(bank, "Odile")[0]
    kept = given(Gift("Athyrium filix-femina", 9, YEAR), contact_id=donor.id, new_contact=None, all_of_it=False)
    donations.take_in(bank, kept)
    may_go = {one.surplus.stock.name.genus: one.surplus.packets for one in exchange.preview(bank, round_)}
    assert (may_go["Polystichum"], may_go["Athyrium"]) == (9, 0)
    assert queries.batch(bank, all_of_it).clone.permission is Permission.YES


@pytest.mark.parametrize(
    ("rules", "earned"),
    [
        (
            Rules((Standing.DONOR, Standing.REST), cap=3),
            "Your wishes are served before those of people who gave nothing.",
        ),
        (Rules((Standing.ABROAD, Standing.DONOR, Standing.REST), cap=3), ""),
        (Rules(extra=5), ""),
    ],
)
def test_thanks_promise_no_more_than_the_rules_give(bank: Bank, round_: int, rules: Rules, earned: str) -> None:
    change_settings(bank, Settings(country="GB"))
    donations.take_in(bank, given(Gift("Osmunda regalis", 1, YEAR), new_contact=Contact(0, "Bo Halvard", country="GB")))
    exchange.change(bank, replace(ROUND, id=round_, terms=Terms(rules)))
    donor = queries.contacts(bank, "Bo")[0]
    assert donations.thanks(bank, round_, donor.id).privileges == earned


def test_thanks_say_what_was_given_and_what_it_earns(bank: Bank, round_: int) -> None:
    donations.take_in(bank, given(Gift("Dryopteris affinis", 3, YEAR), Gift("Osmunda regalis", 1, YEAR)))
    donor = queries.contacts(bank, "Odile")[0]
    letter = donations.thanks(bank, round_, donor.id)
    text = words(letter)
    assert "Dear Odile Ferrand,\n\nthank you for what you gave to Spring round:" in text
    assert "- Dryopteris affinis: 3 packets\n- Osmunda regalis: 1 packet" in text
    assert "You may ask for 2 packets more." in text
    assert "Your wishes are served before" in text_of(document.render(letter))
    nobody = sharing.save_contact(bank, Contact(0, "Bo Halvard"))
    with pytest.raises(Refusal, match="gave nothing"):
        donations.thanks(bank, round_, nobody)
