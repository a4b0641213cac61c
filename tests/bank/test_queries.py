"""Finding, sorting and paging vials, against the same done by hand over all rows."""

from datetime import timedelta
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.bank.sql import past, rows
from sporebank.core import codes, names
from sporebank.core.dates import PartDate
from sporebank.core.records import Permission, PlaceKind, Reason, State, VialFilter
from sporebank.core.settings import Settings
from sporebank.core.sorting import natural
from sporebank.jobs import culling, figures, undo, vials
from sporebank.jobs.places import PlaceForm, add_place
from tests.builders import TODAY, clone, counted, fridge, new_bank, stored

KEYS = ("code", "taxon", "clone", "batch", "collected", "place", "left", "alive", "state", "crosses", "note")
NAMES = (
    "Dryopteris affinis",
    "Adiantum capillus-veneris 'Ωραία Πτέρις'",
    "Athyrium filix-femina",
    "Dryopteris × complexa",
    "Struthiopteris spicant",
    "Polystichum setiferum Divisilobum Group",
)


@pytest.fixture(scope="module")
def full(tmp_path_factory):
    """A bank of many kinds of vials, only read from."""
    bank = new_bank(tmp_path_factory.mktemp("full"))
    boxes = fridge(bank, boxes=11, rows=1, columns=3)
    deep = add_place(bank, PlaceForm(PlaceKind.FREEZER, "Äußerste Truhe", temperature=-80.0))
    days = (PartDate(2025, 8, 14), PartDate(2019), PartDate(2019, 8), PartDate(2022, 3, 1), PartDate(2023, 5))
    for number in range(12):
        batch = stored(
            bank,
            NAMES[number % 6],
            clone=clone(f"K-{number + 3}", permission=(Permission.YES, Permission.ASK)[number % 2]),
            collected=days[number % 5],
            each=(10_000, 4_000, 250_000)[number % 3],
            received_as="100% pure_bred!" if number == 7 else "",
            old_name="Blechnum spicant" if number == 4 else "",
        )
        if number % 3 == 0:
            counted(bank, batch.batch_id, (95, 40, 3, 20)[number // 3])
        if number % 4 == 1:
            vials.note(bank, batch.vial_ids[:1], f"smells of cellar, 5_{number}")
    ids = queries.vial_ids(bank, VialFilter(), "code", False)
    vials.move(bank, [vials.Move(one, deep) for one in ids[5:8]], TODAY)
    vials.take(
        bank, vials.TakeForm(ids[9], 10_000 if queries.vial_row(bank, ids[9]).left >= 10_000 else 1, Reason.LOSS, TODAY)
    )
    culling.cull(bank, ids[20:22], TODAY)
    stored(bank, "Osmunda regalis", clone=clone("gone"))
    undo.undo(bank)
    assert len(boxes) == 11
    yield bank
    bank.close()


def everything(bank):
    return queries.vials(bank, VialFilter(), "code", False, 0, 10_000)


def found(bank, text, **more):
    return {row.id for row in queries.vials(bank, VialFilter(text=text, **more), "code", False, 0, 10_000)}


def clones_found(bank, text):
    return {row.clone for row in queries.vials(bank, VialFilter(text=text), "code", False, 0, 10_000)}


def test_a_whole_table_has_every_vial_in_the_bank_once(full):
    rows = everything(full)
    assert len(rows) == len({row.id for row in rows}) == 12 * 3 - 2
    assert all(row.culled_on is None for row in rows)
    assert queries.vial_counts(full, VialFilter()).vials == len(rows)


def test_a_code_is_found_with_and_without_hyphens_and_in_any_case(full):
    row = everything(full)[7]
    for text in (row.code, codes.grouped(row.code), row.code.lower(), codes.grouped(row.code).lower()):
        assert found(full, text) == {row.id}
    same_batch = {one.id for one in everything(full) if one.batch == row.batch}
    assert found(full, codes.grouped(row.batch)) == same_batch


def test_a_name_is_found_by_any_part_in_any_case(full):
    assert clones_found(full, "dryo") == {"K-3", "K-6", "K-9", "K-12"}
    assert clones_found(full, "AFFINIS dry") == {"K-3", "K-9"}
    assert clones_found(full, "divisil") == {"K-8", "K-14"}
    assert clones_found(full, "no such fern") == set()


@pytest.mark.parametrize("text", ["Ωραία", "ωραία", "ΠΤΈΡΙΣ", "Πτέρις"])
def test_a_greek_cultivar_is_found_in_any_case(full, text):
    assert clones_found(full, text) == {"K-4", "K-10"}


@pytest.mark.parametrize("text", ["Äußerste", "äuß"])
def test_a_place_with_an_umlaut_is_found_in_any_case(full, text):
    assert found(full, text) == {row.id for row in everything(full) if row.place == "Äußerste Truhe"} != set()


def test_an_old_name_and_the_name_as_received_are_found(full):
    assert clones_found(full, "blechnum") == {"K-7", "K-13"}
    assert clones_found(full, "pure_bred") == {"K-10"}


def test_signs_of_the_pattern_language_are_taken_as_they_are(full):
    assert clones_found(full, "100%") == {"K-10"}
    assert clones_found(full, "bred!") == {"K-10"}
    assert clones_found(full, "1%0") == set()
    assert clones_found(full, "affin_s") == set()
    assert {row.note for row in everything(full) if row.id in found(full, "5_")} == {
        f"smells of cellar, 5_{number}" for number in (1, 5, 9)
    }


def test_places_and_notes_are_found(full):
    inside = {row.id for row in everything(full) if "Box 7" in row.place}
    assert inside < found(full, "box 7")  # the 7 alone stands in many a code
    assert found(full, "shed fridge box") == {row.id for row in everything(full) if "Box" in row.place}
    assert {row.note[:6] for row in everything(full) if row.id in found(full, "CELLAR")} == {"smells"}


#: What a column sorts by, told by the row alone; None stands last whichever way.
BY_HAND = {
    "code": lambda row: row.code,
    "taxon": lambda row: names.sort_key(row.name),
    "clone": lambda row: natural(row.clone),
    "batch": lambda row: row.batch,
    "collected": lambda row: row.collected.iso(),
    "place": lambda row: row.place_key if row.place else None,
    "left": lambda row: row.left,
    "alive": lambda row: row.share and row.share.middle,
    "state": lambda row: row.state.value,
    "crosses": lambda row: row.crosses,
    "note": lambda row: row.note,
}


@pytest.mark.parametrize(("key", "descending"), list(product(KEYS, (False, True))))
def test_every_column_sorts_right_both_ways_with_nothing_last(full, key, descending):
    rows = queries.vials(full, VialFilter(), key, descending, 0, 10_000)
    by = BY_HAND[key]
    known = sorted((row for row in everything(full) if by(row) is not None), key=lambda row: (by(row), row.code))
    unknown = sorted((row for row in everything(full) if by(row) is None), key=lambda row: row.code)
    if descending:
        known.reverse()
        unknown.reverse()
    assert [row.id for row in rows] == [row.id for row in (*known, *unknown)]
    assert queries.vial_ids(full, VialFilter(), key, descending) == [row.id for row in rows]


def test_every_column_has_something_to_sort(full):
    for key, by in BY_HAND.items():
        assert len({by(row) for row in everything(full)}) > 1, key
    assert {None} < {row.crosses for row in everything(full)}
    assert "" in {row.place for row in queries.vials_by_id(full, range(1, 40))}


def test_numbers_in_codes_and_places_sort_as_numbers(full):
    clones = [row.clone for row in queries.vials(full, VialFilter(), "clone", False, 0, 10_000)]
    assert clones.index("K-9") < clones.index("K-10")
    places = [row.place for row in queries.vials(full, VialFilter(), "place", False, 0, 10_000)]
    boxes = [place.split(" / ")[2] for place in places if "Box" in place]
    assert boxes.index("Box 9") < boxes.index("Box 10")


FILTERS = st.builds(
    VialFilter,
    text=st.sampled_from(["", "dryo", "box 1", "cellar", "K-1 affinis", "Ωραία", "blechnum", "%"]),
    state=st.sampled_from([None, *State]),
    place_id=st.sampled_from([None, 1, 2, 3, 5, 14, 999]),
    year=st.sampled_from([None, 2019, 2022, 2025, 1999]),
    surplus=st.booleans(),
    taxon_id=st.sampled_from([None, None, 1, 2, 999]),
    clone_id=st.sampled_from([None, None, 1, 5]),
    batch_id=st.sampled_from([None, None, 1, 5]),
)


def lets_through(bank, wanted, row):
    """The filter by hand."""
    clone_of = queries.clone(bank, row.clone_id)
    words = (row.code, row.batch, row.place, row.note, row.clone, names.text(row.name))
    haystack = [word.casefold() for word in (*words, clone_of.taxon.old_name, clone_of.received_as)]
    inside = {wanted.place_id} if wanted.place_id is None else set(queries.subtree(bank, wanted.place_id))
    where = {vial.id for place_id in inside - {None} for _, vial in queries.box_vials(bank, place_id)}
    return (
        all(any(word.casefold() in text for text in haystack) for word in wanted.text.split())
        and wanted.state in (None, row.state)
        and (wanted.place_id is None or row.id in where)
        and wanted.year in (None, row.collected.year)
        and (row.surplus or not wanted.surplus)
        and wanted.taxon_id in (None, row.taxon_id)
        and wanted.clone_id in (None, row.clone_id)
        and wanted.batch_id in (None, row.batch_id)
    )


@settings(max_examples=150, deadline=None)
@given(wanted=FILTERS, key=st.sampled_from(KEYS), descending=st.booleans())
def test_filters_together_let_through_what_each_does(full, wanted, key, descending):
    expected = {row.id for row in everything(full) if lets_through(full, wanted, row)}
    rows = queries.vials(full, wanted, key, descending, 0, 10_000)
    assert {row.id for row in rows} == expected
    counts = queries.vial_counts(full, wanted)
    assert counts.vials == len(rows)
    assert (counts.clones, counts.taxa) == (len({row.clone_id for row in rows}), len({row.taxon_id for row in rows}))
    assert counts.fading == sum(row.state is State.FADING for row in rows)
    assert counts.spent == sum(row.state is State.SPENT for row in rows)


@settings(max_examples=60, deadline=None)
@given(size=st.integers(1, 40), key=st.sampled_from(KEYS), descending=st.booleans(), text=st.sampled_from(["", "dryo"]))
def test_pages_are_the_whole_cut_in_pieces(full, size, key, descending, text):
    wanted = VialFilter(text=text)
    whole = queries.vials(full, wanted, key, descending, 0, 10_000)
    pages = [queries.vials(full, wanted, key, descending, start, size) for start in range(0, len(whole) + size, size)]
    assert [row for page in pages for row in page] == whole


def test_a_remembered_order_is_dropped_after_a_deed_and_after_figures(bank, clock):
    fridge(bank)
    first = stored(bank)
    assert len(queries.vials(bank, VialFilter(), "left", False, 0, 100)) == 3
    second = stored(bank, clone=clone("C-02"), each=2_000)
    assert [row.id for row in queries.vials(bank, VialFilter(), "left", False, 0, 100)] == [
        *second.vial_ids,
        *first.vial_ids,
    ]
    vials.take(bank, vials.TakeForm(first.vial_ids[2], 9_999, Reason.LOSS, TODAY))
    assert queries.vial_ids(bank, VialFilter(), "left", False)[0] == first.vial_ids[2]
    undo.undo(bank)
    assert queries.vial_ids(bank, VialFilter(), "left", False)[-1] == first.vial_ids[2]
    counted(bank, first.batch_id, 1, 300)
    assert queries.vial_ids(bank, VialFilter(state=State.SPENT), "code", False) == list(first.vial_ids)
    clock.day = TODAY + timedelta(days=1)


def test_a_vial_culled_or_taken_back_is_in_no_list(bank):
    fridge(bank)
    kept = stored(bank)
    culling.cull(bank, kept.vial_ids[:1], TODAY)
    gone = stored(bank, clone=clone("C-02"))
    undo.undo(bank)
    assert queries.vial_ids(bank, VialFilter(), "code", False) == list(kept.vial_ids[1:])
    assert [row.id for row in queries.batch_vials(bank, kept.batch_id)] == list(kept.vial_ids[1:])
    assert queries.vial_id_of_code(bank, queries.vials_by_id(bank, gone.vial_ids)[0].code) is None
    assert queries.batches(bank, "C-02") == []
    assert queries.clone_by_code(bank, "C-02") is None


def test_batches_and_names_are_found_by_words(full):
    assert {batch.clone.code for batch in queries.batches(full, "dryo k-1")} == {"K-12"}
    batch = queries.batches(full)[0]
    assert queries.batches(full, codes.grouped(batch.code)) == [batch]
    assert [names.text(taxon.name) for taxon in queries.taxa(full, "BLECH")] == ["Struthiopteris spicant"]
    assert queries.taxa(full, "100%") == []
    assert [names.text(taxon.name) for taxon in queries.taxa(full, "ωραία")] == [NAMES[1]]


def test_years_are_those_of_the_spore(full):
    assert queries.vial_years(full) == [2025, 2023, 2022, 2019]


def test_what_is_past_viability_is_found_by_its_index_at_every_setting_and_without_it_too(bank):
    """Whatever chance is asked for, the same vials as looking at each."""
    fridge(bank)
    for number, germinated in enumerate((2, 30, 90)):
        made = stored(bank, clone=clone(f"P-{number}"), collected=PartDate(2019))
        counted(bank, made.batch_id, germinated)
    figures.refresh_all(bank)
    chances = dict(rows(bank, "SELECT vial_id, chance_below FROM figure JOIN outlook ON outlook.id = outlook_id"))
    for chance in (0.0, 0.2, Settings().cull_chance, 0.5, 0.999):
        found = [one.vial.id for one in queries.past_viability(bank, chance)]
        assert sorted(found) == sorted(vial_id for vial_id, below in chances.items() if below >= chance), chance
        assert queries.cull_count(bank, chance) == len(found)
    assert 0 < queries.cull_count(bank, 0.5) < len(chances)
    (plan, *_) = rows(bank, f"EXPLAIN QUERY PLAN SELECT id FROM outlook WHERE {past(0.5)}", 0.5)
    assert "outlook_below" in plan[3]
