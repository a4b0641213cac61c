"""Packing: every packet into its own parcel, closed when whole; and parcels that never arrive."""

from __future__ import annotations

import contextlib
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.bank.bank import Bank
from sporebank.bank.queries import parcels, people
from sporebank.bank.sql import rows
from sporebank.bank.tables import Line, Offering, Packet
from sporebank.bank.tables import Request as RequestTable
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Exchange, Shape, Stage, Terms
from sporebank.core.happenings import movement_words
from sporebank.core.orders import Alternatives, Rules
from sporebank.core.packing import Opened
from sporebank.core.records import Fate, RequestState
from sporebank.core.records import Packet as Held
from sporebank.core.sharing import Filled
from sporebank.documents.report import render
from sporebank.jobs import allotting, culling, exchange, labels, packing, sharing, sharing_round, undo
from sporebank.jobs.report import batch_report
from sporebank.jobs.sharing import Wish
from tests.builders import TODAY, asked, clone, fridge, new_bank, sound, stored
from tests.documents.examples import text_of
from tests.jobs.test_sharing_round import ROUND, ask, held_back, opened, shared


@pytest.fixture
def bank(tmp_path: Path) -> Bank:
    return new_bank(tmp_path)


def code(bank: Bank, text: str) -> codes.Code:
    return codes.parse(text, bank.tag)


def filled(bank: Bank, *wishes: Wish, who: str = "Marit Olden") -> int:
    request_id = asked(bank, *wishes, who=who, on=date(2026, 3, 2))
    sharing.keep_fill(bank, request_id, sharing.propose(bank, request_id))
    return request_id


def two_parcels(bank: Bank) -> tuple[int, int]:
    """Two clones; a parcel of three packets from both, and one of a single packet."""
    fridge(bank)
    stored(bank)
    stored(bank, "Osmunda regalis", clone=clone("C-02"))
    first = filled(bank, Wish(2, 2_000, taxon_id=1), Wish(1, 3_000, taxon_id=2))
    return first, filled(bank, Wish(1, 1_000, taxon_id=2), who="Piet Veenstra")


def packets(bank: Bank, request_id: int) -> list[codes.Code]:
    return [code(bank, packet.code) for packet in queries.request(bank, request_id).packets]


def packed(bank: Bank, request_id: int, count: int | None = None) -> None:
    for one in packets(bank, request_id)[:count]:
        packing.scan_in(bank, request_id, one)


def left(bank: Bank) -> int:
    return int(rows(bank, "SELECT SUM(left) FROM vial")[0][0])


def test_every_packet_has_a_code_of_its_own(bank: Bank) -> None:
    first, second = two_parcels(bank)
    found = [one.text for request_id in (first, second) for one in packets(bank, request_id)]
    assert len(set(found)) == 4
    assert all(one[0] == "K" for one in found)
    assert queries.request_by_parcel(bank, found[0]) == first
    assert queries.holder(bank, code(bank, found[3])) == queries.request(bank, second).packets[0].id


def test_a_parcel_is_packed_packet_by_packet_and_closed_when_whole(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    own = packets(bank, first)
    said = [packing.scan_in(bank, first, one) for one in own]
    assert [(one.packed, one.packets, one.complete) for one in said] == [(1, 3, False), (2, 3, False), (3, 3, True)]
    assert said[0].text == f"{codes.grouped(own[0].text)}: packet 1 of 3 packed."
    assert parcels.parcel(bank, first).state == "packing 3 of 3"
    packing.close(bank, first)
    assert (parcels.parcel(bank, first).state, parcels.parcel(bank, first).gap) == ("closed", "")
    sharing.dispatch(bank, first, TODAY)
    assert parcels.parcel(bank, first).state == "sent"
    sound(bank)


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ("other", "Wrong parcel: .* belongs into .* for Piet Veenstra, not into .* for Marit Olden"),
        ("twice", "is in this parcel already"),
        ("given up", "was given up and belongs to no parcel any more"),
        ("unknown", "would be a packet of this bank, but nothing here carries it"),
        ("place", "is a place. Scan the label of a packet"),
        ("stranger vial", "No packet of .* is from"),
        ("vial", "2 packets of .* are still to be packed. Scan the label of the packet itself"),
    ],
)
def test_what_does_not_belong_into_the_parcel_is_refused(bank: Bank, wrong: str, says: str) -> None:
    first, second = two_parcels(bank)
    own, request = packets(bank, first), queries.request(bank, first)
    packing.scan_in(bank, first, own[2])
    stranger = queries.vial_row(bank, 3)
    scans = {
        "other": packets(bank, second)[0],
        "twice": own[2],
        "given up": own[0],
        "unknown": code(bank, codes.make("K", bank.tag, 31_000)),
        "place": code(bank, queries.places(bank)[0][0].code),
        "stranger vial": code(bank, stranger.code),
        "vial": code(bank, request.packets[0].vial),
    }
    if wrong == "given up":
        sharing.keep_fill(bank, first, {request.lines[1].id: Filled((request.packets[2].vial_id,), "")})
    before = bank.revision
    with pytest.raises(Refusal, match=says):
        packing.scan_in(bank, first, scans[wrong])
    assert bank.revision == before


def test_the_vial_will_do_where_one_packet_of_it_is_missing_or_packets_have_no_codes(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    pair, _, single = queries.request(bank, first).packets
    packing.scan_in(bank, first, code(bank, single.vial))
    with pytest.raises(Refusal, match="The packet of .* is packed already"):
        packing.scan_in(bank, first, code(bank, single.vial))
    with bank.change("As packets were before they had codes") as tx:
        for packet in queries.request(bank, first).packets[:2]:
            tx.update(Packet, packet.id, code="")
    said = [packing.scan_in(bank, first, code(bank, pair.vial)) for _ in range(2)]
    assert [one.packed for one in said] == [2, 3]


def test_a_packet_can_be_taken_out_again(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    one, other, _ = packets(bank, first)
    packing.scan_in(bank, first, one)
    assert packing.take_out(bank, first, one).packed == 0
    with pytest.raises(Refusal, match="has not been packed"):
        packing.take_out(bank, first, other)
    packing.scan_in(bank, first, one)


def test_a_gap_needs_a_reason_and_what_is_left_out_is_free_again(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    packed(bank, first, 2)
    held = sum(queries.reserved(bank).values())
    for refused in (lambda: packing.close(bank, first), lambda: sharing.dispatch(bank, first, TODAY)):
        with pytest.raises(Refusal, match="2 of 3 packets are in parcel"):
            refused()
    packing.close(bank, first, " the vial broke ")
    request = queries.request(bank, first)
    assert (request.gap, len(request.packets)) == ("the vial broke", 2)
    assert [line.unmet for line in request.lines] == ["", "Left out when the parcel was packed: the vial broke"]
    assert sum(queries.reserved(bank).values()) == held - 3_000
    assert sum(map(len, labels.waiting(bank).values())) == len(request.packets) + 1 + 6  # six vials, the other parcel
    before = left(bank)
    sharing.dispatch(bank, first, TODAY)
    assert left(bank) == before - 4_000
    sound(bank)


def test_nothing_packed_closes_nothing(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    with pytest.raises(Refusal, match="Nothing is packed yet"):
        packing.close(bank, first, "no time")


def test_a_closed_parcel_takes_nothing_until_it_is_open_again(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    with pytest.raises(Refusal, match="not closed"):
        packing.reopen(bank, first)
    packed(bank, first)
    packing.close(bank, first)
    for refused in (
        lambda: packing.scan_in(bank, first, packets(bank, first)[0]),
        lambda: packing.take_out(bank, first, packets(bank, first)[0]),
        lambda: sharing.keep_fill(bank, first, {}),
    ):
        with pytest.raises(Refusal, match="is closed. Open it again first"):
            refused()
    packing.reopen(bank, first)
    packing.take_out(bank, first, packets(bank, first)[0])
    packing.scan_in(bank, first, packets(bank, first)[0])
    sharing.dispatch(bank, first, TODAY)  # whole, so that this closes it too
    assert queries.request(bank, first).packed_on == TODAY
    for refused in (
        lambda: packing.scan_in(bank, first, packets(bank, first)[0]),
        lambda: packing.reopen(bank, first),
    ):
        with pytest.raises(Refusal, match="dispatched"):
            refused()


def test_who_never_scans_dispatches_as_ever(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    sharing.dispatch(bank, first, date(2026, 3, 12))
    request = queries.request(bank, first)
    assert (request.packed_on, request.state) == (date(2026, 3, 12), RequestState.SENT)
    sound(bank)


def test_what_is_packed_stays_in_the_parcel_when_it_is_filled_anew(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    request, own = queries.request(bank, first), packets(bank, first)
    packing.scan_in(bank, first, own[1])
    line, other = request.lines
    sharing.keep_fill(
        bank, first, {line.id: Filled((line.filled[0].vial_id,), ""), other.id: Filled((other.filled[0].vial_id,), "")}
    )
    assert [one.text for one in packets(bank, first)] == [own[1].text, own[2].text]


def test_spore_that_came_back_goes_into_its_vials_unless_it_should_not(bank: Bank) -> None:
    before = {}
    for number, put_back in enumerate((True, False)):
        folder = bank.path.parent / str(number)
        folder.mkdir()
        other = new_bank(folder)
        first, _ = two_parcels(other)
        before[put_back] = left(other)
        sharing.dispatch(other, first, date(2026, 3, 10))
        packing.come_back(other, first, TODAY, Fate.RETURNED, put_back=put_back)
        request = queries.request(other, first)
        assert (request.state, request.fate, request.fate_on) == (RequestState.CLOSED, Fate.RETURNED, TODAY)
        assert left(other) == before[put_back] - (0 if put_back else 7_000)
        sound(other)
        undo.undo(other)
        assert left(other) == before[put_back] - 7_000
        sound(other)
        undo.redo(other)
        assert left(other) == before[put_back] - (0 if put_back else 7_000)
        sound(other)
        other.close()


@pytest.mark.parametrize(
    ("fate", "put_back", "told"),
    [
        (Fate.RETURNED, True, ["4 mg in, correction: {} came back"]),
        (
            Fate.RETURNED,
            False,
            ["4 mg in, correction: {} came back", "4 mg out, loss: {} came back, not put back"],
        ),
        (Fate.LOST, True, ["4 mg in, correction: {} lost on the way", "4 mg out, loss: {} lost on the way"]),
    ],
)
def test_the_ledger_of_a_vial_tells_what_became_of_its_gifts(
    bank: Bank, fate: Fate, put_back: bool, told: list[str]
) -> None:
    first, _ = two_parcels(bank)
    sharing.dispatch(bank, first, date(2026, 3, 10))
    request = queries.request(bank, first)
    vial, parcel = request.packets[0].vial_id, codes.grouped(request.parcel)
    packing.come_back(bank, first, TODAY, fate, put_back=put_back)
    ledger = queries.ledger(bank, vial)
    gifts, since = ledger[1:3], [movement_words(line) for line in ledger[3:]]
    assert [movement_words(line) for line in gifts] == [f"2 mg out, gift: {parcel}"] * 2
    assert since == [line.format(parcel) for line in told]
    assert {line.on for line in ledger[3:]} == {TODAY}
    assert queries.vial_row(bank, vial).left == (10_000 if len(told) == 1 else 6_000)
    assert people.passed(bank, request.contact.id) == []
    read = text_of(render(batch_report(bank, queries.vial_row(bank, vial).batch_id)))
    for line, after in zip(since, ("10 mg", "6 mg"), strict=False):
        assert f"{line.split(', ', 1)[1]} 4 mg {after}" in read
    undo.undo(bank)
    assert all(line.reversed for line in queries.ledger(bank, vial)[3:])
    assert queries.vial_row(bank, vial).left == 6_000
    undo.redo(bank)
    standing = [movement_words(line) for line in queries.ledger(bank, vial) if not line.reversed]
    assert standing[3:] == since
    sound(bank)


def test_what_became_of_spore_of_a_vial_culled_since_is_still_told(bank: Bank) -> None:
    first, _ = two_parcels(bank)
    sharing.dispatch(bank, first, date(2026, 3, 10))
    vial = queries.request(bank, first).packets[0].vial_id
    culling.cull(bank, [vial], date(2026, 3, 12))
    packing.come_back(bank, first, TODAY, Fate.LOST)
    assert [line.micrograms for line in queries.ledger(bank, vial)] == [10_000, -2_000, -2_000, -6_000, 4_000, -4_000]
    assert queries.vial_row(bank, vial).left == 0
    sound(bank)


@pytest.mark.parametrize(
    ("case", "says"),
    [
        ("not sent", "has not been sent"),
        ("twice", "on record already that this parcel was lost"),
        ("tomorrow", "has not come yet"),
        ("before", "before the parcel was sent"),
        ("culled", "was culled since"),
    ],
)
def test_what_cannot_have_happened_to_a_parcel_is_refused(bank: Bank, case: str, says: str) -> None:
    first, _ = two_parcels(bank)
    if case != "not sent":
        sharing.dispatch(bank, first, date(2026, 3, 10))
    if case == "twice":
        packing.come_back(bank, first, TODAY, Fate.LOST)
    if case == "culled":
        vial = queries.request(bank, first).packets[0].vial_id
        culling.cull(bank, [vial], TODAY)
    on = {"tomorrow": date(2026, 3, 15), "before": date(2026, 3, 9)}.get(case, TODAY)
    with pytest.raises(Refusal, match=says):
        packing.come_back(bank, first, on, Fate.RETURNED)
    sound(bank)


def test_a_lost_parcel_of_a_round_counts_no_more_and_its_packets_are_gone_from_the_list(bank: Bank) -> None:
    number = opened(bank)
    first, second = ask(bank, number, "Ida Brekke", (1, 2)), ask(bank, number, "Tom Arkwell", (1, 3))
    shared(bank, number)
    held_back(bank, number)
    for request_id in (first, second):
        packed(bank, request_id)
        packing.close(bank, request_id)
        sharing.dispatch(bank, request_id, TODAY)
    before = {line.number: (line.packets, line.left) for line in queries.listed(bank, number)}
    taxon = queries.listed(bank, number)[0].taxon.id
    assert queries.demand(bank, [taxon])[taxon] == (2, 2, 0)
    packing.come_back(bank, first, TODAY, Fate.LOST)
    after = {line.number: (line.packets, line.left) for line in queries.listed(bank, number)}
    assert after == {1: (before[1][0] - 1, before[1][1]), 2: (before[2][0] - 1, before[2][1]), 3: before[3]}
    assert queries.demand(bank, [taxon])[taxon] == (1, 1, 0)
    packing.come_back(bank, second, TODAY, Fate.RETURNED)
    assert {line.number: line.left for line in queries.listed(bank, number)} == {
        1: after[1][1] + 1, 2: after[2][1], 3: after[3][1] + 1,
    }  # fmt: skip
    assert [one.state for one in parcels.parcels(bank, number)] == ["lost", "came back"]
    sound(bank)


def test_a_gap_in_an_order_lowers_what_it_was_allotted_and_nothing_is_held_back_for_it_again(bank: Bank) -> None:
    number = opened(bank)
    first = ask(bank, number, "Ida Brekke", (1, 2))
    shared(bank, number)
    held_back(bank, number)
    packed(bank, first, 1)
    packing.close(bank, first, "the packet tore")
    assert [line.allotted for line in queries.order_lines(bank, number)] == [1, 0]
    assert held_back(bank, number) == 0
    allotting.give_up(bank, number)  # a closed parcel is opened again by this
    assert queries.request(bank, first).packed_on is None
    sound(bank)


def _lines(bank: Bank, number: int) -> list[tuple[int | None, int, str]]:
    return [(line.allotted, line.held, line.unmet) for line in queries.order_lines(bank, number)]


def test_what_was_left_out_of_an_order_can_be_held_back_again_once_its_parcel_is_open(bank: Bank) -> None:
    number = opened(bank)
    first = ask(bank, number, "Ida Brekke", (1, 2))
    shared(bank, number)
    held_back(bank, number)
    for closed_by in ("closing", "redone", "reopening undone"):
        packed(bank, first, 1)
        packing.close(bank, first, "the packet tore")
        if closed_by == "redone":
            undo.undo(bank)
            undo.redo(bank)
        if closed_by == "reopening undone":
            packing.reopen(bank, first)
            undo.undo(bank)
        torn = "Left out when the parcel was packed: the packet tore"
        assert _lines(bank, number) == [(1, 1, ""), (0, 0, torn)]
        assert packing.reopen(bank, first).waiting == 1
        assert _lines(bank, number) == [(1, 1, ""), (1, 0, "")]
        assert held_back(bank, number) == 1
        sound(bank)
        packing.take_out(bank, first, packets(bank, first)[0])
    packed(bank, first)
    packing.close(bank, first)
    assert packing.reopen(bank, first).waiting == 0
    sharing.dispatch(bank, first, TODAY)
    assert _lines(bank, number) == [(1, 0, ""), (1, 0, "")]
    sound(bank)


def test_what_others_got_of_the_list_meanwhile_is_not_held_back_again(bank: Bank) -> None:
    number = opened(bank, replace(ROUND, shape=Shape.STANDING, closes=None, name="All year"), packets=1)
    first = ask(bank, number, "Ida Brekke", (1, 2))
    shared(bank, number)
    held_back(bank, number)
    packed(bank, first, 1)
    packing.close(bank, first, "the packet tore")
    ask(bank, number, "Tom Arkwell", (2,))
    shared(bank, number)
    before = _lines(bank, number)
    assert [line[0] for line in before] == [1, 0, 1]
    assert packing.reopen(bank, first).waiting == 0
    assert _lines(bank, number) == before
    assert held_back(bank, number) == 1
    sound(bank)


YEAR_LIST = replace(ROUND, shape=Shape.STANDING, closes=None, name="All year")


def with_rules(one: Exchange, **rules: Any) -> Exchange:
    return replace(one, terms=Terms(Rules(alternatives=Alternatives.RANKED, **rules)))


def torn_out(bank: Bank, number: int, request_id: int, kept: int = 1) -> None:
    """Close the parcel of an order whose first packets alone are in it."""
    shared(bank, number)
    held_back(bank, number)
    packed(bank, request_id, kept)
    packing.close(bank, request_id, "the packet tore")


@pytest.mark.parametrize(
    ("rules", "helper", "waiting"),
    [
        ({"cap": 2}, False, 0),
        ({"cap": 3}, False, 1),
        ({"cap": 2, "extra": 1}, False, 0),
        ({"cap": 2, "extra": 1}, True, 1),
        ({"cap": None}, False, 1),
    ],
)
def test_no_more_is_held_back_again_than_a_person_may_have_in_a_year(
    bank: Bank, rules: dict[str, Any], helper: bool, waiting: int
) -> None:
    """The cap of a standing list is for a person and a calendar year, whatever the orders (common practice)."""
    number = opened(bank, with_rules(YEAR_LIST, **rules))
    first = ask(bank, number, "Ida Brekke", (1, 2))
    with bank.change("Who helps") as tx:
        tx.update(RequestTable, first, helper=int(helper))
    torn_out(bank, number, first)
    ask(bank, number, "Ida Brekke", (3,))
    ask(bank, number, "Tom Arkwell", (1, 3))  # what others had does not count
    shared(bank, number)
    held_back(bank, number)
    before = _lines(bank, number)
    assert [line[0] for line in before] == [1, 0, 1, 1, 1]
    assert packing.reopen(bank, first).waiting == waiting
    assert held_back(bank, number) == waiting
    after = _lines(bank, number)
    assert after[1][:2] == (waiting, waiting)
    assert (after[1][2] == "") is bool(waiting)
    assert after[2:] == [(1, 1, "")] * 3
    sound(bank)


def test_what_was_had_in_another_year_does_not_count(bank: Bank) -> None:
    number = opened(bank, with_rules(YEAR_LIST, cap=2))
    first = ask(bank, number, "Ida Brekke", (1, 2))
    torn_out(bank, number, first)
    second = ask(bank, number, "Ida Brekke", (3,))
    with bank.change("It came last year") as tx:
        tx.update(RequestTable, second, received_on="2025-12-30")
    shared(bank, number)
    assert packing.reopen(bank, first).waiting == 1


@pytest.mark.parametrize(
    ("rules", "waiting"),
    [
        ({"cap": 4}, 3),
        ({"cap": 3}, 2),
        ({"cap": 1}, 0),
        ({"cap": 1, "extra": 1}, 0),  # for donors and helpers alone
        ({"limited_cap": 2}, 3),  # the second line is limited
        ({"limited_cap": 1}, 2),
        ({"limited_cap": 0}, 1),
        ({"line_cap": 1}, 1),
        ({"line_cap": 1, "limited_cap": 0}, 0),
        ({}, 3),
    ],
)
def test_what_is_held_back_again_goes_by_the_rules_of_a_round_as_they_are_now(
    bank: Bank, rules: dict[str, Any], waiting: int
) -> None:
    """Two packets each are asked for of two lines; one is in the parcel, and the rules have changed since."""
    number = opened(bank, with_rules(ROUND))
    first = ask(bank, number, "Ida Brekke", (1, 2))
    listed = queries.listed(bank, number)
    with bank.change("Two of each") as tx:
        for line in queries.order_lines(bank, number):
            tx.update(Line, line.id, packets=2)
        tx.update(Offering, listed[1].id, limited=1)
    torn_out(bank, number, first)
    assert [line[0] for line in _lines(bank, number)] == [1, 0]
    exchange.change(bank, with_rules(queries.exchange(bank, number), **rules))
    assert packing.reopen(bank, first).waiting == waiting
    assert held_back(bank, number) == waiting
    sound(bank)


def test_a_line_that_was_barred_since_is_not_held_back_again(bank: Bank) -> None:
    number = opened(bank)
    first = ask(bank, number, "Ida Brekke", (1, 2))
    torn_out(bank, number, first)
    sharing_round.set_hand(bank, first, queries.listed(bank, number)[1].id, sharing_round.BARRED)
    assert packing.reopen(bank, first).waiting == 0


def test_alternatives_are_held_back_again_too(bank: Bank) -> None:
    number = opened(bank, packets=1)
    ask(bank, number, "Ida Brekke", (1,))
    late = ask(bank, number, "Tom Arkwell", (2, 1), (3,))
    torn_out(bank, number, late)
    assert [line[0] for line in _lines(bank, number)] == [1, 1, 0, 0]
    assert packing.reopen(bank, late).waiting == 1
    assert [line[0] for line in _lines(bank, number)] == [1, 1, 0, 1]
    sound(bank)


@pytest.mark.parametrize("state", ["closed", "sent"])
def test_a_parcel_that_is_done_with_is_not_opened(bank: Bank, state: str) -> None:
    number = opened(bank)
    first = ask(bank, number, "Ida Brekke", (1, 2))
    torn_out(bank, number, first)
    if state == "closed":
        sharing.close_request(bank, first)
    else:
        sharing.dispatch(bank, first, TODAY)
    revision = bank.revision
    with pytest.raises(Refusal, match=r"request is closed\. Undo" if state == "closed" else "has been dispatched"):
        packing.reopen(bank, first)
    assert bank.revision == revision
    sound(bank)


def test_a_parcel_of_a_closed_exchange_says_so_when_it_is_opened(bank: Bank) -> None:
    number = opened(bank)
    first = ask(bank, number, "Ida Brekke", (1, 2))
    torn_out(bank, number, first)
    exchange.move_to(bank, number, Stage.CLOSED)
    assert packing.reopen(bank, first) == Opened("Ida Brekke", 1, "Spring round 2026")
    exchange.move_to(bank, number, Stage.OPEN)
    assert held_back(bank, number) == 1
    sound(bank)


_VISITS = st.lists(st.tuples(st.booleans(), st.integers(1, 2), st.integers(0, 2)), min_size=2, max_size=5)


@settings(max_examples=25, deadline=None)
@given(visits=_VISITS, cap=st.integers(2, 5))
def test_no_year_and_no_line_ever_gives_more_than_it_may(visits: list[tuple[bool, int, int]], cap: int) -> None:
    """Orders are shared out one by one; of some, packets are left out; then the parcel of an earlier one is opened."""
    with tempfile.TemporaryDirectory() as folder:
        bank = new_bank(Path(folder))
        number = opened(bank, with_rules(YEAR_LIST, cap=cap), packets=2)
        orders: list[int] = []
        for other, kept, again in visits:
            orders.append(ask(bank, number, "Tom Arkwell" if other else "Ida Brekke", (1, 2, 3)))
            with contextlib.suppress(Refusal):
                torn_out(bank, number, orders[-1], kept)
            for earlier in orders[:-1][again : again + 1]:
                with contextlib.suppress(Refusal):
                    packing.reopen(bank, earlier)
        person = {one.request_id: one.contact.id for one in queries.placed(bank, number)}
        had, gone = Counter[int](), Counter[int]()
        for line in queries.order_lines(bank, number):
            had[person[line.request_id]] += line.allotted or 0
            gone[line.number] += line.allotted or 0
        assert max(had.values()) <= cap
        assert max(gone.values()) <= 2
        sound(bank)
        bank.close()


def test_what_never_was_held_back_is_not_held_back_once_its_parcel_is_closed_or_sent(bank: Bank) -> None:
    number = opened(bank)
    orders = [ask(bank, number, who, (1, 2)) for who in ("Ida Brekke", "Tom Arkwell")]
    shared(bank, number)
    held_back(bank, number)
    lines = [line for line in queries.order_lines(bank, number) if line.number == 2]
    with bank.change("Allotted twice as much as was held back") as tx:
        for line in lines:
            tx.update(Line, line.id, allotted=2)
    packed(bank, orders[0])
    packing.close(bank, orders[0])
    sharing.dispatch(bank, orders[1], TODAY)
    assert held_back(bank, number) == 0
    after = [line for line in queries.order_lines(bank, number) if line.number == 2]
    assert [line.allotted for line in after] == [1, 1]
    assert all("before the parcel was closed" in line.unmet for line in after)
    sound(bank)


def test_an_order_whose_parcel_came_back_is_still_found(bank: Bank) -> None:
    number = opened(bank)
    first = ask(bank, number, "Ida Brekke", (1,))
    shared(bank, number)
    held_back(bank, number)
    sharing.dispatch(bank, first, TODAY)
    (got,) = people.passed(bank, queries.request(bank, first).contact.id)
    assert (got.gave, got.packets) == (False, 1)
    packing.come_back(bank, first, TODAY, Fate.RETURNED)
    assert [one.id for one in queries.requests(bank)] == [first]
    assert people.passed(bank, queries.request(bank, first).contact.id) == []


DEEDS = ("scan", "vial", "out", "close", "gap", "reopen", "send", "back", "lost", "undo", "redo", "fill")
MANY = st.lists(
    st.tuples(
        st.sampled_from(
            ["scan", "vial", "out", "close", "gap", "reopen", "send", "back", "lost", "undo", "redo", "fill"]
        ),
        st.integers(0, 1),
        st.integers(0, 5),
    ),
    max_size=25,
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(deeds=MANY)
def test_whatever_is_done_at_the_bench_the_ledger_holds(deeds: list[tuple[str, int, int]]) -> None:
    """No packet is booked twice and no vial goes below zero, whatever is scanned, closed, sent, undone and redone."""
    with tempfile.TemporaryDirectory() as folder:
        bank = new_bank(Path(folder))
        requests = two_parcels(bank)
        every = [packet for request_id in requests for packet in queries.request(bank, request_id).packets]
        for deed, which, number in deeds:
            with contextlib.suppress(Refusal):
                _do(bank, deed, requests[which], every[number % len(every)], put_back=bool(number % 2))
            sound(bank)
        bank.close()


def _do(bank: Bank, deed: str, request_id: int, packet: Held, *, put_back: bool) -> None:
    deeds: dict[str, Callable[[], object]] = {
        "scan": lambda: packing.scan_in(bank, request_id, code(bank, packet.code)),
        "vial": lambda: packing.scan_in(bank, request_id, code(bank, packet.vial)),
        "out": lambda: packing.take_out(bank, request_id, code(bank, packet.code)),
        "close": lambda: packing.close(bank, request_id),
        "gap": lambda: packing.close(bank, request_id, "torn"),
        "reopen": lambda: packing.reopen(bank, request_id),
        "send": lambda: sharing.dispatch(bank, request_id, TODAY),
        "back": lambda: packing.come_back(bank, request_id, TODAY, Fate.RETURNED, put_back=put_back),
        "lost": lambda: packing.come_back(bank, request_id, TODAY, Fate.LOST),
        "undo": lambda: undo.undo(bank),
        "redo": lambda: undo.redo(bank),
        "fill": lambda: sharing.keep_fill(bank, request_id, sharing.propose(bank, request_id)),
    }
    deeds[deed]()
