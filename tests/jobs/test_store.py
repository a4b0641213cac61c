"""Storing a batch: name, clone, batch, vials and places in one deed; what is wrong stands beside its field."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.bank.sql import rows
from sporebank.core import codes
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Basis, Cleaning, Permission, Reason, Source, SporeClass, State
from sporebank.jobs.store import NewClone, Portion, check, look_up, propose_places, store_batch
from tests.builders import TODAY, batch_form, clone, fridge, new_bank, stored

#: Four-part numbers as botanic gardens write them, odd ones among them; kept to the letter whatever they hold.
NETWORK = ("XX-0-GLASG-1998/0417", "de 0 ULM 03-2855w", "JP-0-KYOTO-2007-112/a ")


def test_a_batch_keeps_everything_on_the_form(bank):
    fridge(bank)
    form = batch_form(
        bank,
        "Polystichum setiferum Divisilobum Group",
        clone=clone(
            "R-07",
            source=Source.RECEIVED,
            origin="A packet in the winter round",
            acquired=PartDate(2021),
            acquired_from="Marit Olden",
            permission=Permission.ASK,
            permit_note="Letter in the blue folder",
        ),
        collected=PartDate(2025, 8),
        fronds=12,
        cleaned_on=date(2025, 8, 18),
        cleaning=Cleaning.BOTH,
        screen_um=106,
        minutes=25,
        purity=95,
        purity_basis=Basis.CHAMBER,
        amount_basis=Basis.VOLUME,
        amount_said="60 mm³",
        note="Picked in rain",
    )
    batch = queries.batch(bank, store_batch(bank, form).batch_id)
    for name in ("collected", "fronds", "cleaned_on", "cleaning", "screen_um", "minutes", "purity", "purity_basis"):
        assert getattr(batch, name) == getattr(form, name), name
    for name in ("amount_basis", "amount_said", "spore_class", "note"):
        assert getattr(batch, name) == getattr(form, name), name
    for name in ("code", "source", "origin", "acquired", "acquired_from", "permission", "permit_note"):
        assert getattr(batch.clone, name) == getattr(form.clone, name), name
    assert batch.clone.taxon.family == "Dryopteridaceae"  # PPG I 2016: Polystichum Roth


def test_a_clone_demands_its_code_alone(bank):
    fridge(bank)
    done = stored(bank, clone=NewClone("C-1"))
    made = queries.batch(bank, done.batch_id).clone
    assert (made.code, made.source, made.permission) == ("C-1", Source.UNKNOWN, Permission.UNKNOWN)


def test_the_vials_carry_codes_amounts_and_places(bank):
    (box,) = fridge(bank)
    done = store_batch(bank, batch_form(bank, portions=(Portion(3_000, box, 4), Portion(1), Portion(14_200, box, 2))))
    shown = queries.vials_by_id(bank, done.vial_ids)
    assert [row.left for row in shown] == [3_000, 1, 14_200]
    inside = "Potting shed / Fridge 1 / Box 1 / "
    assert [row.place for row in shown] == [f"{inside}A5", "", f"{inside}A3"]
    for row in shown:
        code = codes.parse(row.code, bank.tag)
        assert (code.kind, queries.vial_id_of_code(bank, code.text)) == ("V", row.id)
    assert codes.parse(done.batch, bank.tag).kind == "B"
    assert [line.reason for line in queries.ledger(bank, done.vial_ids[0])] == [Reason.STORED]


def test_places_are_proposed_from_the_next_free_slot_and_from_the_box_in_hand(bank):
    first, second = fridge(bank, boxes=2, rows=2, columns=2)
    stored(bank)
    assert propose_places(bank, 3) == [(first, 3), (second, 0), (second, 1)]
    assert propose_places(bank, 2, near=second) == [(second, 0), (second, 1)]
    assert len(propose_places(bank, 50)) == 5


def test_a_taken_slot_is_refused_beside_the_places(bank):
    (box,) = fridge(bank)
    stored(bank)
    for portions in (
        (Portion(1_000, box, 0),),
        (Portion(1_000, box, 7), Portion(1_000, box, 7)),
        (Portion(1_000, box, 81),),
        (Portion(1_000, box, -1),),
    ):
        refused(bank, "places", clone=clone("C-02"), portions=portions)


def refused(bank, field, name="Dryopteris affinis", **more):
    """Nothing is kept, and the sentence stands beside its field."""
    before = rows(bank, "SELECT COUNT(*) FROM event")
    with pytest.raises(Refusal) as caught:
        store_batch(bank, batch_form(bank, name, **more))
    assert caught.value.field == field
    assert str(caught.value)[-1] in ".?"
    assert rows(bank, "SELECT COUNT(*) FROM event") == before


@pytest.mark.parametrize(
    ("field", "more"),
    [
        ("taxon", {"name": ""}),
        ("taxon", {"name": "Dryopteris affinis x filix-mas"}),
        ("clone_code", {"clone": NewClone("  ")}),
        ("parent", {"clone": NewClone("C-2", parent="no such")}),
        ("old_name", {"old_name": "?"}),
        ("collected", {"collected": PartDate(2025, 9)}),
        ("stored_on", {"stored_on": TODAY + timedelta(days=1)}),
        ("cleaned_on", {"cleaned_on": date(2025, 8, 13)}),
        ("cleaned_on", {"cleaned_on": date(2025, 8, 21)}),
        ("screen_um", {"cleaning": Cleaning.SCREENED}),
        ("screen_um", {"cleaning": Cleaning.BOTH, "screen_um": 4}),
        ("fronds", {"fronds": -1}),
        ("minutes", {"minutes": 10_001}),
        ("purity", {"purity": 101}),
        ("vials", {"portions": ()}),
        ("amount", {"portions": (Portion(1_000), Portion(0))}),
    ],
)
def test_nonsense_is_refused_beside_its_field(bank, field, more):
    fridge(bank)
    refused(bank, field, **more)


def test_all_that_is_wrong_is_told_at_once(bank):
    form = batch_form(bank, "9", clone=NewClone(""), collected=PartDate(2026), purity=200, portions=())
    assert [field for field, _ in check(bank, form)] == ["taxon", "clone_code", "collected", "purity", "vials"]


def test_a_clone_code_is_given_once_whatever_its_case(bank):
    fridge(bank)
    stored(bank, clone=clone("k-9"))
    refused(bank, "clone_code", clone=clone("K-9 "))


def test_a_second_batch_of_a_clone_goes_under_it(bank):
    fridge(bank)
    first = stored(bank)
    clone_id = queries.batch(bank, first.batch_id).clone.id
    second = stored(bank, clone=clone_id, collected=PartDate(2024))
    assert queries.batch(bank, second.batch_id).clone.id == clone_id
    assert len(queries.clone_codes(bank)) == 1


def test_a_batch_of_another_name_does_not_go_under_a_clone(bank):
    fridge(bank)
    clone_id = queries.batch(bank, stored(bank).batch_id).clone.id
    refused(bank, "taxon", "Osmunda regalis", clone=clone_id)


@pytest.mark.parametrize("number", NETWORK)
def test_a_network_number_goes_to_the_letter_through_all_offspring(bank, number):
    fridge(bank)
    stored(bank, clone=clone("P-1", network_number=number))
    stored(bank, clone=clone("P-2", parent="p-1"))
    grandchild = stored(bank, clone=clone("P-3", parent=" P-2 "))
    made = queries.batch(bank, grandchild.batch_id).clone
    assert made.network_number == number
    assert made.parent_id == queries.clone_by_code(bank, "P-2").id


def test_an_old_name_leads_to_the_accepted_one(bank):
    fridge(bank)
    stored(bank, "Struthiopteris spicant", old_name="blechnum  spicant (L.) Sm.")
    found = look_up(bank, "Blechnum spicant")
    assert found.text == "Struthiopteris spicant"
    assert "old name" in found.remarks[0]
    second = stored(bank, "Blechnum spicant", clone=clone("C-02"))
    made = queries.batch(bank, second.batch_id).clone
    assert made.taxon.id == found.taxon_id
    assert (made.taxon.old_name, made.received_as) == ("Blechnum spicant", "Blechnum spicant")
    assert len(queries.taxa(bank)) == 1


def test_the_name_as_received_stands_beside_the_accepted(bank):
    fridge(bank)
    done = stored(bank, "Dryopteris affinis (Lowe) Fraser-Jenk.")
    made = queries.batch(bank, done.batch_id).clone
    assert made.received_as == "Dryopteris affinis (Lowe) Fraser-Jenk."
    assert queries.taxa(bank)[0].name.authorship == ""
    other = stored(bank, clone=clone("C-02"), received_as="D. pseudomas")
    assert queries.batch(bank, other.batch_id).clone.received_as == "D. pseudomas"


def test_a_new_name_is_unverified_until_the_keeper_says_otherwise(bank):
    fridge(bank)
    done = stored(bank)
    assert not queries.vial_row(bank, done.vial_ids[0]).verified
    assert any("unverified" in remark for remark in look_up(bank, "Osmunda regalis").remarks)
    assert not any("unverified" in remark for remark in look_up(bank, "Dryopteris affinis").remarks)
    stored(bank, clone=clone("C-02"))
    assert not queries.vial_row(bank, done.vial_ids[0]).verified
    stored(bank, clone=clone("C-03"), verified=True)
    assert queries.vial_row(bank, done.vial_ids[0]).verified


def test_a_name_of_the_bank_stays_itself_where_it_is_the_old_name_of_another_too(bank):
    fridge(bank)
    first = stored(bank, "Dryopteris borreri")
    stored(bank, "Dryopteris affinis", clone=clone("C-02"), old_name="Dryopteris borreri")
    found = look_up(bank, "Dryopteris borreri")
    assert found.text == "Dryopteris borreri"
    assert found.remarks == ("The bank has this name, and also as the old name of Dryopteris affinis.",)
    more = stored(bank, "Dryopteris borreri", clone=queries.batch(bank, first.batch_id).clone.id)
    assert queries.batch(bank, more.batch_id).clone.code == "C-01"


def test_no_name_is_its_own_old_name(bank):
    form = batch_form(bank, "dryopteris  affinis", old_name="Dryopteris affinis")
    assert [field for field, _ in check(bank, form)] == ["old_name"]


def test_a_name_that_would_not_be_read_again_is_never_kept(bank):
    ((field, sentence),) = check(bank, batch_form(bank, "Dryopteris (Foo Group) affinis subsp. cv"))
    assert field == "taxon"
    assert "two ways" in sentence


def test_a_known_name_takes_its_old_name_once_it_is_told(bank):
    fridge(bank)
    stored(bank, "Struthiopteris spicant")
    stored(bank, "Struthiopteris spicant", clone=clone("C-02"), old_name="Blechnum spicant")
    stored(bank, "Struthiopteris spicant", clone=clone("C-03"), old_name="Lomaria spicant")
    assert [taxon.old_name for taxon in queries.taxa(bank)] == ["Blechnum spicant"]


def test_a_misspelt_genus_is_guessed_and_an_unknown_one_let_through(bank):
    fridge(bank)
    assert "Dryopteris" in " ".join(look_up(bank, "Driopteris affinis").remarks)
    stored(bank, "Novogenus mirus")
    assert queries.taxa(bank)[0].family == ""


def test_the_spore_class_is_proposed_from_the_genus_and_overridden(bank):
    fridge(bank)
    # Osmundaceae are green-spored: Stokey 1951, American Fern Journal 41(4).
    assert look_up(bank, "Osmunda regalis").spore_class is SporeClass.GREEN
    assert look_up(bank, "Dryopteris affinis").spore_class is SporeClass.NON_GREEN
    stored(bank, "Osmunda regalis", spore_class=SporeClass.UNKNOWN)
    again = look_up(bank, "Osmunda regalis")
    assert again.spore_class is SporeClass.UNKNOWN
    assert "this bank" in again.class_reason


def test_an_invasive_taxon_gets_its_note(bank):
    fridge(bank)
    # Lygodium japonicum: Commission Implementing Regulation (EU) 2019/1262 (the name from memory).
    stored(bank, "Lygodium japonicum", spore_class=SporeClass.UNKNOWN)
    stored(bank, clone=clone("C-02"))
    notes = {taxon.name.genus: taxon.invasive_note for taxon in queries.taxa(bank)}
    assert "seal and bin, do not compost" in notes["Lygodium"].lower()
    assert notes["Dryopteris"] == ""
    assert any("Invasive" in remark for remark in look_up(bank, "Lygodium japonicum").remarks)


def test_figures_are_there_as_soon_as_it_is_stored(bank):
    fridge(bank)
    row = queries.vial_row(bank, stored(bank).vial_ids[0])
    assert row.state is State.ALIVE
    assert 0 < row.share.low < row.share.middle < row.share.high < 1
    assert row.crosses > TODAY


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(portions=st.lists(st.tuples(st.integers(1, 10**9), st.booleans()), min_size=1, max_size=12))
def test_nothing_is_lost_between_the_form_and_the_vials(portions, tmp_path_factory):
    bank = new_bank(tmp_path_factory.mktemp("bank"))
    try:
        (box,) = fridge(bank, rows=3, columns=4)
        parts = [Portion(ug, box, slot) if put else Portion(ug) for slot, (ug, put) in enumerate(portions)]
        done = store_batch(bank, batch_form(bank, portions=tuple(parts)))
        shown = queries.vials_by_id(bank, done.vial_ids)
        assert [row.left for row in shown] == [ug for ug, _ in portions]
        assert [bool(row.place) for row in shown] == [put for _, put in portions]
    finally:
        bank.close()
