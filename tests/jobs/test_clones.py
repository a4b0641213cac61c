"""What was stored can be set right: a clone, a batch, a name; in one deed, and back again."""

from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.core import names
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Basis, Cleaning, Permission, Source, SporeClass
from sporebank.jobs import undo
from sporebank.jobs.clones import CloneForm, TaxonForm, change_batch, change_clone, change_taxon
from sporebank.jobs.sharing import Wish, propose
from sporebank.jobs.store import BatchForm, look_up
from tests.builders import TODAY, asked, clone, counted, fridge, stored

RIGHT, WRONG = "Dryopteris affinis", "Dryopteris afinis"


@pytest.fixture
def batch(bank):
    fridge(bank)
    done = stored(bank, clone=clone("C-01", permission=Permission.UNKNOWN))
    return queries.batch(bank, done.batch_id)


def taxon_form(name, **more):
    return TaxonForm(**{"name": name, "spore_class": SporeClass.NON_GREEN, **more})


def refused(field, words, work):
    with pytest.raises(Refusal, match=words) as caught:
        work()
    assert caught.value.field == field


def shares(bank):
    return [row.share for row in queries.vials_by_id(bank, all_ids(bank))]


def all_ids(bank):
    return [row.id for batch in queries.batches(bank) for row in queries.batch_vials(bank, batch.id)]


# -- a clone


def test_everything_said_of_a_clone_can_be_changed(bank, batch):
    form = CloneForm(
        code=" R-7 ",
        source=Source.RECEIVED,
        origin="A bank above the ford",
        acquired=PartDate(2019, 5),
        acquired_from="Marit Olden",
        permission=Permission.ASK,
        permit_note="Letter of May",
        network_number="de 0 ULM 03-2855w",  # kept to the letter, small letters and all
        note="By the north wall",
        received_as="Lastrea affinis",
    )
    change_clone(bank, batch.clone.id, form)
    kept = queries.clone(bank, batch.clone.id)
    for name in vars(form):
        if name not in ("code", "parent"):
            assert getattr(kept, name) == getattr(form, name), name
    assert (kept.code, kept.parent_id) == ("R-7", None)
    assert queries.clone_by_code(bank, "C-01") is None
    assert queries.events(bank)[0].title == "Change clone R-7"
    undo.undo(bank)
    assert queries.clone(bank, batch.clone.id) == batch.clone


def test_once_the_donor_is_asked_the_permission_is_noted_and_the_spore_may_go(bank, batch):
    request_id = asked(bank, Wish(1, 1_000, taxon_id=batch.clone.taxon.id))
    (before,) = propose(bank, request_id).values()
    assert "ask the donor, then note it on the clone" in before.unmet
    assert not any(row.surplus for row in queries.batch_vials(bank, batch.id))
    change_clone(bank, batch.clone.id, CloneForm("C-01", permission=Permission.YES, permit_note="Said yes"))
    (after,) = propose(bank, request_id).values()
    assert len(after.vials) == 1
    assert all(row.surplus for row in queries.batch_vials(bank, batch.id))


def test_a_code_is_its_own_but_may_change_its_case(bank, batch):
    stored(bank, clone=clone("C-02"))
    refused("clone_code", "The code C-02 is taken", lambda: change_clone(bank, batch.clone.id, CloneForm("c-02")))
    refused("clone_code", "a code of your own", lambda: change_clone(bank, batch.clone.id, CloneForm(" ")))
    change_clone(bank, batch.clone.id, CloneForm("c-01"))
    assert queries.clone(bank, batch.clone.id).code == "c-01"


def test_a_clone_is_never_its_own_ancestor(bank, batch):
    for code, parent in (("C-02", "C-01"), ("C-03", "C-02")):
        stored(bank, clone=clone(code, parent=parent))
    for parent, words in (("c-01", "raised from itself"), ("C-02", "C-02, which was"), ("C-03", "C-03, which was")):
        refused(
            "parent", words, lambda parent=parent: change_clone(bank, batch.clone.id, CloneForm("C-01", parent=parent))
        )
    refused("parent", "no clone C-9", lambda: change_clone(bank, batch.clone.id, CloneForm("C-01", parent="C-9")))
    last = queries.clone_by_code(bank, "C-03")
    change_clone(bank, last.id, CloneForm("C-03", parent="C-01"))
    assert queries.raised_from(bank, last.id) == {last.id, batch.clone.id}


def test_a_clone_did_not_come_tomorrow(bank, batch):
    change_clone(bank, batch.clone.id, CloneForm("C-01", acquired=PartDate(TODAY.year)))
    later = CloneForm("C-01", acquired=PartDate(TODAY.year + 1))
    refused("acquired", "still to come", lambda: change_clone(bank, batch.clone.id, later))


def test_what_is_taken_back_is_not_changed(bank, batch):
    undo.undo(bank)
    refused(None, "taken back meanwhile", lambda: change_clone(bank, batch.clone.id, CloneForm("C-5")))
    refused(None, "taken back", lambda: change_batch(bank, batch.id, batch_form(note="x")))
    refused(None, "taken back", lambda: change_taxon(bank, batch.clone.taxon.id, taxon_form(RIGHT, verified=True)))


# -- a batch


def batch_form(**more):
    return BatchForm(**{"collected": PartDate(2025, 8, 14), "spore_class": SporeClass.NON_GREEN, **more})


def test_everything_said_of_a_batch_can_be_changed(bank, batch):
    form = batch_form(
        collected=PartDate(2024),
        fronds=12,
        cleaned_on=date(2024, 9, 1),
        cleaning=Cleaning.BOTH,
        screen_um=106,
        minutes=40,
        purity=71,
        purity_basis=Basis.CHAMBER,
        note="Two bags",
    )
    change_batch(bank, batch.id, form)
    kept = queries.batch(bank, batch.id)
    for name in vars(form):
        assert getattr(kept, name) == getattr(form, name), name
    assert (kept.code, kept.amount_said, kept.amount_basis) == (batch.code, batch.amount_said, batch.amount_basis)
    undo.undo(bank)
    assert queries.batch(bank, batch.id) == batch


def test_the_forecast_follows_the_day_and_the_class(bank, batch):
    before = shares(bank)
    change_batch(bank, batch.id, batch_form(collected=PartDate(2015, 8, 14)))
    older = shares(bank)
    assert all(old.middle < new.middle for old, new in zip(older, before, strict=True))
    change_batch(bank, batch.id, batch_form(spore_class=SporeClass.GREEN))
    assert all(green.middle < new.middle for green, new in zip(shares(bank), before, strict=True))
    undo.undo(bank)
    assert shares(bank) == older
    undo.undo(bank)
    assert shares(bank) == before


@pytest.mark.parametrize(
    ("field", "words", "more"),
    [
        ("collected", "stored on 20 Aug 2025", {"collected": PartDate(2025, 8, 21)}),
        ("collected", "stored on 20 Aug 2025", {"collected": PartDate(2025, 9)}),
        ("cleaned_on", "before it is collected", {"cleaned_on": date(2025, 8, 13)}),
        ("cleaned_on", "after the day it is stored", {"cleaned_on": date(2025, 8, 21)}),
        ("screen_um", "Which screen", {"cleaning": Cleaning.SCREENED}),
        ("purity", "between 0 and 100", {"purity": 101}),
    ],
)
def test_what_does_not_agree_is_refused_beside_its_field(bank, batch, field, words, more):
    refused(field, words, lambda: change_batch(bank, batch.id, batch_form(**more)))
    assert queries.batch(bank, batch.id) == batch


def test_spore_was_not_collected_after_it_was_tested(bank, batch):
    change_batch(bank, batch.id, batch_form(collected=PartDate(2025, 6)))
    counted(bank, batch.id, 50, on=date(2025, 7, 3))
    refused(
        "collected",
        "tested on 3 Jul 2025",
        lambda: change_batch(bank, batch.id, batch_form(collected=PartDate(2025, 7, 4))),
    )
    change_batch(bank, batch.id, batch_form(collected=PartDate(2025, 7)))


# -- a name


def test_what_is_noted_of_a_name_can_be_changed(bank, batch):
    form = taxon_form(RIGHT, spore_class=SporeClass.UNKNOWN, verified=True, old_name="lastrea  affinis", family="Other")
    assert change_taxon(bank, batch.clone.taxon.id, form) == batch.clone.taxon.id
    kept = queries.taxon(bank, batch.clone.taxon.id)
    assert (kept.verified, kept.old_name, kept.family) == (True, "Lastrea affinis", "Other")
    assert kept.spore_class is SporeClass.UNKNOWN
    assert queries.batch(bank, batch.id).spore_class is SporeClass.NON_GREEN  # each batch has its own
    assert queries.events(bank)[0].title == "Change what is noted of Dryopteris affinis"
    change_taxon(bank, kept.id, taxon_form(RIGHT))
    kept = queries.taxon(bank, kept.id)
    assert (kept.verified, kept.old_name, kept.family) == (False, "", "Dryopteridaceae")
    undo.undo(bank)
    undo.undo(bank)
    assert queries.taxon(bank, batch.clone.taxon.id) == batch.clone.taxon


def test_a_misspelt_name_is_written_anew_and_read_again(bank):
    fridge(bank)
    done = stored(bank, WRONG)
    taxon_id = queries.batch(bank, done.batch_id).clone.taxon.id
    assert change_taxon(bank, taxon_id, taxon_form(" dryopteris  affinis 'Cristata'", verified=True)) == taxon_id
    kept = queries.batch(bank, done.batch_id).clone.taxon
    assert (kept.name.cultivar, kept.verified) == ("Cristata", True)
    assert [names.text(one.name) for one in queries.taxa(bank)] == ["Dryopteris affinis 'Cristata'"]
    assert queries.vial_row(bank, done.vial_ids[0]).name == kept.name
    undo.undo(bank)
    assert [names.text(one.name) for one in queries.taxa(bank)] == [WRONG]


def test_family_and_caution_go_with_the_genus(bank):
    fridge(bank)
    done = stored(bank, "Nephrolepis exaltata")
    taxon = queries.batch(bank, done.batch_id).clone.taxon
    change_taxon(bank, taxon.id, taxon_form("Nephrolepis cordifolia"))
    kept = queries.taxon(bank, taxon.id)
    assert kept.invasive_note != taxon.invasive_note
    change_taxon(bank, taxon.id, taxon_form("Osmunda regalis"))
    assert queries.taxon(bank, taxon.id).family == "Osmundaceae"  # PPG I 2016: Osmunda L.


def test_a_wrong_name_joins_the_right_one_with_its_clones_and_wishes(bank, batch):
    done = stored(bank, WRONG, clone=clone("W-1"))
    wrong = queries.batch(bank, done.batch_id).clone.taxon
    request_id = asked(bank, Wish(1, 1_000, taxon_id=wrong.id))
    counted(bank, batch.id, 3, 300)
    before = queries.vial_row(bank, done.vial_ids[0]).share
    right = batch.clone.taxon.id
    assert change_taxon(bank, wrong.id, taxon_form(RIGHT, verified=True, old_name=WRONG)) == right
    assert [names.text(one.name) for one in queries.taxa(bank)] == [RIGHT]
    assert [one.code for one in queries.clones_of(bank, right)] == ["C-01", "W-1"]
    assert [line.taxon_id for line in queries.request(bank, request_id).lines] == [right]
    kept = queries.taxon(bank, right)
    assert (kept.verified, kept.old_name, kept.spore_class) == (True, WRONG, batch.clone.taxon.spore_class)
    assert look_up(bank, WRONG).taxon_id == right
    after = queries.vial_row(bank, done.vial_ids[0]).share
    assert after.middle < before.middle  # a sister batch that tested badly now tells of it
    assert queries.events(bank)[0].title == f"Join {WRONG} to {RIGHT}"
    undo.undo(bank)
    assert [names.text(one.name) for one in queries.taxa(bank)] == [RIGHT, WRONG]
    assert [one.code for one in queries.clones_of(bank, wrong.id)] == ["W-1"]
    assert queries.vial_row(bank, done.vial_ids[0]).share == before


def test_an_old_name_on_record_is_not_written_over(bank, batch):
    change_taxon(bank, batch.clone.taxon.id, taxon_form(RIGHT, old_name="Lastrea affinis", verified=True))
    wrong = queries.batch(bank, stored(bank, WRONG, clone=clone("W-1")).batch_id).clone.taxon
    change_taxon(bank, wrong.id, taxon_form(RIGHT, old_name=WRONG))
    kept = queries.taxon(bank, batch.clone.taxon.id)
    assert (kept.old_name, kept.verified) == ("Lastrea affinis", True)


@pytest.mark.parametrize(
    ("field", "words", "more"),
    [
        ("name", "Begin with the genus", {"name": " "}),
        ("name", "is not a name", {"name": "12"}),
        ("name", "the old name of Osmunda regalis", {"name": "Osmunda spectabilis"}),
        ("old_name", "the name itself", {"old_name": " dryopteris affinis "}),
        ("old_name", "quotes", {"old_name": "Athyrium Ghost"}),
    ],
)
def test_a_name_that_is_none_is_refused_beside_its_field(bank, batch, field, words, more):
    stored(bank, "Osmunda regalis", clone=clone("O-1"), old_name="Osmunda spectabilis")
    refused(field, words, lambda: change_taxon(bank, batch.clone.taxon.id, taxon_form(**{"name": RIGHT, **more})))


def test_a_name_may_go_back_to_its_own_old_one(bank, batch):
    taxon_id = batch.clone.taxon.id
    change_taxon(bank, taxon_id, taxon_form("Dryopteris borreri", old_name=RIGHT))
    change_taxon(bank, taxon_id, taxon_form(RIGHT, old_name="Dryopteris borreri"))
    assert names.text(queries.taxon(bank, taxon_id).name) == RIGHT
