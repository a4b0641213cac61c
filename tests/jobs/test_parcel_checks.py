"""A parcel goes once every caution that it raises is answered; one-use labels count down with it."""

from datetime import date

import pytest

from sporebank.bank import queries, undo
from sporebank.bank.tables import Permit as PermitTable
from sporebank.core.errors import Refusal
from sporebank.core.permits import PermitKind
from sporebank.core.records import SporeClass
from sporebank.core.settings import Settings
from sporebank.jobs import parcel_checks, sharing
from sporebank.jobs.settings import change_settings
from tests.builders import TODAY, asked, clone, fridge, stored


@pytest.fixture
def request_id(bank):
    """A parcel of tree fern spore that goes abroad, to somebody with a permit of two labels."""
    change_settings(bank, Settings(country="NO"))
    fridge(bank)
    batch = stored(bank, "Alsophila dealbata", spore_class=SporeClass.NON_GREEN, clone=clone("T-1"))
    wish = sharing.Wish(1, 1_000, clone_id=queries.batch(bank, batch.batch_id).clone.id)
    made = asked(bank, wish, on=date(2026, 3, 10))
    with bank.change("A permit") as tx:
        tx.insert(
            PermitTable, contact_id=queries.request(bank, made).contact.id, kind=PermitKind.IMPORT.value,
            number="12/3", expires="2026-12-31", labels_left=2,
        )  # fmt: skip
    sharing.keep_fill(bank, made, sharing.propose(bank, made))
    return made


def keys(bank, request_id):
    return [one.caution.key for one in parcel_checks.checks(bank, queries.request(bank, request_id)) if not one.answer]


def labels(bank, request_id):
    (permit,) = queries.permits_of(bank, queries.request(bank, request_id).contact.id)
    return permit.labels_left


def test_a_parcel_waits_until_every_caution_is_answered(bank, request_id):
    with pytest.raises(
        Refusal, match="2 cautions of this parcel must be answered first: Alsophila dealbata: protected"
    ):
        sharing.dispatch(bank, request_id, TODAY)
    for key in keys(bank, request_id):
        parcel_checks.answer(bank, request_id, key, " Asked the office on 2 March: none needed ")
    assert keys(bank, request_id) == []
    request = queries.request(bank, request_id)
    assert parcel_checks.papers(bank, request) == (
        "Alsophila dealbata: protected: Asked the office on 2 March: none needed",
        "Plant health, Netherlands: Asked the office on 2 March: none needed",
    )
    sharing.dispatch(bank, request_id, TODAY)
    assert labels(bank, request_id) == 1
    undo.undo(bank)
    assert labels(bank, request_id) == 2
    undo.redo(bank)
    assert labels(bank, request_id) == 1
    assert len(parcel_checks.checks(bank, queries.request(bank, request_id))) == 2


def test_an_answer_can_be_written_anew_and_taken_back(bank, request_id):
    key = keys(bank, request_id)[0]
    parcel_checks.answer(bank, request_id, key, "first")
    parcel_checks.answer(bank, request_id, key, "second")
    parcel_id = queries.request(bank, request_id).parcel_id
    assert {note for _, note in queries.heeds(bank, parcel_id).values()} == {"second"}
    undo.undo(bank)
    undo.undo(bank)
    assert key in keys(bank, request_id)


@pytest.mark.parametrize(("key", "note"), [("protected:Alsophila dealbata", "  "), ("access:TW", "a note")])
def test_nothing_is_waved_through_in_silence(bank, request_id, key, note):
    with pytest.raises(Refusal) as caught:
        parcel_checks.answer(bank, request_id, key, note)
    assert caught.value.field == "note"


def test_a_parcel_that_went_is_answered_no_more(bank, request_id):
    for key in keys(bank, request_id):
        parcel_checks.answer(bank, request_id, key, "asked")
    sharing.dispatch(bank, request_id, date(2026, 3, 12))
    with pytest.raises(Refusal, match="has been dispatched"):
        parcel_checks.answer(bank, request_id, "protected:Alsophila dealbata", "more")


def test_at_home_no_label_is_used(bank, request_id):
    change_settings(bank, Settings(country="NL"))
    assert keys(bank, request_id) == []
    sharing.dispatch(bank, request_id, TODAY)
    assert labels(bank, request_id) == 2
