"""A parcel that one bank sends comes into another with its provenance, its tests and its amounts, once."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from sporebank.bank import queries, undo
from sporebank.core import codes, names
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.naming import parse
from sporebank.core.papers import Counted, Kept, Manifest
from sporebank.core.receiving import before
from sporebank.core.records import Before, Permission, Replicate, Source
from sporebank.core.sharing import Filled
from sporebank.formats.manifest_json import read_manifest, write_manifest
from sporebank.jobs import papers, sharing
from sporebank.jobs.receiving import Known, preview, read_file, take_in
from sporebank.jobs.scanning import own_code
from sporebank.jobs.testing import TestForm, record_test
from tests.builders import TODAY, asked, clone, counted, fridge, new_bank, sound, stored
from tests.documents.examples import manifest as example


@pytest.fixture
def sender(tmp_path, clock):
    """Another bank."""
    folder = tmp_path / "there"
    folder.mkdir()
    opened = new_bank(folder, "Alder Carr spore bank", clock)
    opened.tag = "K7F"
    yield opened
    sound(opened)
    opened.close()


@pytest.fixture
def sent(sender):
    """A parcel of three packets out of two batches, as its manifest tells it."""
    fridge(sender)
    wild = clone(
        "W-07", source=Source.WILD, origin="Cliff above the mill, 240 m", country="NO",
        permit_note="Consent 12/2019", network_number="NO-1-ABCDE-2019/13w", permission=Permission.ASK,
    )  # fmt: skip
    first = stored(sender, "Dryopteris affinis", clone=wild, collected=PartDate(2025, 8))
    second = stored(sender, "Osmunda regalis", clone=clone("G-1"))
    counted(sender, first.batch_id, 81, 90, date(2025, 11, 3))
    alone = first.vial_ids[1]
    counts = (Replicate(50, 44), Replicate(50, 41))
    record_test(sender, TestForm(first.batch_id, alone, date(2026, 1, 4), date(2026, 2, 1), counts))
    ids = [queries.batch(sender, one.batch_id).clone.id for one in (first, second)]
    request_id = asked(sender, sharing.Wish(2, 1_500, clone_id=ids[0]), sharing.Wish(1, 2_000, clone_id=ids[1]))
    lines = [line.id for line in queries.request(sender, request_id).lines]
    chosen = {lines[0]: Filled((first.vial_ids[0], alone), ""), lines[1]: Filled(second.vial_ids[:1], "")}
    sharing.keep_fill(sender, request_id, chosen)
    return read_manifest(write_manifest(papers.manifest(sender, request_id, TODAY)))


def vials_of(bank, ids):
    return {row.id: row for row in queries.vials_by_id(bank, ids)}


def test_a_parcel_of_another_bank_keeps_its_provenance_and_its_tests(bank, sender, sent):
    box = fridge(bank, boxes=2)[1]
    vial_ids = take_in(bank, sent, box)
    rows = vials_of(bank, vial_ids)
    assert [rows[one].left for one in vial_ids] == [item.micrograms for item in sent.items]
    assert [rows[one].place[-10:] for one in vial_ids] == ["Box 2 / A1", "Box 2 / A2", "Box 2 / A3"]
    assert {codes.parse(row.code, bank.tag).kind for row in rows.values()} == {"V"}
    for item, vial_id in zip(sent.items, vial_ids, strict=True):
        batch = queries.batch(bank, rows[vial_id].batch_id)
        here = batch.clone
        assert (names.text(here.taxon.name), batch.collected) == (names.text(item.name), item.collected)
        assert (here.origin, here.country, here.permit_note) == (item.origin, item.country, item.permit)
        assert (here.network_number, here.permission) == (item.network_number, item.permission)
        assert (here.source, here.acquired_from) == (Source.RECEIVED, sender.name)
        assert (batch.spore_class, batch.before) == (item.spore_class, Before.FRIDGE)
        assert queries.met_before(bank, "K7F", "vial", item.code) == vial_id
        assert queries.met_before(bank, "K7F", "batch", item.batch) == batch.id
        assert queries.codes_elsewhere(bank, "clone", here.id) == [(item.clone, sender.name)]
        counts = {
            (test.sown_on, test.counted_on, tuple((one.germinated, one.sown) for one in test.replicates))
            for test, _ in queries.tests_of(bank, [batch.id])[batch.id]
            if test.vial_id in (None, vial_id)
        }
        assert counts == {(test.sown_on, test.counted_on, test.counts) for test in item.tests}
    wild = queries.batch(bank, rows[vial_ids[0]].batch_id)
    assert wild.clone.note == "Where it came from: wild."
    assert codes.grouped(sent.items[0].batch) in wild.note
    assert "Lay there at 4 °C from 20 Aug 2025." in wild.note
    assert rows[vial_ids[0]].batch_id == rows[vial_ids[1]].batch_id


def test_the_labels_it_came_with_find_what_it_became_here(bank, sender, sent):
    assert own_code(bank, sent.items[0].code) == ""
    rows = vials_of(bank, take_in(bank, sent))
    for vial_id, item in zip(rows, sent.items, strict=True):
        assert own_code(bank, codes.grouped(item.code)) == rows[vial_id].code
        assert own_code(bank, item.batch) == rows[vial_id].batch
    assert own_code(bank, sent.parcel) == own_code(bank, rows[1].code) == own_code(bank, "no code") == ""


def test_how_alive_it_is_comes_out_as_it_was_there(bank, sent):
    """The same tests and nearly the same storage: the figures of two banks agree within a few points."""
    fridge(bank)
    rows = vials_of(bank, vial_ids := take_in(bank, sent))
    for item, vial_id in zip(sent.items, vial_ids, strict=True):
        assert rows[vial_id].share.middle == pytest.approx(item.share.middle, abs=0.05)


def test_nothing_is_taken_in_twice_until_it_is_taken_back(bank, sent):
    take_in(bank, sent)
    with pytest.raises(Refusal, match="was taken in on 14 Mar 2026 already"):
        take_in(bank, sent)
    again = replace(sent, recipient="Somebody else")  # another file of the same parcel
    assert "already" in preview(bank, again).refusal
    undo.undo(bank)
    assert queries.met_before(bank, "K7F", "clone", "W-07") is None
    assert preview(bank, sent).ready
    undo.redo(bank)
    assert not preview(bank, sent).ready


def test_a_clone_met_before_is_the_same_clone_and_is_not_written_over(bank, sent):
    first = vials_of(bank, take_in(bank, sent))
    known = {row.clone_id for row in first.values()}
    code = codes.make("R", "K7F", 99)
    items = tuple(replace(item, origin="Somewhere else", batch=codes.make("B", "K7F", 77)) for item in sent.items[:1])
    later = replace(sent, parcel=code, items=items)
    (packet,) = preview(bank, later).packets
    assert packet.clone == first[min(first)].clone
    second = vials_of(bank, take_in(bank, later))
    assert {row.clone_id for row in second.values()} <= known
    (row,) = second.values()
    assert queries.clone(bank, row.clone_id).origin == "Cliff above the mill, 240 m"


def test_a_clone_that_the_sender_has_renamed_is_said_and_noted(bank, sent):
    take_in(bank, sent)
    batch = codes.make("B", "K7F", 77)
    items = tuple(replace(item, name=parse("Osmunda regalis"), batch=batch) for item in sent.items[:1])
    later = replace(sent, parcel=codes.make("R", "K7F", 99), items=items)
    (packet,) = preview(bank, later).packets
    assert packet.known is Known.KNOWN
    assert packet.remarks[0].startswith("The sender calls it Osmunda regalis; clone ")
    (row,) = vials_of(bank, take_in(bank, later)).values()
    assert "Sent as Osmunda regalis." in queries.batch(bank, row.batch_id).note


def test_the_preview_tells_names_and_writes_nothing(bank, sent):
    fridge(bank)
    stored(bank, "Osmunda regalis", old_name="Dryopteris affinis")
    before_it = queries.events(bank)
    seen = preview(bank, sent)
    assert seen.ready
    assert [packet.known for packet in seen.packets] == [Known.OLD, Known.OLD, Known.KNOWN]
    assert {packet.taxon for packet in seen.packets} == {"Osmunda regalis"}
    assert {packet.clone for packet in seen.packets} == {""}
    assert queries.events(bank) == before_it
    vial_ids = take_in(bank, sent)
    batch = queries.batch(bank, vials_of(bank, vial_ids)[vial_ids[0]].batch_id)
    assert batch.clone.received_as == "Dryopteris affinis"


def test_what_was_sent_by_this_bank_or_comes_from_tomorrow_is_refused(bank, sender, sent, clock):
    assert "sent by this bank itself" in preview(sender, sent).refusal
    clock.day = date(2026, 3, 1)
    assert "has not come yet" in preview(bank, sent).refusal


def test_the_day_of_a_sender_may_be_ahead_by_one_and_no_more(bank, sent):
    """East of the date line it is a day later than west of it (from memory)."""
    tomorrow, later = TODAY + timedelta(days=1), TODAY + timedelta(days=2)
    first, *rest = sent.items

    def telling(on: date) -> list[Manifest]:
        item = replace(first, as_of=on), replace(first, kept=(Kept(on, 4.0),))
        return [replace(sent, sent_on=on), *(replace(sent, items=(one, *rest)) for one in item)]

    assert [preview(bank, each).refusal for each in telling(tomorrow)] == [""] * 3
    for each in telling(later):
        assert "tells of 16 Mar 2026, which has not come yet" in preview(bank, each).refusal
        with pytest.raises(Refusal, match="ask the sender for a new manifest"):
            take_in(bank, each)


def test_a_test_may_be_counted_where_it_is_a_day_later_and_no_more(bank, sent):
    fridge(bank)
    *rest, last = sent.items

    def telling(sown_on: date, counted_on: date) -> Manifest:
        test = Counted(sown_on, counted_on, ((85, 100),))
        return replace(sent, sent_on=TODAY + timedelta(days=1), items=(*rest, replace(last, tests=(test,))))

    tomorrow, later = TODAY + timedelta(days=1), TODAY + timedelta(days=2)
    assert preview(bank, telling(TODAY, tomorrow)).ready
    assert preview(bank, telling(TODAY, later)).packets[-1].problem == "16 Mar 2026 is still to come."
    vials = vials_of(bank, take_in(bank, telling(tomorrow, tomorrow)))
    (test, _), *others = queries.tests_of(bank, [(batch := vials[max(vials)].batch_id)])[batch]
    assert not others
    assert (test.sown_on, test.counted_on) == (tomorrow, tomorrow)
    assert vials[max(vials)].share is not None
    sound(bank)


def test_packets_that_do_not_agree_are_refused(bank, sent):
    first, *rest = sent.items
    odd = replace(sent, items=(replace(first, collected=PartDate(2020)), *rest))
    assert "do not say the same of it" in preview(bank, odd).refusal
    odd = replace(sent, items=(replace(first, origin="x", batch=codes.make("B", "K7F", 88)), *rest))
    assert "Two packets of clone W-07" in preview(bank, odd).refusal
    assert "do not say the same" in preview(bank, example(4)).refusal


def test_a_packet_of_nothing_or_a_test_before_its_spore_keeps_all_out(bank, sent):
    *rest, last = sent.items
    with pytest.raises(Refusal, match="Packet 3, Osmunda regalis: Every vial needs some spore"):
        take_in(bank, replace(sent, items=(*rest, replace(last, micrograms=0))))
    early = replace(last, tests=(replace(sent.items[0].tests[0], sown_on=date(2024, 1, 1)),))
    with pytest.raises(Refusal, match="cannot have been sown before"):
        take_in(bank, replace(sent, items=(*rest, early)))
    assert queries.vial_ids_of_codes(bank, [item.code for item in sent.items]) == {}


def test_a_box_without_room_is_refused(bank, sent):
    box = fridge(bank, rows=1, columns=2)[0]
    with pytest.raises(Refusal, match="has 2 free slots for 3 vials"):
        take_in(bank, sent, box)


@pytest.mark.parametrize(
    ("degrees", "where"),
    [
        ((4.0,), Before.FRIDGE), ((-18.0, 5.0), Before.FRIDGE), ((20.0,), Before.ROOM), ((20.0, 4.0), Before.UNKNOWN),
        ((), Before.UNKNOWN), ((4.0, None), Before.UNKNOWN), ((10.0,), Before.UNKNOWN),
    ],
)  # fmt: skip
def test_where_it_lay_before_is_said_in_a_word(degrees, where):
    assert before([Kept(date(2020, 1, 1 + number), each) for number, each in enumerate(degrees)]) is where


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(Refusal, match=r"gone\.json cannot be opened"):
        read_file(tmp_path / "gone.json")
