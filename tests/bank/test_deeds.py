"""A deed is kept whole or not at all, is on record, and can be taken back and done again."""

import contextlib
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sporebank.bank import invariants, queries, undo
from sporebank.bank.sql import rows
from sporebank.bank.tables import Contact, Serial
from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Basis, Permission, Reason, SporeClass, VialFilter
from sporebank.core.sharing import Filled
from sporebank.jobs import clones, culling, sharing, sowing, store, vials
from sporebank.jobs.places import add_place, move_place, rename, set_conditions
from tests.builders import TODAY, PlaceForm, PlaceKind, asked, clone, counted, fridge, new_bank, sound, stored

#: Tables of which the content, not the growing record, is what undo gives back.
STATE = ("taxon", "contact", "clone", "batch", "place", "vial", "test", "replicate", "sowing", "pot", "request", "line")
HIDDEN = ("parcel", "packet")


def standing(bank):
    """Everything a keeper sees: live rows, ledgers and histories; ids and codes of taken-back rows left out."""
    seen = {table: rows(bank, f"SELECT * FROM {table} WHERE void = 0 ORDER BY id") for table in (*STATE, *HIDDEN)}
    ids = [row[0] for row in rows(bank, "SELECT id FROM vial WHERE void = 0 ORDER BY id")]
    seen["stays"] = queries.stays(bank, ids)
    seen["ledger"] = {
        one: [(line.on, line.micrograms, line.reason) for line in queries.ledger(bank, one) if not line.reversed]
        for one in ids
    }
    seen["settings"] = bank.settings
    return seen


def test_a_deed_that_fails_leaves_nothing(bank):
    heard = []
    bank.subscribe(heard.append)
    with pytest.raises(ZeroDivisionError), bank.change("Half a deed") as tx:
        tx.insert(Contact, name="Nobody")
        raise ZeroDivisionError
    assert queries.contacts(bank) == []
    assert queries.events(bank) == []
    assert heard == []


def test_the_file_says_no_in_a_sentence(bank):
    (box,) = fridge(bank)
    batch = stored(bank)
    with pytest.raises(Refusal, match="already holds a vial"), bank.change("Wrong") as tx:
        vials.write_stay(bank, tx, vials.Move(batch.vial_ids[0], box, 1), TODAY)
    with pytest.raises(Refusal, match="more out of a vial than is in it"), bank.change("Wrong") as tx:
        tx.move_spore(batch.vial_ids[0], on_day="2026-01-01", micrograms=-10_001, reason="loss", basis="weighed")


def test_listeners_hear_what_changed(bank):
    fridge(bank)
    heard = []
    bank.subscribe(heard.append)
    batch = stored(bank)
    assert heard[0].kinds == {"taxon", "clone", "batch", "vial", "movement", "stay", "label"}
    assert heard[0].ids["vial"] == set(batch.vial_ids)


def test_an_update_that_changes_nothing_is_not_a_change(bank):
    contact_id = asked_contact(bank)
    with bank.change("Nothing new") as tx:
        tx.update(Contact, contact_id, name="Ilse Brand")
    assert tx.changed().ids == {}


def test_what_has_been_taken_back_is_not_changed(bank):
    contact_id = asked_contact(bank)
    undo.undo(bank)
    with pytest.raises(Refusal, match="taken back meanwhile"), bank.change("Change a ghost") as tx:
        tx.update(Contact, contact_id, name="Ilse Brandt")
    assert undo.redo(bank) == "Add contact"
    assert [contact.name for contact in queries.contacts(bank)] == ["Ilse Brand"]


def asked_contact(bank):
    with bank.change("Add contact") as tx:
        return tx.insert(Contact, name="Ilse Brand")


def test_a_code_is_never_given_out_twice(bank):
    fridge(bank)
    first = stored(bank)
    undo.undo(bank)
    second = stored(bank)
    codes = {row[0] for row in rows(bank, "SELECT code FROM vial")}
    assert len(codes) == len(first.vial_ids) + len(second.vial_ids)


def deeds(bank, boxes):
    """One of every kind of deed, each as a function; later ones build on earlier ones."""
    (cold,) = (place.id for place, _, _ in queries.places(bank) if place.kind is PlaceKind.FRIDGE)
    batch = stored(bank)
    yield "store", lambda: stored(bank, "Athyrium filix-femina", clone=clone("A-01"))
    first, second, third = batch.vial_ids
    yield "take", lambda: vials.take(bank, vials.TakeForm(first, 2_000, Reason.SOWING, TODAY))
    yield "correct", lambda: vials.correct(bank, second, 12_500, TODAY, Basis.WEIGHED)
    yield "move", lambda: vials.move(bank, vials.free_moves(bank, [first, third], boxes[1]), TODAY)
    yield "note", lambda: vials.note(bank, [first, second], "smells of cellar")
    yield "test", lambda: counted(bank, batch.batch_id, 61)
    yield "sow", lambda: sowing.sow(bank, sowing.SowForm(first, "Bench room", TODAY, 4, 300))
    yield "place", lambda: add_place(bank, PlaceForm(PlaceKind.BOX, "Box 9", cold, rows=5, columns=5))
    yield "rename", lambda: rename(bank, boxes[0], "Old box")
    yield "conditions", lambda: set_conditions(bank, cold, 6.5, None, TODAY - timedelta(days=3))
    yield "move box", lambda: move_place(bank, boxes[1], None, TODAY)
    wish = sharing.Wish(2, 1_000, taxon_id=queries.vial_row(bank, first).taxon_id)
    request_id = asked(bank, wish)
    line = queries.request(bank, request_id).lines[0].id
    yield "fill", lambda: sharing.keep_fill(bank, request_id, {line: Filled((second, third), "")})
    yield "dispatch", lambda: sharing.dispatch(bank, request_id, TODAY)
    yield "close", lambda: sharing.close_request(bank, request_id)
    clone_id, taxon_id = queries.batch(bank, batch.batch_id).clone.id, wish.taxon_id
    offspring = clones.CloneForm("C-02", permission=Permission.ASK, parent="A-01", network_number="xx 1 A")
    yield "change clone", lambda: clones.change_clone(bank, clone_id, offspring)
    changed = store.BatchForm(collected=PartDate(2025), spore_class=SporeClass.GREEN, fronds=7)
    yield "change batch", lambda: clones.change_batch(bank, batch.batch_id, changed)
    correct = clones.TaxonForm("Dryopteris borreri", SporeClass.GREEN, old_name="Dryopteris affinis")
    yield "change name", lambda: clones.change_taxon(bank, taxon_id, correct)
    right = clones.TaxonForm("Athyrium filix-femina", SporeClass.UNKNOWN, verified=True)
    yield "join names", lambda: clones.change_taxon(bank, taxon_id, right)
    yield "cull", lambda: culling.cull(bank, [first, second], TODAY)


def test_a_code_that_a_swap_would_make_another_is_never_given_out(bank):
    serial = next(n for n in range(1, 10_000) if not codes.steady(codes.make("V", bank.tag, n)))
    with bank.change("Come near it") as tx:
        Serial.insert(kind="V", last=serial - 1).on_conflict_replace().execute(bank.database)
        given = tx.new_code("V")
    assert codes.parse(given, bank.tag).serial > serial
    assert codes.steady(given)


def test_every_kind_of_deed_is_taken_back_and_done_again(bank):
    boxes = fridge(bank, boxes=2)
    for name, deed in deeds(bank, boxes):
        before = standing(bank)
        deed()
        after = standing(bank)
        assert after != before, name
        for _ in range(2):
            undo.undo(bank)
            assert standing(bank) == before, f"undo of {name}"
            undo.redo(bank)
            assert standing(bank) == after, f"redo of {name}"
        sound(bank)


def test_all_deeds_are_taken_back_one_after_the_other(bank):
    boxes = fridge(bank, boxes=2)
    states, done = [], 0
    for _, deed in deeds(bank, boxes):
        states.append(standing(bank))
        deed()
        done += 1
    final = standing(bank)
    while done:
        title = undo.undo(bank)
        if states and standing(bank) == states[-1]:
            states.pop()
            done -= 1
        assert title
    assert not states
    while undo.stacks(bank)[1]:
        undo.redo(bank)
    assert standing(bank) == final


def test_a_new_deed_ends_what_could_be_done_again(bank):
    fridge(bank)
    stored(bank)
    undo.undo(bank)
    asked_contact(bank)
    with pytest.raises(Refusal, match="nothing to do again"):
        undo.redo(bank)
    assert undo.undo(bank) == "Add contact"


def test_undo_is_refused_when_the_row_has_been_written_by_another_hand(bank):
    fridge(bank)
    batch = stored(bank)
    vials.note(bank, [batch.vial_ids[0]], "first")
    bank.database.execute_sql("UPDATE vial SET note = 'other' WHERE id = ?", (batch.vial_ids[0],))
    with pytest.raises(Refusal, match="changed since"):
        undo.undo(bank)
    assert queries.vial_row(bank, batch.vial_ids[0]).note == "other"


def test_nothing_to_undo_is_said(bank):
    with pytest.raises(Refusal, match="nothing to undo"):
        undo.undo(bank)


def test_the_history_names_deeds_and_what_became_of_them(bank):
    fridge(bank)
    batch = stored(bank)
    undo.undo(bank)
    undo.redo(bank)
    again, back, first, *_ = queries.events(bank)
    assert first.title == "Store batch of Dryopteris affinis, 30 mg in 3 vials"
    assert back.title == f"Undone: {first.title}"
    assert again.title == f"Done again: {first.title}"
    assert not first.undone
    assert {event.id for event in queries.events_of_vial(bank, batch.vial_ids[0])} >= {first.id, again.id}
    assert queries.events(bank, "no such deed") == []


ACTIONS = st.sampled_from(["store", "take", "move", "note", "test", "cull", "undo", "undo", "redo"])


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(actions=st.lists(st.tuples(ACTIONS, st.integers(0, 10_000)), max_size=14))
def test_whatever_is_done_and_undone_the_bank_stays_sound(actions, tmp_path_factory):
    bank = new_bank(tmp_path_factory.mktemp("bank"))
    try:
        boxes = fridge(bank, boxes=2, rows=4, columns=4)
        for number, (action, pick) in enumerate(actions):
            perform(bank, boxes, action, pick, number)
            assert invariants.broken(bank) == []
    finally:
        bank.close()


def perform(bank, boxes, action, pick, number):
    ids = queries.vial_ids(bank, VialFilter(), "code", False)
    some = ids[pick % len(ids) :][:2] if ids else []
    work = {
        "store": lambda: stored(bank, clone=clone(f"H-{number}"), vials=1 + pick % 3),
        "take": lambda: vials.take(bank, vials.TakeForm(some[0], 1 + pick, Reason.LOSS, TODAY)),
        "move": lambda: vials.move(bank, vials.free_moves(bank, some, boxes[pick % 2]), TODAY),
        "note": lambda: vials.note(bank, some, f"note {pick}"),
        "test": lambda: counted(bank, queries.vial_row(bank, some[0]).batch_id, pick % 101),
        "cull": lambda: culling.cull(bank, some, TODAY),
        "undo": lambda: undo.undo(bank),
        "redo": lambda: undo.redo(bank),
    }[action]
    if some or action in ("store", "undo", "redo"):
        with contextlib.suppress(Refusal):
            work()
