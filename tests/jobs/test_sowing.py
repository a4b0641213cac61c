"""Sowing: spore out of its vial, pots with codes of their own, one species a room a day."""

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.core import codes
from sporebank.core.errors import Refusal
from sporebank.core.records import PlaceKind, Reason
from sporebank.core.settings import Settings
from sporebank.jobs import undo
from sporebank.jobs.places import PlaceForm, add_place
from sporebank.jobs.settings import change_settings
from sporebank.jobs.sowing import LEAST_ALIVE, MOST_POTS, SowForm, clash, dose, sow
from sporebank.jobs.store import Portion
from tests.builders import TODAY, clone, counted, fridge, new_bank, stored


@pytest.fixture
def vial_id(bank):
    fridge(bank)
    return stored(bank).vial_ids[0]


def form(vial_id, **more):
    return SowForm(**{"vial_id": vial_id, "room": "Bench room", "sown_on": TODAY, "pots": 4, "micrograms": 500, **more})


def test_a_sowing_takes_its_spore_and_gives_every_pot_a_code(bank, vial_id):
    sowing = queries.sowing(bank, sow(bank, form(vial_id, note="under lamps")))
    assert (sowing.room, sowing.sown_on, sowing.micrograms, sowing.note) == ("Bench room", TODAY, 500, "under lamps")
    assert len(set(sowing.pots)) == 4
    assert {codes.parse(pot, bank.tag).kind for pot in sowing.pots} == {"P"}
    assert {queries.pot_sowing(bank, code) for code in (*sowing.pots, sowing.code)} == {sowing.id}
    line = queries.ledger(bank, vial_id)[-1]
    assert (line.micrograms, line.reason) == (-500, Reason.SOWING)
    assert queries.sowings(bank) == [sowing]


def test_undo_takes_the_pots_back_and_their_codes_are_not_used_again(bank, vial_id):
    first = queries.sowing(bank, sow(bank, form(vial_id)))
    undo.undo(bank)
    assert queries.sowings(bank) == []
    assert queries.pot_sowing(bank, first.pots[0]) is None
    second = queries.sowing(bank, sow(bank, form(vial_id)))
    assert not set(first.pots) & set(second.pots)


@pytest.mark.parametrize(
    ("field", "more"),
    [
        ("room", {"room": " "}),
        ("pots", {"pots": 0}),
        ("pots", {"pots": MOST_POTS + 1}),
        ("amount", {"micrograms": 0}),
        ("amount", {"micrograms": 10_001}),
        ("sown_on", {"sown_on": TODAY + timedelta(days=1)}),
    ],
)
def test_nonsense_is_refused_beside_its_field(bank, vial_id, field, more):
    with pytest.raises(Refusal) as caught:
        sow(bank, form(vial_id, **more))
    assert caught.value.field == field
    assert queries.vial_row(bank, vial_id).left == 10_000


def test_two_species_in_a_room_on_a_day_are_refused_unless_done_knowingly(bank, vial_id):
    other = stored(bank, "Osmunda regalis", clone=clone("O-1")).vial_ids[0]
    sow(bank, form(vial_id))
    with pytest.raises(Refusal, match=r"Dryopteris affinis was sown in bench ROOM that day\. Spore drifts") as caught:
        sow(bank, form(other, room=" bench ROOM "))
    assert caught.value.field == "room"
    assert clash(bank, form(other, room="Lean-to")) == ""
    sow(bank, form(vial_id, room="Gewächshaus"))
    assert clash(bank, form(other, room="GEWÄCHSHAUS"))
    assert clash(bank, form(other, sown_on=TODAY - timedelta(days=1))) == ""
    assert clash(bank, form(vial_id)) == ""
    sow(bank, form(other, knowingly=True))
    assert queries.rooms(bank) == ["Bench room", "Gewächshaus"]
    assert len(queries.sown_that_day(bank, "Bench room", TODAY)) == 2


def test_a_dose_coats_the_pots_as_the_settings_say(bank, vial_id):
    alive = queries.vial_row(bank, vial_id).share.middle
    # Our own choice of 5 live spores a cm²; 63.6 cm² is a round pot of 9 cm; 33.9 ng is the mean of 23 species
    # (Gómez-Noguez and others 2016, Flora 223: 99-105).
    expected = 10 * 63.6 * 5.0 / alive * 33.9 / 1000
    assert dose(bank, vial_id, 10) == pytest.approx(expected, abs=2)
    change_settings(bank, Settings(live_per_cm2=10.0))
    assert dose(bank, vial_id, 10) == pytest.approx(2 * expected, abs=4)


def test_dead_spore_is_not_heaped_on(bank):
    fridge(bank)
    done = stored(bank)
    counted(bank, done.batch_id, 0, 3_000)
    vial_id = done.vial_ids[0]
    assert queries.vial_row(bank, vial_id).share.middle < LEAST_ALIVE
    assert dose(bank, vial_id, 1) == pytest.approx(63.6 * 5 / LEAST_ALIVE * 33.9 / 1000, abs=1)


def test_no_dose_is_given_where_it_is_not_known_how_much_is_alive(bank):
    deep = add_place(bank, PlaceForm(PlaceKind.FREEZER, "Deep freezer", temperature=-80.0))
    vial_id = stored(bank, portions=(Portion(10_000, deep),)).vial_ids[0]
    assert queries.vial_row(bank, vial_id).share is None
    assert dose(bank, vial_id, 4) is None
    sow(bank, form(vial_id))
    assert queries.vial_row(bank, vial_id).left == 9_500


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(doses=st.lists(st.tuples(st.integers(1, 6), st.integers(1, 4_000)), max_size=6))
def test_sowing_never_takes_more_than_there_is(doses, tmp_path_factory):
    bank = new_bank(tmp_path_factory.mktemp("bank"))
    try:
        fridge(bank)
        vial_id = stored(bank).vial_ids[0]
        left, pots = 10_000, 0
        for count, micrograms in doses:
            if micrograms <= left:
                sow(bank, form(vial_id, pots=count, micrograms=micrograms))
                left, pots = left - micrograms, pots + count
            else:
                with pytest.raises(Refusal, match="is free in this vial"):
                    sow(bank, form(vial_id, pots=count, micrograms=micrograms))
            assert queries.vial_row(bank, vial_id).left == left
        assert sum(len(sowing.pots) for sowing in queries.sowings(bank)) == pots
    finally:
        bank.close()
