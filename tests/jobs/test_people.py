"""Papers of people are kept; what they gave and got is told; who is forgotten is forgotten in the whole file."""

import sqlite3
import unicodedata
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from peewee import TextField

from sporebank.bank import invariants, queries, undo
from sporebank.bank.change import kind_of
from sporebank.bank.forgetting import FREE_TEXT
from sporebank.bank.sql import rows
from sporebank.bank.tables import ALL
from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.permits import Permit, PermitKind
from sporebank.core.records import Before, Contact, PlaceKind
from sporebank.core.sharing import Filled
from sporebank.jobs import parcel_checks, people, sharing
from sporebank.jobs.places import PlaceForm, add_place, rename
from sporebank.jobs.settings import change_settings
from tests.builders import TODAY, asked, clone, fridge, stored

WHO = "Zoë Märtens"
SECRETS = ("Zoë", "Märtens", "12 Fen Lane", "zoe@example.org", "Storvann", "ring before noon", "77/2026", "zoë märtens")


#: The texts of the bank where nobody's name is looked for: codes, days, the program's words, names of ferns ...
LEFT_ALONE = {
    "meta": "key value", "setting": "value", "serial": "kind", "event": "at kind", "entry": "kind before after",
    "taxon": "name sort_key family spore_class old_name invasive_note",
    "contact": "name organisation address country email note donor_code forgotten_on",
    "clone": "code sort_key source acquired permission network_number country",
    "batch": "code collected cleaned_on cleaning purity_basis amount_basis spore_class before",
    "place": "code kind path_key", "vial": "code culled_on", "movement": "on_day reason basis", "stay": "since",
    "mishap": "on_day kind", "test": "sown_on counted_on", "sowing": "code sown_on", "pot": "code",
    "request": "received_on state", "parcel": "code dispatched_on closed_on fate fate_on", "packet": "code",
    "keeping": "what", "layout": "name kind value", "sheet": "name value", "printer": "name",
    "printing": "on_day layout sheet", "label": "kind", "look": "on_day what",
    "exchange": "name shape state opens closes ships rules", "giving": "held", "donation": "received_on", "pin": "kind",
    "permit": "kind expires", "heed": "caution", "credit": "on_day", "outcome": "on_day", "complaint": "on_day kind",
    "receipt": "parcel checksum received_on", "alias": "kind code",
    "outlook": "on_day state crosses_earliest crosses crosses_latest next_test tested unsettled", "figure": "advice",
}  # fmt: skip


@pytest.fixture
def who(bank):
    """Somebody who gave a clone, and got a packet of it; return their id."""
    fridge(bank)
    contact = Contact(0, WHO, "Storvann garden", "12 Fen Lane", "NO", "zoe@example.org", "ring before noon")
    contact_id = sharing.save_contact(bank, replace(contact, address="an older place"))
    sharing.save_contact(bank, replace(contact, id=contact_id))
    people.save_permit(
        bank, Permit(0, contact_id, PermitKind.IMPORT, "77/2026", date(2026, 12, 1), 4, "zoë märtens signed")
    )
    batch = stored(bank, clone=clone("D-1", acquired_from=f"{WHO}, 2024"), note=f"a gift of {WHO.upper()}.")
    wish = sharing.Wish(2, 1_000, clone_id=queries.batch(bank, batch.batch_id).clone.id)
    request_id = sharing.add_request(bank, sharing.RequestForm(contact_id, TODAY, (wish,), f"for {WHO}"))
    line = queries.request(bank, request_id).lines[0].id
    sharing.keep_fill(bank, request_id, {line: Filled(batch.vial_ids[:2], "")})
    return contact_id


def sent(bank, who):
    (request,) = queries.requests(bank)
    sharing.dispatch(bank, request.id, TODAY)
    return request.id


def whole_file(bank):
    """Return every byte of the bank file and of what SQLite keeps beside it."""
    return b"".join(path.read_bytes() for path in sorted(Path(bank.path).parent.glob("*.sporebank*")) if path.is_file())


def found_in(bank):
    raw = whole_file(bank)
    ways = {word: (word.encode(), word.encode("unicode-escape")) for word in SECRETS}
    return [word for word, forms in ways.items() if any(form in raw for form in forms)]


def test_a_paper_is_kept_changed_and_taken_off_the_record(bank, who):
    (permit,) = queries.permits_of(bank, who)
    assert permit.words() == "import permit 77/2026, until 1 Dec 2026, 4 labels left"
    people.save_permit(bank, replace(permit, labels_left=3, expires=None))
    people.save_permit(bank, Permit(0, who, PermitKind.AGREEMENT, "A-1", date(2026, 4, 1)))
    assert [one.number for one in queries.permits_of(bank, who)] == ["A-1", "77/2026"]
    people.drop_permit(bank, permit)
    assert [one.number for one in queries.permits_of(bank, who)] == ["A-1"]
    undo.undo(bank)
    assert len(queries.permits_of(bank, who)) == 2


@pytest.mark.parametrize(("field", "wrong"), [("number", {"number": " "}), ("labels_left", {"labels_left": -1})])
def test_a_paper_that_cannot_be_is_refused(bank, who, field, wrong):
    with pytest.raises(Refusal) as caught:
        people.save_permit(bank, replace(Permit(0, who, PermitKind.OTHER, "1"), **wrong))
    assert caught.value.field == field


def test_what_somebody_got_is_told_by_year(bank, who):
    assert queries.passed(bank, who) == []
    sent(bank, who)
    (one,) = queries.passed(bank, who)
    assert (one.year, one.gave, names.text(one.name), one.packets) == (2026, False, "Dryopteris affinis", 2)


def test_who_waits_for_a_parcel_is_not_forgotten(bank, who):
    with pytest.raises(Refusal, match="neither sent nor closed"):
        people.forget(bank, who)


def test_nothing_personal_is_left_in_the_file_and_the_trail_of_spore_stays(bank, who):
    request_id = sent(bank, who)
    assert len(found_in(bank)) == len(SECRETS)
    given = queries.passed(bank, who)
    assert people.forget(bank, who) == (
        f"They are forgotten. What they gave and got, and their country, stand under “Forgotten person {who}”."
    )
    assert found_in(bank) == []
    assert queries.contact(bank, who) == Contact(who, f"Forgotten person {who}", country="NO")
    assert queries.contacts(bank) == []
    assert queries.permits_of(bank, who) == []
    assert queries.passed(bank, who) == given
    request = queries.request(bank, request_id)
    assert (request.contact.name, request.note) == (f"Forgotten person {who}", f"for Forgotten person {who}")
    batch = queries.batch(bank, 1)
    assert (batch.clone.acquired_from, batch.note) == (
        f"Forgotten person {who}, 2024", f"a gift of Forgotten person {who}.",
    )  # fmt: skip
    titles = [event.title for event in queries.events(bank)]
    assert titles[0] == f"Forget a person, from now on Forgotten person {who}"
    assert f"Add contact Forgotten person {who}" in titles


def test_forgetting_is_not_taken_back_and_taking_back_earlier_deeds_brings_nothing_back(bank, who):
    sent(bank, who)
    before, _ = undo.stacks(bank)
    people.forget(bank, who)
    assert undo.stacks(bank)[0] == [(event, title.replace(WHO, f"Forgotten person {who}")) for event, title in before]
    for _ in before:
        undo.undo(bank)
        assert found_in(bank) == []
    with pytest.raises(Refusal, match="nothing to undo"):
        undo.undo(bank)
    for _ in before:
        undo.redo(bank)
        assert found_in(bank) == []
    assert queries.contact(bank, who).name == f"Forgotten person {who}"
    assert queries.contact(bank, who).address == ""


def test_others_and_words_that_only_hold_the_name_stay(bank):
    fridge(bank)
    batch = stored(bank, note="Annika looked; Anni came by, and Jo.")
    ann = sharing.save_contact(bank, Contact(0, "Anni"))
    jo = sharing.save_contact(bank, Contact(0, "Jo"))
    other = sharing.save_contact(bank, Contact(0, "Anna Lind", email="anna@example.org"))
    people.forget(bank, ann)
    people.forget(bank, jo)  # too short a word to be looked for in what others wrote
    assert queries.batch(bank, batch.batch_id).note == f"Annika looked; Forgotten person {ann} came by, and Jo."
    assert queries.contact(bank, other).name == "Anna Lind"


def test_the_history_is_only_appended_to_again_afterwards(bank, who):
    sent(bank, who)
    people.forget(bank, who)
    for sql in ("UPDATE event SET title = 'x'", "UPDATE entry SET after = '{}'", "UPDATE movement SET micrograms = 1"):
        with pytest.raises(Exception, match="is only appended to"):
            bank.database.execute_sql(sql)
    asked(bank, sharing.Wish(1, 1_000, taxon_id=1))
    add_place(bank, PlaceForm(PlaceKind.ROOM, "Shed"))


def test_every_text_of_the_bank_is_searched_for_a_name_or_left_alone_on_purpose():
    texts = {
        kind_of(table): {one.name for one in table._meta.sorted_fields if isinstance(one, TextField)} for table in ALL
    }
    for table, columns in texts.items():
        searched, alone = set(FREE_TEXT.get(table, ())), set(LEFT_ALONE.get(table, "").split())
        assert searched | alone == columns, table
        assert not searched & alone, table
    assert FREE_TEXT.keys() | LEFT_ALONE.keys() <= texts.keys()


def test_words_of_the_program_stay_whatever_somebody_is_called(bank):
    fridge(bank)
    batch = stored(bank, before=Before.UNKNOWN)
    for word in {value for row in rows(bank, 'SELECT "before", cleaning, amount_basis FROM batch') for value in row}:
        people.forget(bank, sharing.save_contact(bank, Contact(0, word)))
    assert queries.batch(bank, batch.batch_id).before is Before.UNKNOWN


def test_every_name_they_ever_had_goes_however_it_is_written_and_every_deed_is_still_taken_back(bank, who):
    now = "Zoë Storvann-Lind"
    sharing.save_contact(bank, Contact(who, now, country="NO", email="lind@example.org"))
    room = add_place(bank, PlaceForm(PlaceKind.ROOM, "Shed 2"))
    add_place(bank, PlaceForm(PlaceKind.ROOM, "Corner", room))
    rename(bank, room, f"{WHO} 2")
    loose = unicodedata.normalize("NFD", WHO).replace(" ", "\n ")
    stored(bank, "Osmunda regalis", clone=clone("D-2", note=f"{now} grew it"), note=f"{loose}; lind@example.org")
    sent(bank, who)
    before, _ = undo.stacks(bank)
    people.forget(bank, who)
    new = f"Forgotten person {who}"
    batch = queries.batch(bank, 2)
    assert (batch.clone.note, batch.note) == (f"{new} grew it", f"{new}; {new}")
    (outer, key), (inner, inner_key) = rows(bank, "SELECT path, path_key FROM place WHERE id >= ? ORDER BY id", room)
    assert (outer, inner) == (f"{new} 2", f"{new} 2 / Corner")
    assert inner_key == f"{key}\tcorner"
    assert (found_in(bank), invariants.broken(bank)) == ([], [])
    for again in (undo.undo, undo.redo):
        for _ in before:
            again(bank)
        assert (found_in(bank), invariants.broken(bank)) == ([], [])
    assert queries.permits_of(bank, who) == []


def test_the_number_of_a_paper_goes_with_the_cautions_that_it_answered(bank, who):
    change_settings(bank, replace(bank.settings, country="NL"))
    people.save_permit(bank, replace(queries.permits_of(bank, who)[0], expires=date(2026, 1, 1)))
    (request,) = queries.requests(bank)
    for check in parcel_checks.checks(bank, queries.request(bank, request.id)):
        parcel_checks.answer(bank, request.id, check.caution.key, "77/2026 was shown")
    sent(bank, who)
    people.forget(bank, who)
    assert found_in(bank) == []
    assert {note for (note,) in rows(bank, "SELECT note FROM heed")} == {""}


def test_who_reads_the_file_meanwhile_is_told_of(bank, who):
    """SQLite's `wal_checkpoint` returns busy while somebody reads (sqlite.org/pragma.html#pragma_wal_checkpoint)."""
    sent(bank, who)
    with closing(sqlite3.connect(bank.path)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT * FROM contact").fetchall()
        assert "Another program still reads this bank" in people.forget(bank, who)
