"""A stocktake against a real bank: what is corrected is right the next time, and the protocol lists everything."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.bank import queries
from sporebank.bank import undo as bank_undo
from sporebank.core import codes, names, slots
from sporebank.core.errors import Refusal
from sporebank.core.records import VialFilter
from sporebank.core.stocktake import Corrected, Correction, Group, Heard, Spot, Stocktake, Way, choices, settled
from sporebank.documents.stocktake import render
from sporebank.jobs import stocktake
from tests.builders import TODAY, clone, fridge, new_bank, sound, stored
from tests.documents.examples import text_of

ROWS, COLUMNS = 2, 3
SIZE = ROWS * COLUMNS


def small_bank(folder: Path):
    """Return a bank of three boxes of six slots, of which the first two hold eight vials."""
    bank = new_bank(folder)
    boxes = fridge(bank, boxes=3, rows=ROWS, columns=COLUMNS)
    stored(bank, vials=5)
    stored(bank, "Osmunda regalis", clone=clone("C-02"), vials=3)
    return bank, boxes


def placed(bank):
    """Return where every vial is on record, by code."""
    ids = queries.vial_ids(bank, VialFilter(), "code", False)
    rows = queries.vials_by_id(bank, ids)
    spots = queries.spots(bank, ids)
    return {row.code: spots[row.id] for row in rows}


def go_through(bank, place_id, way, truth):
    """Scan what truly lies where, box by box, slot by slot, and return the stocktake and its lines."""
    taken = Stocktake(stocktake.plan(bank, place_id), way)
    for part in taken.plan.parts:
        if not part.size:
            continue
        taken.take(part.code)
        here = {slot: code for code, (box, slot) in truth.items() if box == part.place_id}
        for slot in range(part.size):
            if slot in here:
                taken.take(here[slot])
            elif way is Way.SLOTS:
                taken.step(1)
    return taken, stocktake.result(bank, taken)


def chosen(lines):
    """Return the corrections that a keeper takes who believes the scanner: what is proposed, and missing as missing."""
    answer = []
    for line in lines:
        correction = Correction.MISSING if line.group is Group.MISSING else choices(line)[0]
        if line.vial is not None and correction is not Correction.NONE:
            answer.append(Corrected(line.vial.vial_id, correction, line.found))
    return answer


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(list(Way)), st.permutations(range(3 * SIZE)), st.integers(0, 3), st.booleans())
def test_a_second_stocktake_right_after_the_corrections_finds_all_right(way, order, gone, one_box):
    with tempfile.TemporaryDirectory() as folder:
        bank, boxes = small_bank(Path(folder))
        scope = boxes[0] if one_box else None
        known = sorted(placed(bank))
        cells = [(boxes[cell // SIZE], cell % SIZE) for cell in order]
        truth = dict(zip(known[gone:], cells, strict=False))
        before = placed(bank)
        taken, lines = go_through(bank, scope, way, truth)
        wanted = settled(taken.plan, chosen(lines))
        if wanted:
            assert stocktake.correct(bank, taken.plan.title, wanted, bank.today()) == len(wanted)
        now = placed(bank)
        for one in wanted:
            if one.correction is Correction.MOVE:
                code = next(line.text for line in lines if line.vial and line.vial.vial_id == one.vial_id)
                assert now[code] == (one.spot.place_id, one.spot.slot)
        again, second = go_through(bank, scope, way, truth)
        assert {line.group for line in second} <= {Group.RIGHT}
        assert again.counts().right == sum(scope in (None, box) for box, _ in truth.values())
        sound(bank)
        if wanted:
            bank_undo.undo(bank)
            assert placed(bank) == before
        bank.close()


@pytest.fixture
def bank(tmp_path):
    made, made_boxes = small_bank(tmp_path)
    made.boxes = made_boxes
    yield made
    sound(made)
    made.close()


def test_a_vial_of_another_box_comes_into_the_slot_that_was_named(bank):
    first, second, _ = bank.boxes
    truth = placed(bank)
    moved = next(code for code, (box, _) in truth.items() if box == second)
    truth[moved] = (first, 5)
    taken, lines = go_through(bank, None, Way.ANY, truth)
    strange = next(line for line in lines if line.text == moved)
    assert (strange.group, strange.found) == (Group.WRONG, Spot(first))
    with pytest.raises(Refusal, match="has no free slot on record"):
        stocktake.correct(bank, "Fridge", [Corrected(strange.vial.vial_id, Correction.MOVE, Spot(first))], bank.today())
    missing = next(line.vial for line in lines if line.vial.spot == Spot(first, 2))
    leave = Corrected(missing.vial_id, Correction.MISSING)
    wanted = settled(taken.plan, [leave, Corrected(strange.vial.vial_id, Correction.MOVE, strange.found)])
    assert wanted[1].spot == Spot(first, 2)
    stocktake.correct(bank, "Fridge", wanted, bank.today())
    assert placed(bank)[moved] == (first, 2)
    protocol = stocktake.protocol(bank, taken, lines, {moved: wanted[1]}, written=True)
    done = next(line.done for line in protocol.lines if line.code == moved)
    assert done == "Moved to Potting shed / Fridge 1 / Box 1 / A3, the first free slot."


def test_a_slot_that_was_filled_since_is_refused(bank):
    first, second, _ = bank.boxes
    code, other = (
        next(c for c, (box, slot) in placed(bank).items() if (box, slot) == at) for at in ((second, 0), (first, 0))
    )
    ids = queries.vial_ids_of_codes(bank, [code])
    with pytest.raises(Refusal, match=f"{codes.grouped(other)} lies in A1 of"):
        stocktake.correct(bank, "Fridge", [Corrected(ids[code], Correction.MOVE, Spot(first, 0))], bank.today())


@pytest.mark.parametrize("written", [False, True])
def test_the_protocol_lists_every_vial_that_is_not_right(bank, written):
    _, second, third = bank.boxes
    truth = placed(bank)
    here, there = sorted(truth)[:2]
    truth[here], truth[there] = truth[there], truth[here]
    gone = [code for code, (box, _) in truth.items() if box == second][:1]
    for code in gone:
        del truth[code]
    foreign = codes.make("V", "000" if bank.tag != "000" else "001", 9)
    truth |= {foreign: (third, 1), codes.make("V", bank.tag, 99_999): (third, 2)}
    taken, lines = go_through(bank, None, Way.SLOTS, truth)
    wanted = {line.text: one for line in lines for one in settled(taken.plan, chosen([line]))}
    stocktake.correct(bank, taken.plan.title, list(wanted.values()), bank.today())
    protocol = stocktake.protocol(bank, taken, lines, wanted, written=written)
    text = text_of(render(protocol)).replace("\ufffe", "-")
    for said in ("Missing: 1", "In the wrong slot: 2", "Strangers: 2", f"{len(truth) - 4} of {len(truth) - 1} vials"):
        assert said in text, text
    paper = "".join(text.split())
    for line in lines:
        listed = codes.grouped(line.text) in text
        assert listed is (line.group is not Group.RIGHT), line
        if line.group is Group.WRONG:
            assert "".join(names.text(line.vial.name).split()) in paper
            assert slots.label(line.found.slot, COLUMNS) in text
    assert ("Noted as missing" in text) is written
    assert (text.count("Moved to") == 2) is written
    assert "another bank" in text
    assert str(TODAY.year) in text


@pytest.mark.parametrize("scope", ["whole bank", "fridge"])
def test_a_vial_found_loose_in_a_fridge_is_counted_there_and_moves_there(bank, scope):
    """A label of any place of the scope turns to it, though nothing should lie loose in it."""
    rooms = [place for place, _, _ in queries.places(bank) if not place.rows]
    taken = Stocktake(stocktake.plan(bank, None if scope == "whole bank" else rooms[-1].id))
    assert taken.plan.part(taken.at).size  # it begins in a box
    assert {part.place_id for part in taken.plan.parts} >= {rooms[-1].id}
    loose = taken.plan.vials[0].code
    assert taken.take(rooms[-1].code).heard is Heard.TURNED
    assert taken.take(loose).heard is Heard.WRONG
    wanted = settled(taken.plan, chosen(line for line in stocktake.result(bank, taken) if line.text == loose))
    stocktake.correct(bank, taken.plan.title, wanted, TODAY)
    assert placed(bank)[loose] == (rooms[-1].id, None)
    sound(bank)
    again = Stocktake(stocktake.plan(bank, rooms[-1].id))
    again.turn_to(rooms[-1].id)
    assert again.take(loose).heard is Heard.RIGHT


def test_a_bank_without_places_says_where_to_begin(tmp_path):
    empty = new_bank(tmp_path)
    with pytest.raises(Refusal, match="Add the first on Places"):
        stocktake.plan(empty, None)
    empty.close()
