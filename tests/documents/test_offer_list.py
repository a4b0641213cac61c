"""The list of an exchange on paper and as a table."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from sporebank.bank.bank import Bank
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.offer_list import INVASIVE, LIMITED, UNVERIFIED, OfferList, money, rules_in_words
from sporebank.core.orders import Alternatives, Rules, Standing
from sporebank.core.records import Source
from sporebank.documents import offer_list as document
from sporebank.formats.offer_csv import write_offer_list
from sporebank.jobs import exchange
from sporebank.jobs.offer_list import offer_list
from tests.builders import TODAY, clone, fridge, new_bank, stored
from tests.documents.examples import text_of

ROUND = Exchange(
    0, "Spring round 2026", Shape.ROUND, Stage.GATHERING, TODAY, date(2026, 4, 30), date(2026, 5, 10),
    Terms(
        Rules((Standing.DONOR, Standing.REST), Alternatives.RANKED, cap=20, extra=5, limited_cap=3, wait_days=14),
        limited_below=12, currency="EUR", packet_cents=50, postage_cents=200,
    ),
    "Send the form by post or e-mail.",
)  # fmt: skip


@pytest.fixture
def bank(tmp_path: Path) -> Bank:
    bank = new_bank(tmp_path)
    fridge(bank)
    stored(bank, "Polystichum setiferum", clone=clone("C-02", source=Source.WILD, origin="a gully & <wet> rocks"))
    stored(bank, "Sphaeropteris cooperi", clone=clone("C-01"), each=20_000)
    stored(bank, "Polystichum setiferum", clone=clone("C-03"))
    return bank


def offered(bank: Bank) -> OfferList:
    number = exchange.begin(bank, ROUND)
    exchange.add_lines(bank, number, [one.surplus.stock.clone_id for one in exchange.preview(bank, number)])
    exchange.number(bank, number)
    return offer_list(bank, number)


def test_the_booklet_says_what_there_is_and_by_which_rules(bank: Bank) -> None:
    text = " ".join(text_of(document.render(offered(bank))).split())
    for said in (
        "Spring round 2026", "Up to 20 packets a person, 5 more for donors and helpers.",
        "Charges: 0.50 EUR a packet, 2.00 EUR postage.", "Sharing out waits until 28 Mar 2026.",
        "1 Polystichum setiferum", "wild, a gully & <wet> rocks", "Aug 2025", "limited stock",
        "3 Sphaeropteris cooperi. Invasive: seal and bin", "Send the form by post or e-mail.",
    ):  # fmt: skip
        assert said in text, said


def test_the_table_has_a_row_for_each_line(bank: Bank) -> None:
    rows = list(csv.DictReader(io.StringIO(write_offer_list(offered(bank)).decode("utf-8-sig"))))
    assert [(row["number"], row["taxon"], row["packets"]) for row in rows] == [
        ("1", "Polystichum setiferum", "10"),
        ("2", "Polystichum setiferum", "10"),
        ("3", "Sphaeropteris cooperi", "20"),
    ]
    assert rows[0]["marks"] == f"{LIMITED}; {UNVERIFIED}"
    assert rows[2]["marks"] == f"{UNVERIFIED}; {INVASIVE}"
    assert rows[0]["alive"].startswith("about ")


def test_an_empty_list_is_refused(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    with pytest.raises(Refusal, match="Nothing is on the list yet"):
        offer_list(bank, number)


def test_a_standing_list_says_how_it_serves() -> None:
    """A fern society's standing list: 20 packets a member and year, first come first served (common practice)."""
    terms = Terms(Rules(cap=20))
    said = rules_in_words(replace(ROUND, shape=Shape.STANDING, closes=None, terms=terms))
    assert said[0] == "Up to 20 packets a person and year."
    assert "First come, first served." in said


@pytest.mark.parametrize(
    ("cents", "written"), [(150, "1.50 EUR"), (5, "0.05 EUR"), (-275, "-2.75 EUR"), (0, "0.00 EUR")]
)
def test_money_is_written_with_its_hundredths(cents: int, written: str) -> None:
    assert money(cents, "EUR") == written
