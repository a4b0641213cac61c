"""A round from its beginning until its list is out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.orders import Alternatives, Rules
from sporebank.core.records import Permission, SporeClass
from sporebank.core.surplus import HELD, Way
from sporebank.jobs import exchange, undo
from sporebank.jobs.exchange import LineForm
from tests.builders import TODAY, Clock, caught_up, clone, fridge, new_bank, sound, stored
from tests.jobs.test_sharing_round import ask

ROUND = Exchange(
    0, "Spring round 2026", Shape.ROUND, Stage.GATHERING, TODAY, date(2026, 4, 30), date(2026, 5, 10),
    Terms(Rules(cap=20), limited_below=12),
)  # fmt: skip


@pytest.fixture
def bank(tmp_path: Path, clock: Clock) -> Bank:
    bank = new_bank(tmp_path, clock=clock)
    fridge(bank)
    stored(bank, "Polystichum setiferum", clone=clone("C-02"))
    stored(bank, "Dryopteris affinis", clone=clone("C-01"), each=20_000)
    stored(bank, "Athyrium filix-femina", clone=clone("C-03", permission=Permission.NO))
    return bank


def clone_ids(bank: Bank) -> dict[str, int]:
    return {one.surplus.stock.clone: one.surplus.stock.clone_id for one in exchange.preview(bank, 1)}


def test_a_round_goes_from_surplus_to_a_numbered_list(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    chances = {one.surplus.stock.clone: one for one in exchange.preview(bank, number)}
    assert {code: one.surplus.packets for code, one in chances.items()} == {"C-01": 20, "C-02": 10, "C-03": 0}
    assert exchange.add_lines(bank, number, [one.surplus.stock.clone_id for one in chances.values()]) == 2
    assert exchange.number(bank, number) == 2
    lines = exchange.described(bank, queries.exchange(bank, number))
    assert [(one.number, one.taxon.name.genus, one.packets, one.limited) for one in lines] == [
        (1, "Dryopteris", 20, False),
        (2, "Polystichum", 10, True),
    ]
    assert lines[0].parts[0].collected == (PartDate(2025, 8, 14), PartDate(2025, 8, 14))
    assert queries.exchange(bank, number).stage is Stage.OPEN
    sound(bank)


def test_everything_is_kept_and_read_again(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    assert queries.exchange(bank, number) == replace(ROUND, id=number)
    changed = replace(ROUND, id=number, name="Late round", note="by post")
    exchange.change(bank, changed)
    assert queries.exchange(bank, number) == changed
    undo.undo(bank)
    assert queries.exchange(bank, number).name == "Spring round 2026"


@pytest.mark.parametrize(
    ("odd", "field"),
    [
        ({"name": " "}, "name"),
        ({"closes": date(2026, 1, 1)}, "closes"),
        ({"closes": None}, "closes"),
        ({"ships": date(2026, 1, 1)}, "ships"),
        ({"terms": Terms(Rules(cap=0))}, "cap"),
        ({"terms": Terms(packet_cents=-1)}, "packet_cents"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(bank: Bank, odd: dict[str, object], field: str) -> None:
    with pytest.raises(Refusal) as refused:
        exchange.begin(bank, replace(ROUND, **odd))  # type: ignore[arg-type]  # fields by name
    assert refused.value.field == field


def test_two_exchanges_cannot_share_a_name(bank: Bank) -> None:
    exchange.begin(bank, ROUND)
    with pytest.raises(Refusal, match="already has one of this name"):
        exchange.begin(bank, ROUND)


def test_what_is_held_back_by_hand_or_for_own_use_does_not_go(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    ids = clone_ids(bank)
    exchange.hold(bank, [ids["C-01"]], HELD)
    exchange.set_way(bank, Way(own_ug=20_000), clone_ids=[ids["C-02"]])
    assert {one.surplus.stock.clone: one.surplus.packets for one in exchange.preview(bank, number)} == {
        "C-01": 0,
        "C-02": 2,
        "C-03": 0,
    }
    with pytest.raises(Refusal, match="Nothing of this may go"):
        exchange.add_lines(bank, number, [ids["C-01"]])
    exchange.hold(bank, [ids["C-01"]], "")
    assert exchange.add_lines(bank, number, [ids["C-01"]]) == 1


def test_the_own_use_of_a_taxon_is_kept_once_and_that_of_a_clone_beside_it(bank: Bank) -> None:
    stored(bank, "Dryopteris affinis", clone=clone("C-04"))
    stored(bank, "Dryopteris affinis", clone=clone("C-05"))
    number = exchange.begin(bank, ROUND)
    ids = clone_ids(bank)

    def packets() -> list[int]:
        found = {one.surplus.stock.clone: one.surplus.packets for one in exchange.preview(bank, number)}
        return [found[code] for code in ("C-01", "C-04", "C-05")]

    assert packets() == [20, 10, 10]
    taxon = queries.taxon_named(bank, "Dryopteris affinis")
    assert taxon is not None
    exchange.set_way(bank, Way(own_ug=30_000), taxon_id=taxon.id)
    assert packets() == [12, 10, 10]  # of 60 mg less 30 for own use and 5 in reserve
    exchange.set_way(bank, Way(own_ug=21_000), clone_ids=[ids["C-05"]])
    assert packets() == [12, 10, 2]
    exchange.add_lines(bank, number, [ids["C-04"]])  # alone, it does not bear what C-01 does
    assert [one.packets for one in queries.listed(bank, number)] == [10]


def test_the_packet_of_a_taxon_has_its_own_size(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    taxon = queries.taxon_named(bank, "Dryopteris affinis")
    assert taxon is not None
    exchange.set_way(bank, Way(packet_ug=500), taxon_id=taxon.id)
    packets = {one.surplus.stock.clone: one.surplus.packets for one in exchange.preview(bank, number)}
    assert packets["C-01"] == 80


def test_no_more_may_be_listed_than_may_go(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    exchange.add_lines(bank, number, list(clone_ids(bank).values()))
    line = queries.listed(bank, number)[0]
    with pytest.raises(Refusal, match="No more than 20 packets"):
        exchange.change_line(bank, number, line.id, LineForm(21, 2_000))
    exchange.change_line(bank, number, line.id, LineForm(60, 600, limited=True, note="crested"))
    changed = queries.listed(bank, number)[0]
    assert (changed.packets, changed.packet_ug, changed.limited, changed.note) == (60, 600, True, "crested")


def test_pooled_lines_keep_their_parts(bank: Bank) -> None:
    stored(bank, "Dryopteris affinis", clone=clone("C-09"))
    number = exchange.begin(bank, ROUND)
    exchange.add_lines(bank, number, list(clone_ids(bank).values()))
    lines = [one.id for one in queries.listed(bank, number)]
    with pytest.raises(Refusal, match="one taxon"):
        exchange.pool(bank, number, lines)
    exchange.pool(bank, number, lines[:2])
    pooled = queries.listed(bank, number)[0]
    assert (pooled.packets, [part.clone for part in pooled.parts]) == (30, ["C-01", "C-09"])
    undo.undo(bank)
    assert [one.id for one in queries.listed(bank, number)] == lines


def test_numbers_stay_and_late_lines_come_after_them(bank: Bank) -> None:
    number = exchange.begin(bank, replace(ROUND, shape=Shape.STANDING, closes=None))
    ids = clone_ids(bank)
    exchange.add_lines(bank, number, [ids["C-02"]])
    exchange.number(bank, number)
    exchange.add_lines(bank, number, [ids["C-01"]])
    assert [(one.number, one.taxon.name.genus) for one in queries.listed(bank, number)] == [
        (1, "Polystichum"),
        (2, "Dryopteris"),
    ]
    with pytest.raises(Refusal, match="numbers stay"):
        exchange.number(bank, number)
    exchange.drop_lines(bank, number, [queries.listed(bank, number)[1].id])
    exchange.add_lines(bank, number, [ids["C-01"]])
    assert [one.number for one in queries.listed(bank, number)] == [1, 3]  # a number once given is not given again


def test_a_closed_exchange_opens_again_as_far_as_it_had_come(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    exchange.move_to(bank, number, Stage.CLOSED)
    with pytest.raises(Refusal, match="Open it again first"):
        exchange.change(bank, replace(ROUND, id=number))
    with pytest.raises(Refusal, match="Open it again first"):
        exchange.number(bank, number)
    exchange.move_to(bank, number, Stage.OPEN)
    assert queries.exchange(bank, number).stage is Stage.GATHERING
    exchange.add_lines(bank, number, [clone_ids(bank)["C-01"]])
    exchange.number(bank, number)
    exchange.move_to(bank, number, Stage.CLOSED)
    exchange.move_to(bank, number, Stage.OPEN)
    assert queries.exchange(bank, number).stage is Stage.OPEN


def test_a_standing_list_judges_spore_by_the_days_that_come(bank: Bank, clock: Clock) -> None:
    """Green spore lives for weeks: what is a year old must not stand on a list that opened before it was collected."""
    number = exchange.begin(bank, replace(ROUND, shape=Shape.STANDING, closes=None))
    green = {"spore_class": SporeClass.GREEN, "stored_on": date(2026, 3, 12), "clone": clone("C-20")}
    stored(bank, "Osmunda regalis", collected=PartDate(2026, 3, 10), **green)
    assert "Osmunda" in may_go(bank, number)
    clock.day = date(2027, 3, 1)
    caught_up(bank)
    assert "Osmunda" not in may_go(bank, number)


def test_a_line_says_when_its_spore_is_gone_or_may_not_go_any_more(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    ids = clone_ids(bank)
    exchange.add_lines(bank, number, [ids["C-01"]])
    assert [one.short for one in exchange.described(bank, queries.exchange(bank, number))] == [0]
    exchange.hold(bank, [ids["C-01"]], HELD)
    assert [one.short for one in exchange.described(bank, queries.exchange(bank, number))] == [20]


def may_go(bank: Bank, number: int) -> set[str]:
    return {one.surplus.stock.name.genus for one in exchange.preview(bank, number) if one.surplus.packets}


def test_how_alternatives_are_given_stays_once_orders_are_in(bank: Bank) -> None:
    number = exchange.begin(bank, ROUND)
    exchange.add_lines(bank, number, [clone_ids(bank)["C-01"]])
    exchange.number(bank, number)
    ask(bank, number, "Ida Brekke", (1,))
    with pytest.raises(Refusal, match="alternatives are given"):
        exchange.change(bank, replace(ROUND, id=number, terms=Terms(Rules(alternatives=Alternatives.LIST))))


def test_what_another_list_promises_is_not_offered_twice(bank: Bank) -> None:
    first = exchange.begin(bank, ROUND)
    exchange.add_lines(bank, first, [clone_ids(bank)["C-01"]])
    second = exchange.begin(bank, replace(ROUND, name="Open all year", shape=Shape.STANDING, closes=None))
    (left,) = [one for one in exchange.preview(bank, second) if one.surplus.stock.clone == "C-01"]
    assert left.surplus.packets == 0
    assert (
        left.surplus.reasons[-1]
        == "Beyond 40 mg for another list, 5 mg for the reserve there is 0 mg; a packet takes 2 mg."
    )
    exchange.move_to(bank, first, Stage.CLOSED)
    assert (
        next(one.surplus.packets for one in exchange.preview(bank, second) if one.surplus.stock.clone == "C-01") == 20
    )
