"""Papers of people are kept; what they gave and got is told; who is forgotten is forgotten in the whole file."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from sporebank.bank import queries, undo
from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.permits import Permit, PermitKind
from sporebank.core.records import Contact, PlaceKind
from sporebank.core.sharing import Filled
from sporebank.jobs import people, sharing
from sporebank.jobs.places import PlaceForm, add_place
from tests.builders import TODAY, asked, clone, fridge, stored

WHO = "Zoë Märtens"
SECRETS = ("Zoë", "Märtens", "12 Fen Lane", "zoe@example.org", "Storvann", "ring before noon", "77/2026", "zoë märtens")


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
    assert people.forget(bank, who) == f"Forgotten person {who}"
    assert found_in(bank) == []
    assert queries.contact(bank, who) == Contact(who, f"Forgotten person {who}")
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
    batch = stored(bank, note="Annual look; Ann came by.")
    ann = sharing.save_contact(bank, Contact(0, "Ann"))
    other = sharing.save_contact(bank, Contact(0, "Anna Lind", email="anna@example.org"))
    people.forget(bank, ann)
    assert queries.batch(bank, batch.batch_id).note == f"Annual look; Forgotten person {ann} came by."
    assert queries.contact(bank, other).name == "Anna Lind"


def test_the_history_is_only_appended_to_again_afterwards(bank, who):
    sent(bank, who)
    people.forget(bank, who)
    for sql in ("UPDATE event SET title = 'x'", "UPDATE entry SET after = '{}'", "UPDATE movement SET micrograms = 1"):
        with pytest.raises(Exception, match="is only appended to"):
            bank.database.execute_sql(sql)
    asked(bank, sharing.Wish(1, 1_000, taxon_id=1))
    add_place(bank, PlaceForm(PlaceKind.ROOM, "Shed"))
