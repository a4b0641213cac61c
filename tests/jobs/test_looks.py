"""Looks at pots: what is on record, what is refused, and that every deed is taken back whole."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.looks import LookKind
from sporebank.core.scanning import Mode, Step, decide
from sporebank.jobs import scanning, sowing, undo
from sporebank.jobs.looks import LookForm, record, take_back
from tests.builders import TODAY, clone, fridge, new_bank, sound, stored

SOWN = date(2026, 1, 10)


def _sow(bank, vial_id, pots=3, on=SOWN):
    form = sowing.SowForm(vial_id, "Lean-to", on, pots, 300, knowingly=True)
    return sowing.sow(bank, form)


@pytest.fixture
def bank(tmp_path):
    made = new_bank(tmp_path)
    fridge(made)
    for name, code in (("Dryopteris affinis", "D-1"), ("Osmunda regalis", "O-1")):
        stored(made, name, clone=clone(code), vials=1, stored_on=date(2025, 9, 1))
    yield made
    sound(made)
    made.close()


@pytest.fixture
def pots(bank):
    """Three pots of Dryopteris affinis."""
    return queries.pots(bank, _sow(bank, 1))


def look(pots, **more):
    form = LookForm(tuple(pot.id for pot in pots), TODAY, LookKind.PROTHALLI)
    return replace(form, **more)


def test_one_deed_records_what_is_seen_in_many_pots_and_is_taken_back_at_once(bank, pots):
    record(bank, look(pots[:1], on=date(2026, 2, 7), what=LookKind.FILM))
    record(bank, look(pots[:2], note=" a few hearts "))
    assert queries.events(bank)[0].title == "Look at 2 pots, Dryopteris affinis: prothalli"
    first, second, third = queries.pots(bank, pots[0].sowing_id)
    assert first.story() == (
        "14 Mar 2026, 9 weeks after sowing: prothalli – a few hearts\n7 Feb 2026, 4 weeks after sowing: green film"
    )
    assert (second.last.what, second.last.on) == (LookKind.PROTHALLI, TODAY)
    assert (third.last, third.story()) == (None, "")
    undo.undo(bank)
    assert [pot.last and pot.last.what for pot in queries.pots(bank, first.sowing_id)] == [LookKind.FILM, None, None]
    undo.redo(bank)
    assert queries.pots(bank, first.sowing_id) == [first, second, third]


def test_how_the_pots_of_a_sowing_stand_goes_by_the_latest_look_at_each(bank, pots):
    def said():
        found = queries.sowing(bank, pots[0].sowing_id)
        return None if found.seen is None else (found.seen.said(len(found.pots)), found.seen.on)

    assert said() is None
    record(bank, look(pots, on=date(2026, 2, 7), what=LookKind.FILM))
    assert said() == ("green film in all pots", date(2026, 2, 7))
    record(bank, look(pots[:2], on=date(2026, 3, 1)))
    record(bank, look(pots[2:], on=date(2026, 2, 20), what=LookKind.MOULD))
    assert said() == ("prothalli in 2 of 3 pots, mould in 1", date(2026, 3, 1))
    record(bank, look(pots[:1], on=date(2026, 1, 20), what=LookKind.LOST))  # written down late, and seen long before
    assert said() == ("prothalli in 2 of 3 pots, mould in 1", date(2026, 3, 1))
    record(
        bank, look(pots[:1], on=date(2026, 3, 1), what=LookKind.SPORELINGS, count=12)
    )  # the last word of a day holds
    assert said() == ("sporelings in 1 of 3 pots, prothalli in 1, mould in 1", date(2026, 3, 1))
    assert queries.pots_by_id(bank, [pots[0].id])[0].last.said() == "12 sporelings"
    assert queries.sowings(bank)[0] == queries.sowing(bank, pots[0].sowing_id)


def test_pots_of_several_sowings_are_looked_at_together(bank, pots):
    others = queries.pots(bank, _sow(bank, 2, pots=1, on=date(2026, 2, 2)))
    record(bank, look([*pots, *others], what=LookKind.STRANGER))
    assert queries.events(bank)[0].title == "Look at 4 pots: a stranger"
    assert queries.sowing(bank, others[0].sowing_id).seen.said(1) == "a stranger in the pot"
    with pytest.raises(Refusal, match=r"It was sown on 2 Feb 2026\. Give that day or a later one") as refused:
        record(bank, look([*pots, *others], on=date(2026, 2, 1)))
    assert refused.value.field == "on"


@pytest.mark.parametrize(
    ("changes", "says", "field"),
    [
        ({"on": TODAY + timedelta(days=1)}, "has not come yet", "on"),
        ({"on": SOWN - timedelta(days=1)}, "It was sown on 10 Jan 2026", "on"),
        ({"count": 3}, "Only sporelings are counted", "count"),
        ({"what": LookKind.SPORELINGS, "count": 0}, "from 1 to 10,000, or none", "count"),
        ({"what": LookKind.SPORELINGS, "count": 10_001}, "from 1 to 10,000, or none", "count"),
        ({"pot_ids": ()}, "Choose the pots first", None),
        ({"pot_ids": (1, 999)}, "taken back meanwhile", None),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_written(bank, pots, changes, says, field):
    before = bank.revision
    with pytest.raises(Refusal, match=says) as refused:
        record(bank, look(pots, **changes))
    assert refused.value.field == field
    assert bank.revision == before


def test_a_pot_that_was_taken_back_is_not_looked_at(bank, pots):
    undo.undo(bank)
    with pytest.raises(Refusal, match="taken back meanwhile"):
        record(bank, look(pots))


def test_a_scan_records_today_once_of_each_kind(bank, pots):
    pot = pots[0]
    done = scanning.look(bank, pot.id, LookKind.FILM)
    assert done.text == f"{codes.grouped(pot.code)}, Dryopteris affinis: green film."
    again = scanning.look(bank, pot.id, LookKind.FILM)
    assert (again.event, again.text) == (
        0, f"{codes.grouped(pot.code)}: green film is on record for today already. Nothing was written.",
    )  # fmt: skip
    other = scanning.look(bank, pot.id, LookKind.MOULD)
    assert [one.what for one in queries.pots_by_id(bank, [pot.id])[0].looks] == [LookKind.MOULD, LookKind.FILM]
    scanning.undo(bank, other)
    assert [one.what for one in queries.pots_by_id(bank, [pot.id])[0].looks] == [LookKind.FILM]
    assert scanning.look(bank, pot.id, LookKind.MOULD).event


def test_a_scan_of_another_day_is_another_look(bank, pots):
    scanning.look(bank, pots[0].id, LookKind.FILM)
    record(bank, look(pots[:1], on=date(2026, 3, 1), what=LookKind.MOULD))
    assert scanning.look(bank, pots[0].id, LookKind.MOULD).event


_kinds = st.sampled_from(list(LookKind))


@settings(max_examples=20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 60), _kinds), min_size=1, max_size=8))
def test_nothing_seen_is_lost_and_the_latest_is_how_a_pot_stands(bank, pots, told):
    """Property: all that was told comes back, the latest day first, of a day what was told last; undo ends bare."""
    for number, days, what in told:
        record(bank, look([pots[number]], on=SOWN + timedelta(days=days), what=what))
    for number, pot in enumerate(queries.pots(bank, pots[0].sowing_id)):
        mine = [(days, order, what) for order, (of, days, what) in enumerate(told) if of == number]
        wanted = [(SOWN + timedelta(days=days), what) for days, _, what in sorted(mine, reverse=True)]
        assert [(one.on, one.what) for one in pot.looks] == wanted
    stand = queries.sowing(bank, pots[0].sowing_id).seen
    assert sum(count for _, count in stand.pots) == len({number for number, _, _ in told})
    for _ in told:
        undo.undo(bank)
    assert queries.pots(bank, pots[0].sowing_id) == pots


def test_a_code_of_a_pot_is_a_look_and_any_other_is_none(bank, pots):
    code = codes.parse(pots[0].code, bank.tag)
    assert decide(Mode.LOOK, code, has_place=False) is Step.LOOK
    with pytest.raises(Refusal, match=r"is a vial; here each scan should be of a pot \(record a look\)"):
        decide(Mode.LOOK, codes.parse(queries.vial_row(bank, 1).code, bank.tag), has_place=False)


def test_a_look_of_long_ago_is_taken_back_by_itself_and_undo_brings_it_back(bank, pots):
    record(bank, look(pots, on=date(2026, 2, 7), what=LookKind.FILM))
    record(bank, look(pots[:1], on=date(2026, 2, 20), what=LookKind.MOULD))
    record(bank, look(pots, what=LookKind.PROTHALLI))
    (_, mould, _) = queries.pots(bank, pots[0].sowing_id)[0].looks
    take_back(bank, [mould.id])
    assert (
        queries.events(bank)[0].title == f"Take back a look at {codes.grouped(pots[0].code)}, Dryopteris affinis: mould"
    )
    assert [one.what for one in queries.pots(bank, pots[0].sowing_id)[0].looks] == [LookKind.PROTHALLI, LookKind.FILM]
    undo.undo(bank)
    assert queries.pots(bank, pots[0].sowing_id)[0].looks[1] == mould
    undo.redo(bank)
    assert queries.looks_by_id(bank, [mould.id]) == []


def test_how_a_pot_stands_goes_by_the_look_before_once_the_last_is_taken_back(bank, pots):
    record(bank, look(pots, on=date(2026, 2, 7), what=LookKind.FILM))
    record(bank, look(pots, what=LookKind.LOST))
    take_back(bank, [pot.last.id for pot in queries.pots(bank, pots[0].sowing_id)])
    assert queries.events(bank)[0].title == "Take back 3 looks at 3 pots, Dryopteris affinis: lost"
    assert queries.sowing(bank, pots[0].sowing_id).seen.said(3) == "green film in all pots"
    scanning.look(bank, pots[0].id, LookKind.LOST)  # it is not on record any more, and so is written anew
    assert queries.pots(bank, pots[0].sowing_id)[0].last.what is LookKind.LOST


def test_nothing_is_taken_back_where_a_look_is_gone_or_none_is_chosen(bank, pots):
    record(bank, look(pots))
    first, second, _ = (pot.last.id for pot in queries.pots(bank, pots[0].sowing_id))
    take_back(bank, [first])
    before = queries.events(bank)
    with pytest.raises(Refusal, match="taken back meanwhile"):
        take_back(bank, [second, first])
    with pytest.raises(Refusal, match="Choose the looks first"):
        take_back(bank, [])
    assert queries.events(bank) == before
