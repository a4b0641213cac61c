import re
from dataclasses import replace
from itertools import pairwise

import pypdfium2
import pytest

from sporebank.core import codes, names
from sporebank.core.errors import Refusal
from sporebank.core.papers import Declaration, Declared, Manifest, PackingList
from sporebank.documents import cull, manifest, packing
from tests.documents.examples import (
    BANK,
    CAUTION,
    DAY,
    LONG,
    NAMES,
    PARCEL,
    cull_sheet,
    fonts_used,
    packing_list,
    pictures,
    symbols,
    text_of,
)
from tests.documents.examples import manifest as a_manifest

PAPERS = {
    "packing": (packing.render, packing_list),
    "manifest": (manifest.render, a_manifest),
    "cull": (cull.render, cull_sheet),
}


@pytest.mark.parametrize("paper", PAPERS)
def test_papers_carry_every_name_and_code_on_numbered_pages(paper):
    render, example = PAPERS[paper]
    printed = render(example(60))
    read = text_of(printed)
    pages = len(pictures(printed, 20))
    assert pages > 1
    assert re.findall(r"Page (\d+) of (\d+)", read) == [(str(n), str(pages)) for n in range(1, pages + 1)]
    for i in range(60):
        assert codes.grouped(codes.make("V", "K7F", i + 1)) in read
    for name in NAMES:
        first, *_, last = names.text(name).split()
        assert first in read
        assert last in read


@pytest.mark.parametrize("paper", PAPERS)
def test_papers_are_stable_embedded_and_titled(paper):
    render, example = PAPERS[paper]
    printed = render(example())
    assert printed == render(example())
    assert fonts_used(printed)
    assert all(embedded for _, embedded in fonts_used(printed))
    assert b"/Helvetica" not in printed
    assert b"/Lang" in printed
    assert BANK.encode() in printed


@pytest.mark.parametrize("paper", PAPERS)
def test_empty_papers_say_so(paper):
    render, example = PAPERS[paper]
    assert re.search(r"[Tt]here (is nothing|are no)", text_of(render(example(0))))


@pytest.mark.parametrize("paper", ["packing", "manifest"])
def test_the_parcel_is_there_as_a_symbol(paper):
    render, example = PAPERS[paper]
    assert symbols(pictures(render(example()), 203)) == [PARCEL]


def test_the_packer_walks_once():
    read = text_of(packing.render(packing_list(9)))
    assert [int(n) for n in re.findall(r"Box (\d)", read)] == list(range(1, 10))


def test_the_packing_list_says_what_to_take_what_remains_and_what_failed():
    read = text_of(packing.render(packing_list(3)))
    assert "15 mg from 3 vials" in read
    assert "Alternative & <second> choice" in read
    assert "Could not be filled" in read
    assert "No vial is above 30 % alive." in read
    assert "Could not be filled" not in text_of(packing.render(packing_list(3, unfilled=())))


def test_every_item_has_a_box_to_tick():
    """The boxes are strokes, so they are looked for in the picture: a dark ring about 3.6 mm wide."""
    without = pictures(packing.render(packing_list(0, unfilled=())), 254)[0]
    with_boxes = pictures(packing.render(packing_list(3, unfilled=())), 254)[0]
    edge = 180 + 18  # half way along a box, ten dots a millimetre, after the margin of 18 mm

    def strokes(picture):
        column = [picture.getpixel((edge, y)) < 128 for y in range(300, 2750)]
        return sum(now and not before for before, now in pairwise(column))

    assert strokes(with_boxes) - strokes(without) >= 6  # the upper and lower edge of each


def test_the_manifest_tells_provenance_and_how_alive():
    read = text_of(manifest.render(a_manifest(3)))
    for told in (
        "62 %", "41 to 78 % on 3 Mar 2026", "Not known", "From 3 tests, 300 spores.", "Source: wild",
        "may be given on: ask first", "Permit: =12/2019", "Network number: XX-0-ABCDE-2019.123", CAUTION,
        "Spore is dust: wear a dust mask.", a_manifest(3).checksum(), "bank tag K7F", "Aug 2019", "5 mg",
    ):  # fmt: skip
        assert told in read


def test_the_checksum_tells_every_change():
    whole = a_manifest(3)
    changed = [a_manifest(2), a_manifest(3, bank="Another"), a_manifest(3, cautions=())]
    assert len({one.checksum() for one in [whole, *changed]}) == 4
    assert re.fullmatch(r"(?:[0-9A-F]{4}-){3}[0-9A-F]{4}", whole.checksum())


def test_the_cull_sheet_calls_out_the_last_of_a_clone_and_is_signed():
    read = text_of(cull.render(cull_sheet()))
    assert read.count("Last vial of this clone") == 1
    assert "1 vial is the last of the clone" in read
    assert CAUTION in read
    assert "Taken out by: Ada Brock" in read


def test_a_name_without_glyphs_is_refused_with_the_reason():
    with pytest.raises(Refusal, match=r"漢 \(U\+6F22\)"):
        packing.render(PackingList(BANK, PARCEL, "漢", DAY, ()))


def test_an_entry_longer_than_a_page_is_refused():
    item = packing_list(1).items[0]
    endless = type(item)(**{**vars(item), "note": "fern spore " * 2000})
    with pytest.raises(Refusal, match="longer than a page"):
        packing.render(PackingList(BANK, PARCEL, "x", DAY, (endless,)))


def test_long_names_wrap_inside_their_column():
    item = cull_sheet(1).items[0]
    long = type(item)(**{**vars(item), "name": LONG})
    read = text_of(cull.render(type(cull_sheet())(BANK, DAY, (long,))))
    assert " ".join(names.text(LONG).split()) in read.replace("- ", "-")


def test_a_manifest_for_nobody_in_particular_prints():
    assert "0 packets" in text_of(manifest.render(Manifest(PARCEL, "B", "K7F", DAY, "", ())))


def test_a_parcel_abroad_takes_a_list_along_with_number_name_and_country():
    """Number, scientific name and country of origin of every packet, and who sends it (common practice, no source)."""
    packets = tuple(Declared(i + 1, codes.make("K", "K7F", i + 1), NAMES[i], 2_000, "Norway (NO)") for i in range(3))
    border = Declaration(
        "The Alder Carr spore bank, Netherlands (NL)", "United States (US)", packets,
        ("import permit 12/3, until 1 May 2026, 2 labels left",), ("Plant health, United States: Certificate 7",),
        "Ask the authorities of both countries before posting.",
    )  # fmt: skip
    data = packing.render(replace(packing_list(3), border=border))
    with pypdfium2.PdfDocument(data) as pdf:
        assert len(pdf) == 2
        last = " ".join(pdf[1].get_textpage().get_text_bounded().split())
    assert "Packing list, in the parcel" in last
    assert "Exporter The Alder Carr spore bank, Netherlands (NL)" in last
    for one in packets:
        assert f"{one.number} {codes.grouped(one.code)} {names.text(one.name)} 2 mg Norway (NO)" in last
    for sentence in (*border.permits, *border.answers, border.caution):
        assert sentence in last


def test_the_manifest_names_the_country_of_origin_and_the_papers():
    read = text_of(manifest.render(a_manifest(1, permits=("Plant health, Norway: Certificate 7",))))
    assert "north side, NL" in read
    assert "Papers – Plant health, Norway: Certificate 7" in read
    assert "Papers" not in text_of(manifest.render(a_manifest(1)))
