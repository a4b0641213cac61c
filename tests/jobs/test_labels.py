"""Labels that wait, print runs, and how undo takes both back."""

from collections import Counter
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.records import Contact
from sporebank.core.sharing import Filled
from sporebank.formats.label_sheets import sheet_by_id
from sporebank.jobs import culling, label_records, labels, sharing, undo
from sporebank.jobs.sowing import SowForm, sow
from sporebank.jobs.store import Portion
from tests.builders import TODAY, asked, clone, fridge, new_bank, sound, stored

SHEET = sheet_by_id("a4-5x13")


def run(ids, kind=Kind.VIAL, **more):
    return labels.Run(**{"kind": kind, "ids": tuple(ids), "layout": "vial-35", "sheet": SHEET, **more})


def codes(bank, kind, ids):
    return [label.code for label in label_records.gather(bank, kind, ids)]


def test_what_is_stored_and_sown_waits_and_undo_takes_it_back(bank):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    assert labels.waiting(bank) == {Kind.VIAL: vial_ids}
    sowing_id = sow(bank, SowForm(vial_ids[0], "Bench room", TODAY, 4, 500))
    assert labels.waiting_count(bank) == 7
    pots = labels.waiting(bank)[Kind.POT_ALONG]
    assert tuple(codes(bank, Kind.POT_ALONG, pots)) == queries.sowing(bank, sowing_id).pots
    undo.undo(bank)
    undo.undo(bank)
    assert labels.waiting(bank) == {}
    undo.redo(bank)
    assert labels.waiting(bank) == {Kind.VIAL: vial_ids}


def test_what_is_printed_waits_no_longer_until_the_print_is_taken_back(bank):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    run_id = labels.put_on_record(bank, run(vial_ids[:2], first_cell=3))
    assert labels.waiting(bank) == {Kind.VIAL: vial_ids[2:]}
    (kept,) = labels.runs(bank)
    assert (kept.id, kept.on, kept.kind, kept.count, kept.layout) == (run_id, TODAY, "vial", 2, "vial-35")
    assert (kept.sheet, kept.first_cell, kept.next_cell) == ("a4-5x13", 3, 5)
    undo.undo(bank)
    assert labels.waiting(bank) == {Kind.VIAL: vial_ids}
    assert labels.runs(bank) == []


def test_a_cap_dot_is_a_label_too(bank):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    labels.put_on_record(bank, run(vial_ids, kind=Kind.CAP))
    assert labels.waiting(bank) == {}
    assert labels.runs(bank)[0].kind == "cap"


def test_a_run_is_printed_again_with_the_same_codes(bank):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    labels.put_on_record(bank, run(vial_ids, copies=2))
    first = label_records.gather(bank, Kind.VIAL, vial_ids)
    (kept,) = labels.runs(bank)
    assert kept.copies == 2
    again = labels.of_run(bank, kept)
    assert label_records.gather(bank, Kind.VIAL, again) == first
    labels.put_on_record(bank, run(again))
    assert [one.count for one in labels.runs(bank)] == [3, 3]
    assert labels.waiting(bank) == {}


def test_of_a_run_only_what_may_still_carry_a_label_is_printed_again(bank):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    labels.put_on_record(bank, run(vial_ids))
    culling.cull(bank, [vial_ids[1]], TODAY, {vial_ids[1]: "Broken"})
    (kept,) = labels.runs(bank)
    assert kept.count == 3
    assert labels.of_run(bank, kept) == (vial_ids[0], vial_ids[2])


def packets(bank, request_id):
    return [one.id for line in queries.request(bank, request_id).lines for one in line.filled]


def test_the_packets_of_a_parcel_wait_until_they_are_printed_given_up_or_taken_back(bank):
    fridge(bank)
    done = stored(bank)
    labels.forget(bank, Kind.VIAL, done.vial_ids)
    clone_id = queries.batch(bank, done.batch_id).clone.id
    request_id = asked(bank, sharing.Wish(3, 2_000, clone_id=clone_id))
    (line,) = queries.request(bank, request_id).lines
    sharing.keep_fill(bank, request_id, {line.id: Filled((done.vial_ids[0],) * 3, "")})
    first = packets(bank, request_id)
    assert labels.waiting(bank) == {Kind.PACKET: tuple(first)}
    labels.put_on_record(bank, run(first, kind=Kind.PACKET, layout="packet-48"))
    sharing.keep_fill(bank, request_id, {line.id: Filled((*done.vial_ids[:2], done.vial_ids[0]), "")})
    kept, new = set(packets(bank, request_id)) & set(first), set(packets(bank, request_id)) - set(first)
    assert (len(kept), len(new)) == (2, 1)
    assert labels.waiting(bank) == {Kind.PACKET: tuple(new)}
    undo.undo(bank)
    assert (packets(bank, request_id), labels.waiting(bank)) == (first, {})
    undo.redo(bank)
    sharing.close_request(bank, request_id)
    assert labels.waiting(bank) == {}
    assert labels.reading.waiting_rows(bank, ["packet"]) == {}
    undo.undo(bank)
    assert labels.waiting(bank) == {Kind.PACKET: tuple(new)}
    sharing.dispatch(bank, request_id, TODAY)
    assert labels.waiting(bank) == {}
    sound(bank)


def test_the_next_print_begins_where_the_last_of_its_sheet_ended(bank):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    labels.put_on_record(bank, run(vial_ids, first_cell=60, copies=2))
    labels.put_on_record(bank, run(vial_ids, sheet=sheet_by_id("a4-4x12"), first_cell=45))
    assert labels.reading.next_cells(bank) == {"a4-5x13": 1, "a4-4x12": 0}


def test_what_is_culled_meanwhile_needs_no_label(bank):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    culling.cull(bank, [vial_ids[0]], TODAY, {vial_ids[0]: "Broken"})
    assert labels.waiting(bank) == {Kind.VIAL: vial_ids[1:]}


def test_waiting_labels_come_place_by_place(bank):
    fridge(bank, boxes=2)
    near = stored(bank).vial_ids
    loose = stored(bank, "Osmunda regalis", clone=clone("C-02"), portions=(Portion(4_000),)).vial_ids
    later = stored(bank, "Asplenium scolopendrium", clone=clone("C-03")).vial_ids
    assert labels.waiting(bank)[Kind.VIAL] == (*near, *later, *loose)


def test_a_label_may_be_taken_off_the_list(bank):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    labels.forget(bank, Kind.VIAL, vial_ids[:1])
    assert labels.waiting(bank) == {Kind.VIAL: vial_ids[1:]}
    undo.undo(bank)
    assert labels.waiting(bank) == {Kind.VIAL: vial_ids}


def test_nothing_printed_is_no_run(bank):
    with pytest.raises(Refusal, match="no labels"):
        labels.put_on_record(bank, run(()))


def test_every_kind_of_thing_may_wait(bank):
    box = fridge(bank)[0]
    done = stored(bank)
    taxon_id = queries.batch(bank, done.batch_id).clone.taxon.id
    request_id = asked(bank, sharing.Wish(2, 2_000, taxon_id=taxon_id))
    sharing.keep_fill(bank, request_id, sharing.propose(bank, request_id))
    contact = sharing.save_contact(bank, Contact(0, "Odile Marchbank", address="Mill Lane"))
    for kind, ids in (
        (Kind.PACKET, packets(bank, request_id)),
        (Kind.BAG, [done.batch_id]),
        (Kind.BOX, [box]),
        (Kind.ADDRESS, [contact]),
        (Kind.PARCEL, [request_id]),
    ):
        labels.ask_for(bank, kind, ids)
        assert labels.waiting(bank)[kind] == tuple(ids)
        assert len(label_records.gather(bank, kind, ids)) == len(ids)
    sharing.dispatch(bank, request_id, TODAY)
    assert Kind.PACKET not in labels.waiting(bank)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.sampled_from(["ask", "print", "forget", "undo", "redo"]), st.sets(st.integers(0, 5)))))
def test_nothing_waits_twice_whatever_is_done(tmp_path_factory, deeds):
    bank = new_bank(tmp_path_factory.mktemp("bank"))
    fridge(bank)
    vial_ids = stored(bank, vials=6).vial_ids
    for deed, chosen in deeds:
        ids = [vial_ids[place] for place in chosen]
        steps = undo.next_steps(bank)
        if deed == "ask":
            labels.ask_for(bank, Kind.VIAL, [*ids, *ids])
        elif deed == "print" and ids:
            labels.put_on_record(bank, run(ids))
            assert not set(ids) & set(labels.waiting(bank).get(Kind.VIAL, ()))
        elif deed == "forget":
            labels.forget(bank, Kind.VIAL, ids)
        elif deed == "undo" and not steps.undo.startswith("Store"):
            undo.undo(bank)
        elif deed == "redo" and steps.redo:
            undo.redo(bank)
        sql = "SELECT target_id FROM label WHERE printing_id IS NULL AND void = 0"
        waits = [row[0] for row in bank.database.execute_sql(sql)]
        assert len(waits) == len(set(waits))
        assert set(labels.waiting(bank).get(Kind.VIAL, ())) == set(waits)
    sound(bank)
    bank.close()


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(st.lists(st.integers(0, 2), max_size=6), st.booleans(), st.booleans()), max_size=5))
def test_a_packet_waits_until_its_own_label_is_printed_however_often_it_is_filled_anew(tmp_path_factory, fillings):
    """Packets are as chosen after each filling; those that were there before are the same ones, label and all."""
    bank = new_bank(tmp_path_factory.mktemp("bank"))
    fridge(bank)
    done = stored(bank, each=100_000)
    labels.forget(bank, Kind.VIAL, done.vial_ids)
    request_id = asked(bank, sharing.Wish(6, 1_000, clone_id=queries.batch(bank, done.batch_id).clone.id))
    (line,) = queries.request(bank, request_id).lines
    printed = set()
    for places, prints, again in fillings:
        before = {one.id: one.vial_id for one in queries.request(bank, request_id).lines[0].filled}
        chosen = [done.vial_ids[place] for place in places]
        sharing.keep_fill(bank, request_id, {line.id: Filled(tuple(chosen), "")})
        if again:
            undo.undo(bank)
            assert {one.id: one.vial_id for one in queries.request(bank, request_id).lines[0].filled} == before
            undo.redo(bank)
        after = {one.id: one.vial_id for one in queries.request(bank, request_id).lines[0].filled}
        assert Counter(after.values()) == Counter(chosen)
        assert len(after.keys() & before.keys()) == (Counter(before.values()) & Counter(chosen)).total()
        waiting = labels.waiting(bank).get(Kind.PACKET, ())
        assert set(waiting) == after.keys() - printed
        if prints and waiting:
            labels.put_on_record(bank, run(waiting, kind=Kind.PACKET, layout="packet-48"))
            printed |= set(waiting)
    sound(bank)
    bank.close()


def test_a_run_keeps_the_day_it_was_printed(bank, clock):
    fridge(bank)
    vial_ids = stored(bank).vial_ids
    clock.day = date(2026, 5, 2)
    labels.put_on_record(bank, run(vial_ids))
    assert labels.runs(bank)[0].on == date(2026, 5, 2)
