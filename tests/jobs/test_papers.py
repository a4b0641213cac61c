"""What goes on labels, packing lists and manifests, gathered from the bank."""

from dataclasses import replace
from datetime import date

import pytest

from sporebank.bank import queries
from sporebank.core import amounts, names
from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind
from sporebank.core.records import Permission, Source, SporeClass, State
from sporebank.core.sharing import Filled
from sporebank.formats.tables import load_cautions
from sporebank.jobs import label_records, papers, sharing, sowing, vials
from sporebank.jobs.labels import pots_of
from sporebank.jobs.settings import change_settings
from tests.builders import TODAY, asked, clone, counted, fridge, stored


def clone_of(bank, batch):
    return queries.batch(bank, batch.batch_id).clone.id


def parcel(bank):
    """Two wishes filled from three vials in two boxes, and a third that cannot be; return the request's id."""
    _, other = fridge(bank, boxes=2)
    first = stored(bank, verified=True)
    second = stored(bank, "Osmunda regalis", clone=clone("O-1", network_number="XX-0-GLASG-1998/0417"))
    vials.move(bank, vials.free_moves(bank, first.vial_ids[:1], other), TODAY)
    wishes = (
        sharing.Wish(3, 1_000, clone_id=clone_of(bank, first)),
        sharing.Wish(2, 2_000, clone_id=clone_of(bank, second)),
        sharing.Wish(4, 2_000, taxon_id=queries.batch(bank, second.batch_id).clone.taxon.id),
    )
    request_id = asked(bank, *wishes)
    lines = [line.id for line in queries.request(bank, request_id).lines]
    a, b, _ = first.vial_ids
    chosen = {
        lines[0]: Filled((a, b, a), ""),
        lines[1]: Filled((second.vial_ids[2],) * 2, ""),
        lines[2]: Filled((), "The bank has none of it."),
    }
    sharing.keep_fill(bank, request_id, chosen)
    return request_id


def test_vial_labels_come_in_the_order_of_places(bank):
    fridge(bank, boxes=11, rows=1, columns=1)
    batch = stored(bank, vials=11, each=14_200)
    labels = papers.vial_labels(bank, batch.vial_ids[::-1])
    assert [label.place for label in labels] == [f"Potting shed / Fridge 1 / Box {n} / A1" for n in range(1, 12)]
    row = queries.vial_row(bank, batch.vial_ids[0])
    label = labels[0]
    assert (label.code, label.name, label.clone, label.collected) == (row.code, row.name, "C-01", row.collected)
    assert label.amount == "14.2 mg"


def test_every_pot_has_its_label(bank):
    fridge(bank)
    batch = stored(bank)
    sowing_id = sowing.sow(bank, sowing.SowForm(batch.vial_ids[0], "Bench room", TODAY, 3, 300))
    labels = label_records.gather(bank, Kind.POT_ALONG, pots_of(bank, sowing_id))
    assert [label.code for label in labels] == list(queries.sowing(bank, sowing_id).pots)
    assert {(label.sown, label.batch, label.clone) for label in labels} == {(TODAY, batch.batch, "C-01")}


def packet_labels(bank, request_id):
    return list(papers.packets_labelled(bank, request_id).values())


def test_packet_labels_come_in_the_order_of_picking(bank):
    request_id = parcel(bank)
    labels = packet_labels(bank, request_id)
    codes = {row.code: row for row in queries.vials_by_id(bank, [1, 2, 3, 4, 5, 6])}
    assert [codes[label.vial].place[-10:] for label in labels] == [
        "Box 1 / A2",
        *["Box 1 / A6"] * 2,
        *["Box 2 / A1"] * 2,
    ]
    assert [label.line for label in labels] == [1, 2, 2, 1, 1]
    assert {label.parcel for label in labels} == {queries.request(bank, request_id).parcel}
    assert labels[0].amount == "1 mg"
    assert " alive (" in labels[0].alive
    assert not any(label.cautions for label in labels)


def test_the_packing_list_has_one_line_for_each_wish_and_vial(bank):
    request_id = parcel(bank)
    paper = papers.packing_list(bank, request_id, TODAY)
    lines = [(item.line, item.place[-10:], item.take, item.remains, item.note) for item in paper.walk()]
    assert lines == [
        (1, "Box 1 / A2", 1_000, 9_000, "1 packet of 1 mg"),
        (2, "Box 1 / A6", 4_000, 6_000, "2 packets of 2 mg"),
        (1, "Box 2 / A1", 2_000, 8_000, "2 packets of 1 mg"),
    ]
    assert [(one.line, one.wish, one.why) for one in paper.unfilled] == [
        (3, "4 × Osmunda regalis", "The bank has none of it.")
    ]
    assert paper.recipient == "Marit Olden"


def test_after_dispatch_the_packing_list_still_tells_what_remains(bank):
    request_id = parcel(bank)
    before = papers.packing_list(bank, request_id, TODAY)
    sharing.dispatch(bank, request_id, TODAY)
    assert papers.packing_list(bank, request_id, TODAY) == before
    for item in before.items:
        vial_id = queries.vial_id_of_code(bank, item.vial)
        assert queries.vial_row(bank, vial_id).left == item.remains


def test_a_vial_drawn_from_for_two_wishes_remains_once(bank):
    fridge(bank)
    batch = stored(bank)
    first, wish = batch.vial_ids[0], sharing.Wish(1, 2_000, clone_id=clone_of(bank, batch))
    request_id = asked(bank, wish, wish)
    chosen = {line.id: Filled((first,), "") for line in queries.request(bank, request_id).lines}
    sharing.keep_fill(bank, request_id, chosen)
    assert [item.remains for item in papers.packing_list(bank, request_id, TODAY).walk()][-1] == 6_000


def test_the_manifest_carries_provenance_age_viability_and_cautions(bank):
    request_id = parcel(bank)
    paper = papers.manifest(bank, request_id, TODAY)
    assert (paper.bank, paper.bank_tag, paper.sent_on) == (bank.name, bank.tag, TODAY)
    assert [item.line for item in paper.items] == [1, 2, 2, 1, 1]
    osmunda = paper.items[1]
    assert names.text(osmunda.name) == "Osmunda regalis"
    assert osmunda.network_number == "XX-0-GLASG-1998/0417"
    assert (osmunda.micrograms, osmunda.collected.iso(), osmunda.permission) == (2_000, "2025-08-14", Permission.YES)
    assert osmunda.share == queries.vial_row(bank, queries.vial_id_of_code(bank, osmunda.code)).share
    assert osmunda.basis
    assert osmunda.as_of == TODAY
    assert any("not been verified" in caution for caution in osmunda.cautions)
    assert not any("not been verified" in caution for caution in paper.items[0].cautions)
    assert load_cautions().work("spore dust") in paper.cautions


def test_the_manifest_speaks_of_the_day_it_is_sent(bank):
    request_id = parcel(bank)
    now = papers.manifest(bank, request_id, TODAY).items[0]
    later = papers.manifest(bank, request_id, date(2056, 3, 14)).items[0]
    assert later.share.middle < now.share.middle
    assert (now.state, later.state) == (State.ALIVE, State.SPENT)


def test_an_invasive_and_a_protected_taxon_carry_their_warnings(bank):
    fridge(bank)
    # Sphaeropteris cooperi: Hawaii weed risk assessment of 8 April 2021; CITES Appendix II, CoP11 Prop. 11.8.
    batch = stored(
        bank,
        "Sphaeropteris cooperi",
        spore_class=SporeClass.NON_GREEN,
        clone=clone("S-1", source=Source.WILD, origin="A gully", permit_note="Letter of consent"),
    )
    counted(bank, batch.batch_id, 290, 300)
    request_id = asked(bank, sharing.Wish(1, 1_000, clone_id=clone_of(bank, batch)))
    sharing.keep_fill(bank, request_id, sharing.propose(bank, request_id))
    (item,) = papers.manifest(bank, request_id, TODAY).items
    assert (item.source, item.origin, item.permit) == (Source.WILD, "A gully", "Letter of consent")
    assert item.cautions[0].startswith("Invasive: seal and bin, do not compost.")
    assert item.cautions[1].startswith("Protected:")
    (label,) = packet_labels(bank, request_id)
    assert label.cautions == ("Seal and bin, do not compost",)


def test_an_empty_parcel_has_no_papers(bank):
    fridge(bank)
    batch = stored(bank)
    request_id = asked(bank, sharing.Wish(1, 1_000, clone_id=clone_of(bank, batch)))
    for paper in (lambda: papers.manifest(bank, request_id, TODAY), lambda: packet_labels(bank, request_id)):
        with pytest.raises(Refusal, match="Fill the request first"):
            paper()


def test_nothing_is_lost_on_its_way_to_paper(bank):
    request_id = parcel(bank)
    packets = [packet.micrograms for line in queries.request(bank, request_id).lines for packet in line.filled]
    assert sum(item.take for item in papers.packing_list(bank, request_id, TODAY).items) == sum(packets)
    assert sum(item.micrograms for item in papers.manifest(bank, request_id, TODAY).items) == sum(packets)
    shown = [label.amount for label in packet_labels(bank, request_id)]
    assert sorted(shown) == sorted(amounts.show(micrograms) for micrograms in packets)


def test_a_batch_has_a_label_for_its_bag(bank):
    fridge(bank)
    batch = stored(bank, clone=clone("S-1", source=Source.WILD, origin="A gully"))
    kept = queries.batch(bank, batch.batch_id)
    (label,) = papers.bag_labels(bank, [batch.batch_id])
    left = sum(row.left for row in queries.batch_vials(bank, batch.batch_id))
    assert (label.code, label.name, label.clone) == (kept.code, kept.clone.taxon.name, "S-1")
    assert (label.origin, label.amount, label.place) == ("wild, A gully", amounts.show(left), "")


def test_places_have_labels_in_walking_order_with_what_is_met_there(bank):
    boxes = fridge(bank, boxes=2)
    every = {place.id: (place, path) for place, path, _ in queries.places(bank)}
    labels = papers.place_labels(bank, [*reversed(boxes), *(set(every) - set(boxes))])
    assert [label.code for label in labels] == [place.code for place, _ in every.values()]
    by_code = {label.code: label for label in labels}
    box, path = every[boxes[0]]
    label = by_code[box.code]
    assert (label.title, f"{label.path} / {label.title}") == (box.name, path)
    assert (label.conditions, label.content) == ("4 °C, 15 % RH", "9 × 9 slots")
    assert len(papers.place_labels(bank, boxes[:1])) == 1


def test_addresses_keep_their_lines_and_parcels_say_what_is_in_them(bank):
    request_id = parcel(bank)
    contact = queries.request(bank, request_id).contact
    (label,) = papers.address_labels(bank, [contact.id])
    assert label.address[0] == contact.name
    assert label.address[1:] == tuple(contact.address.splitlines())
    assert label.sender == f"From {bank.name}"
    parcelled = papers.parcel_label(bank, request_id)
    assert parcelled.address == label.address
    assert (parcelled.content, parcelled.sent) == ("5 packets of fern spore", None)
    assert parcelled.code == queries.request(bank, request_id).parcel
    sharing.dispatch(bank, request_id, TODAY)
    assert papers.parcel_label(bank, request_id).sent == TODAY


def test_a_packet_says_where_its_spore_came_from(bank):
    fridge(bank)
    batch = stored(bank, clone=clone("G-1", source=Source.GARDEN, origin="Alder Carr"))
    counted(bank, batch.batch_id, 290, 300)
    request_id = asked(bank, sharing.Wish(1, 1_000, clone_id=clone_of(bank, batch)))
    sharing.keep_fill(bank, request_id, sharing.propose(bank, request_id))
    assert [label.origin for label in packet_labels(bank, request_id)] == ["garden, Alder Carr"]


def test_abroad_every_packet_says_who_sends_it_and_where_it_is_from(bank):
    change_settings(bank, replace(bank.settings, country="NO"))
    fridge(bank)
    batch = stored(bank, clone=clone("S-1", country="TW"))
    other = stored(bank, "Osmunda regalis", clone=clone("O-1"))
    wishes = [sharing.Wish(1, 1_000, clone_id=clone_of(bank, one)) for one in (batch, other)]
    request_id = asked(bank, *wishes)
    sharing.keep_fill(bank, request_id, sharing.propose(bank, request_id))
    border = papers.packing_list(bank, request_id, TODAY).border
    assert (border.exporter, border.destination) == ("Glasshouse bank, Norway (NO)", "Netherlands (NL)")
    assert [(one.number, names.text(one.name), one.country) for one in border.packets] == [
        (1, "Dryopteris affinis", "Taiwan (TW)"), (2, "Osmunda regalis", "not known"),
    ]  # fmt: skip
    assert [label.cautions for label in packet_labels(bank, request_id)] == [
        ("Glasshouse bank, NO; origin TW",), ("Glasshouse bank, NO; origin not known",),
    ]  # fmt: skip
    change_settings(bank, replace(bank.settings, country="NL"))
    assert papers.packing_list(bank, request_id, TODAY).border is None
    assert not any(label.cautions for label in packet_labels(bank, request_id))
