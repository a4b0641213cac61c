"""Sharing out a round or a standing list, and finding the vial of every packet."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.tables import Line, Request
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.layout import Kind
from sporebank.core.orders import Alternatives, Rules
from sporebank.core.records import Contact, RequestState
from sporebank.core.surplus import Way
from sporebank.jobs import allotting, exchange, labels, sharing, sharing_round, undo
from sporebank.jobs.sharing_round import BARRED, PINNED, Shared
from tests.builders import TODAY, clone, fridge, new_bank, sound, stored

ROUND = Exchange(
    0, "Spring round 2026", Shape.ROUND, Stage.GATHERING, TODAY, date(2026, 4, 30), date(2026, 5, 10),
    Terms(Rules(cap=3, alternatives=Alternatives.RANKED)),
)  # fmt: skip
GENERA = ("Athyrium filix-femina", "Dryopteris affinis", "Polystichum setiferum")


def opened(bank: Bank, one: Exchange = ROUND, packets: int = 5) -> int:
    """Fill a bank, put all of it on a list with so many packets of each line, and open it."""
    fridge(bank)
    for place, name in enumerate(GENERA, start=1):
        stored(bank, name, clone=clone(f"C-{place:02}"))
    number = exchange.begin(bank, one)
    exchange.add_lines(bank, number, [each.surplus.stock.clone_id for each in exchange.preview(bank, number)])
    for line in queries.listed(bank, number):
        exchange.change_line(bank, number, line.id, exchange.LineForm(packets, line.packet_ug))
    exchange.number(bank, number)
    return number


def ask(bank: Bank, exchange_id: int, who: str, firsts: tuple[int, ...], others: tuple[int, ...] = ()) -> int:
    """Write down an order by the numbers of the list."""
    lines = {line.number: line for line in queries.listed(bank, exchange_id)}
    known = {one.name: one.id for one in queries.contacts(bank)}
    contact = known.get(who) or sharing.save_contact(bank, Contact(0, who))
    place = len(queries.placed(bank, exchange_id)) + 1
    with bank.change(f"Order of {who}") as tx:
        request = tx.insert(
            Request,
            contact_id=contact,
            received_on=TODAY.isoformat(),
            state="open",
            exchange_id=exchange_id,
            place=place,
        )
        for alternative, numbers in enumerate((firsts, others)):
            for rank, number in enumerate(numbers, start=1):
                line = lines[number]
                tx.insert(
                    Line, request_id=request, rank=rank, taxon_id=line.taxon.id, packets=1, packet_ug=line.packet_ug,
                    offering_id=line.id, alternative=alternative,
                )  # fmt: skip
    return request


def shared(bank: Bank, exchange_id: int) -> Shared:
    found = sharing_round.work_out(sharing_round.gather(bank, exchange_id), lambda *_: None, lambda: False)
    sharing_round.keep(bank, found)
    return found


def held_back(bank: Bank, exchange_id: int) -> int:
    return sum(piece(bank).packets for piece in allotting.pieces(bank, exchange_id))


def _own_use_of_a_taxon(bank: Bank) -> int:
    """Open a round of two clones of a taxon, 30 mg each, of which 12 mg are kept for own use."""
    fridge(bank)
    for code in ("C-01", "C-02"):
        stored(bank, "Dryopteris affinis", clone=clone(code))
    taxon = queries.taxon_named(bank, "Dryopteris affinis")
    assert taxon is not None
    exchange.set_way(bank, Way(own_ug=12_000), taxon_id=taxon.id)
    number = exchange.begin(bank, ROUND)
    exchange.add_lines(bank, number, [each.surplus.stock.clone_id for each in exchange.preview(bank, number)])
    exchange.number(bank, number)
    return number


@pytest.fixture
def bank(tmp_path: Path) -> Bank:
    return new_bank(tmp_path)


def test_a_round_is_shared_out_and_every_packet_finds_its_vial(bank: Bank) -> None:
    number = opened(bank)
    first, second = ask(bank, number, "Ida Brekke", (1, 2)), ask(bank, number, "Tom Arkwell", (1, 3))
    found = shared(bank, number)
    assert found.fair is not None
    assert (found.outcome.total, found.outcome.first) == (4, 4)
    assert queries.exchange(bank, number).stage is Stage.SHARED
    assert held_back(bank, number) == 4
    for request_id in (first, second):
        request = queries.request(bank, request_id)
        assert request.state is RequestState.FILLED
        assert [len(line.filled) for line in request.lines] == [1, 1]
    assert len(labels.waiting(bank)[Kind.PACKET]) == 4
    assert held_back(bank, number) == 0  # asking again holds nothing twice
    sharing.dispatch(bank, first, TODAY)
    sound(bank)


def test_what_is_not_met_says_why(bank: Bank) -> None:
    number = opened(bank, packets=1)
    ask(bank, number, "Ida Brekke", (1,))
    late = ask(bank, number, "Tom Arkwell", (1,), (2,))
    shared(bank, number)
    unmet = [line for line in queries.order_lines(bank, number) if line.request_id == late]
    assert [(line.allotted, line.alternative) for line in unmet] == [(0, False), (1, True)]
    assert "1 packet, 2 people asked" in unmet[0].unmet


def test_pins_and_bars_outlive_a_rerun(bank: Bank) -> None:
    number = opened(bank, packets=1)
    early, late = ask(bank, number, "Ida Brekke", (1, 2)), ask(bank, number, "Tom Arkwell", (1,))
    lines = {line.number: line.id for line in queries.listed(bank, number)}
    shared(bank, number)
    sharing_round.set_hand(bank, late, lines[1], PINNED)
    sharing_round.set_hand(bank, early, lines[2], BARRED)
    for _ in range(2):
        got = {(one.order, one.line) for one in shared(bank, number).outcome.given}
        assert got == {(late, 1)}
    sharing_round.set_hand(bank, early, lines[2], "")
    assert (early, 2) in {(one.order, one.line) for one in shared(bank, number).outcome.given}


def test_nothing_is_kept_of_what_has_changed_meanwhile(bank: Bank) -> None:
    number = opened(bank)
    ask(bank, number, "Ida Brekke", (1,))
    found = sharing_round.work_out(sharing_round.gather(bank, number), lambda *_: None, lambda: False)
    ask(bank, number, "Tom Arkwell", (2,))
    with pytest.raises(Refusal, match="Share out again"):
        sharing_round.keep(bank, found)
    assert all(line.allotted is None for line in queries.order_lines(bank, number))


def test_a_round_waits_for_far_post(bank: Bank) -> None:
    number = opened(bank, replace(ROUND, terms=Terms(Rules(wait_days=14))))
    ask(bank, number, "Ida Brekke", (1,))
    with pytest.raises(Refusal, match="28 Mar 2026"):
        sharing_round.gather(bank, number)


def test_sharing_again_asks_to_give_packets_up_first(bank: Bank) -> None:
    number = opened(bank)
    request = ask(bank, number, "Ida Brekke", (1,))
    shared(bank, number)
    held_back(bank, number)
    with pytest.raises(Refusal, match="Give them up first"):
        sharing_round.gather(bank, number)
    assert allotting.give_up(bank, number) == 1
    assert queries.request(bank, request).state is RequestState.OPEN
    assert Kind.PACKET not in labels.waiting(bank)
    shared(bank, number)
    assert held_back(bank, number) == 1


def test_a_vial_gone_meanwhile_leaves_a_sentence_not_a_packet(bank: Bank) -> None:
    number = opened(bank)
    ask(bank, number, "Ida Brekke", (1,))
    shared(bank, number)
    line = queries.listed(bank, number)[0]
    exchange.hold(bank, [part.clone_id for part in line.parts], "held back")
    assert held_back(bank, number) == 0
    (left,) = queries.order_lines(bank, number)
    assert (left.allotted, left.held) == (0, 0)
    assert left.unmet == "No vial that may go holds enough of it any more."


def test_a_standing_list_serves_who_comes_first_and_counts_the_year(bank: Bank) -> None:
    """First come first served, a cap a person and year, not an order: as standing lists have it (common practice)."""
    number = opened(bank, replace(ROUND, shape=Shape.STANDING, closes=None, terms=Terms(Rules(cap=2))), packets=2)
    first = ask(bank, number, "Ida Brekke", (1, 2))
    shared(bank, number)
    again, other = ask(bank, number, "Ida Brekke", (3,)), ask(bank, number, "Tom Arkwell", (1, 2))
    shared(bank, number)
    by_order = {
        request: [
            (line.allotted, line.unmet) for line in queries.order_lines(bank, number) if line.request_id == request
        ]
        for request in (first, again, other)
    }
    assert by_order[first] == [(1, ""), (1, "")]
    assert by_order[again] == [(0, "The packets allowed a person and year had been given before.")]
    assert by_order[other] == [(1, ""), (1, "")]
    assert [line.left for line in queries.listed(bank, number)] == [0, 0, 2]


def test_a_standing_list_says_what_was_gone_when_one_asked(bank: Bank) -> None:
    number = opened(bank, replace(ROUND, shape=Shape.STANDING, closes=None, terms=Terms(Rules())), packets=2)
    ask(bank, number, "Ida Brekke", (1, 2))
    late, last = ask(bank, number, "Tom Arkwell", (1,)), ask(bank, number, "Wen Aldous", (1, 3))
    shared(bank, number)
    said = {
        (line.request_id, line.number): line.unmet for line in queries.order_lines(bank, number) if not line.allotted
    }
    assert said == {(last, 1): "It was gone before you asked."}
    assert late in {line.request_id for line in queries.order_lines(bank, number) if line.allotted}


def test_a_refusal_to_share_out_names_the_person(bank: Bank) -> None:
    number = opened(bank)
    request = ask(bank, number, "Tom Arkwell", (1,))
    lines = {line.number: line.id for line in queries.listed(bank, number)}
    sharing_round.set_hand(bank, request, lines[2], PINNED)
    with pytest.raises(Refusal, match="Line 2 is pinned to the order of Tom Arkwell"):
        shared(bank, number)


def test_holding_back_goes_on_where_it_was_stopped(bank: Bank, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(allotting, "AT_ONCE", 1)
    number = opened(bank)
    for who in ("Ida Brekke", "Tom Arkwell", "Wen Lindqvist"):
        ask(bank, number, who, (1, 2))
    shared(bank, number)
    next(allotting.pieces(bank, number))(bank)
    assert len(allotting.waiting(bank, number)) == 2
    assert held_back(bank, number) == 4
    undo.undo(bank)
    assert held_back(bank, number) == 2
    sound(bank)


_NUMBERS = st.lists(st.integers(1, 3), unique=True)


@given(
    st.lists(st.tuples(_NUMBERS, _NUMBERS), min_size=1, max_size=8),
    st.integers(0, 6),
    st.sampled_from([Shape.ROUND, Shape.STANDING]),
    st.integers(0, 3),
)
@settings(max_examples=15, deadline=None)
def test_no_packet_is_booked_twice_and_no_vial_goes_below_its_reserve(
    wishes: list[tuple[list[int], list[int]]], packets: int, shape: Shape, stop: int
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        bank = new_bank(Path(folder))
        closes = TODAY + timedelta(days=30) if shape is Shape.ROUND else None
        number = opened(bank, replace(ROUND, shape=shape, closes=closes), packets)
        for place, (firsts, others) in enumerate(wishes):
            ask(bank, number, f"Person {place}", tuple(firsts), tuple(one for one in others if one not in firsts))
        shared(bank, number)
        for piece in list(allotting.pieces(bank, number))[:stop]:
            piece(bank)
        held_back(bank, number)
        lines = queries.order_lines(bank, number)
        assert all(line.held == line.allotted for line in lines)
        by_line = {
            one.number: sum(line.held for line in lines if line.number == one.number)
            for one in queries.listed(bank, number)
        }
        assert all(count <= packets for count in by_line.values())
        for one in wishes and {line.request_id for line in lines if line.held}:
            sharing.dispatch(bank, one, TODAY)
        spare = queries.clone_spare(
            bank, [part.clone_id for line in queries.listed(bank, number) for part in line.parts]
        )
        assert all(left >= bank.settings.reserve_ug for left in spare.values())
        sound(bank)
        bank.close()


def test_what_is_kept_for_own_use_of_a_taxon_takes_no_vial_from_another_clones_packets(
    bank: Bank, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(allotting, "AT_ONCE", 1)
    number = _own_use_of_a_taxon(bank)
    assert [line.packets for line in queries.listed(bank, number)] == [6, 10]  # 30 mg less 12 and 5, and two vials
    for place in range(10):
        ask(bank, number, f"Person {place}", (1, 2) if place < 6 else (2,))
    shared(bank, number)
    assert held_back(bank, number) == 16
    assert all(line.held == line.allotted == 1 for line in queries.order_lines(bank, number))
    sound(bank)


def test_a_line_whose_spore_may_not_go_any_more_is_given_to_nobody_and_alternatives_step_in(bank: Bank) -> None:
    number = opened(bank)
    request = ask(bank, number, "Ida Brekke", (1,), (2,))
    line = queries.listed(bank, number)[0]
    exchange.hold(bank, [part.clone_id for part in line.parts], "held back")
    shared(bank, number)
    first, other = [line for line in queries.order_lines(bank, number) if line.request_id == request]
    assert (first.allotted, other.allotted) == (0, 1)


def test_leftovers_are_shared_out_to_those_who_got_nothing_yet(bank: Bank) -> None:
    number = opened(bank, packets=2)
    early = ask(bank, number, "Ida Brekke", (1,))
    shared(bank, number)
    held_back(bank, number)
    sharing.dispatch(bank, early, TODAY)
    late = ask(bank, number, "Tom Arkwell", (1, 2))
    found = shared(bank, number)
    assert {(one.order, one.line, one.packets) for one in found.outcome.given} == {(late, 1, 1), (late, 2, 1)}
    assert held_back(bank, number) == 2
    sound(bank)


def test_a_sharing_out_is_taken_back_as_long_as_nothing_is_held(bank: Bank) -> None:
    number = opened(bank)
    ask(bank, number, "Ida Brekke", (1,))
    with pytest.raises(Refusal, match="Nothing is shared out"):
        sharing_round.take_back(bank, number)
    shared(bank, number)
    sharing_round.take_back(bank, number)
    assert queries.exchange(bank, number).stage is Stage.OPEN
    assert all(line.allotted is None for line in queries.order_lines(bank, number))
    shared(bank, number)
    held_back(bank, number)
    with pytest.raises(Refusal, match="Give them up first"):
        sharing_round.take_back(bank, number)


def test_two_lists_over_the_same_spore_do_not_block_each_other(bank: Bank) -> None:
    first = opened(bank, packets=5)
    exchange.move_to(bank, first, Stage.CLOSED)
    second = exchange.begin(bank, replace(ROUND, name="Second round"))
    found = exchange.preview(bank, second)
    exchange.add_lines(bank, second, [one.surplus.stock.clone_id for one in found])
    exchange.number(bank, second)
    exchange.move_to(bank, first, Stage.OPEN)
    ask(bank, first, "Ida Brekke", (1,))
    shared(bank, first)
    assert held_back(bank, first) == 1


def compared(bank: Bank, exchange_id: int) -> Shared:
    found = sharing_round.gather_whole(bank, exchange_id)
    return sharing_round.work_out(found, lambda *_: None, lambda: False)


def test_both_methods_are_compared_for_a_whole_round_whatever_is_held_back_or_sent_of_it(bank: Bank) -> None:
    number = opened(bank, packets=2)
    orders = [ask(bank, number, who, (1, 2), (3,)) for who in ("Ida Brekke", "Tom Arkwell", "Wen Lindqvist")]
    sharing_round.set_hand(bank, orders[2], queries.listed(bank, number)[0].id, PINNED)
    at_first = compared(bank, number)
    assert (at_first.fair, at_first.turns) == (shared(bank, number).fair, at_first.turns)
    assert at_first.fair is not None
    assert at_first.fair.total == 6
    held_back(bank, number)
    with pytest.raises(Refusal, match="held back in their vials already"):
        sharing_round.gather(bank, number)
    sharing.dispatch(bank, orders[0], TODAY)
    before = bank.revision
    again = compared(bank, number)
    assert (again.fair, again.turns) == (at_first.fair, at_first.turns)
    assert bank.revision == before


@pytest.mark.parametrize("stage", ["not out", "nobody"])
def test_what_has_no_list_or_no_orders_is_not_compared(bank: Bank, stage: str) -> None:
    number = exchange.begin(bank, ROUND) if stage == "not out" else opened(bank)
    with pytest.raises(Refusal, match="Number it first" if stage == "not out" else "Nobody has asked"):
        sharing_round.gather_whole(bank, number)
