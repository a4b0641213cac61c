import re
import shutil
import subprocess
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.core import codes, names
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal, Stopped
from sporebank.core.layout import FLOOR, Field, Kind, Layout
from sporebank.core.papers import VialLabel
from sporebank.core.records import TaxonName
from sporebank.core.sheets import SMALLEST_MODULE, PrinterFit, cell, roll
from sporebank.documents import fonts
from sporebank.documents.drawing import Stamp, Text
from sporebank.documents.labels import LabelPrint, preflight, render
from sporebank.documents.setting import Trouble, set_label
from sporebank.formats.label_layouts import layout_for, sheets_for
from sporebank.formats.label_sheets import sheet_by_id
from tests.documents.examples import (
    ADDRESS,
    CAUTION,
    LABELS,
    LONG,
    NAMES,
    fonts_used,
    packet,
    pictures,
    place,
    pot,
    symbols,
    text_of,
    vial,
)

CAP_HEIGHT = 0.714
"""Of the size: the height of capitals in Noto Sans (its OS/2 table, in units of 1000)."""
PLACES = [(kind, sheet) for kind in Kind for sheet in sheets_for(kind)]
every_place = pytest.mark.parametrize(
    ("kind", "sheet"), PLACES, ids=[f"{kind}-{sheet.id}".replace(" ", "-") for kind, sheet in PLACES]
)
TRUE = PrinterFit()


def job(kind, labels, sheet="a4-5x13", **more):
    on = sheet_by_id(sheet) if isinstance(sheet, str) else sheet
    return LabelPrint(labels, layout_for(kind, on), on, **more)


def vials(*labels, **more):
    return job(Kind.VIAL, labels or [vial()], **more)


def marks(label, layout, printer=TRUE):
    return [one for one in set_label(label, layout, printer) if not isinstance(one, Trouble)]


def texts(label, layout):
    return [mark for mark in marks(label, layout) if isinstance(mark, Text)]


def words(label, layout):
    return " ".join(mark.text.strip() for mark in texts(label, layout))


def second_reader(pages, folder):
    """Return what zbar reads."""
    found = []
    for number, page in enumerate(pages):
        page.save(folder / f"{number}.png")
        command = ["zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", str(folder / f"{number}.png")]
        done = subprocess.run(command, check=False, capture_output=True, text=True)
        found += done.stdout.split()
    return sorted(found)


@every_place
def test_every_symbol_reads_back_at_203_300_and_600_dpi(kind, sheet):
    labels = [LABELS[kind](i) for i in range(3)]
    for dpi in (203, 300, 600):
        printed = render(job(kind, labels, sheet, printer=PrinterFit(dpi=dpi)))
        assert symbols(pictures(printed, dpi)) == sorted(label.code for label in labels if hasattr(label, "code"))


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind is not Kind.ADDRESS])
def test_a_second_reader_agrees(kind, tmp_path):
    labels = [LABELS[kind](i) for i in range(3)]
    pages = pictures(render(job(kind, labels, sheets_for(kind)[0])), 300)
    expected = sorted(label.code for label in labels)
    read = [symbols(pages)]
    if shutil.which("zbarimg"):
        read.append(second_reader(pages, tmp_path))
    assert read == [expected] * len(read)


def test_pure_black_and_white_reads_too():
    pages = pictures(render(job(Kind.CAP, [vial(0), vial(1)], "a4-13x18-round")), 203)
    thermal = [page.point(lambda grey: 255 * (grey > 127)) for page in pages]
    assert symbols(thermal) == [vial(0).code, vial(1).code]


@every_place
def test_nothing_ordinary_is_a_problem_and_all_is_legible(kind, sheet):
    made = job(kind, [LABELS[kind](i) for i in range(6)], sheet)
    assert preflight(made) == ()
    for label in made.labels:
        for mark in marks(label, made.layout):
            if isinstance(mark, Stamp):
                assert mark.symbol.module >= SMALLEST_MODULE
            else:
                assert mark.size >= FLOOR


@every_place
def test_the_code_stands_in_letters_beside_its_symbol(kind, sheet):
    label, layout = LABELS[kind](0), layout_for(kind, sheet)
    if kind is not Kind.ADDRESS:
        written = words(label, layout)
        whole = codes.grouped(label.code)
        assert whole in written or (whole[:5] in written and whole[6:] in written)


@every_place
def test_all_marks_stay_on_their_label_and_off_the_symbol(kind, sheet):
    layout = layout_for(kind, sheet)
    for i in range(6):
        stamps, written = [], []
        for mark in marks(LABELS[kind](i), layout):
            (stamps if isinstance(mark, Stamp) else written).append(mark)
        for stamp in stamps:
            assert min(stamp.left, stamp.top) >= -0.01
            assert stamp.left + stamp.symbol.side <= layout.width + 0.01
            assert stamp.top + stamp.symbol.side <= layout.height + 0.01
        for mark in written:
            right = mark.x + fonts.text_width(mark.text.rstrip(), mark.face, mark.size)
            top = mark.y - CAP_HEIGHT * mark.size * 25.4 / 72
            assert mark.x >= 0
            assert right <= layout.printed.right + 1e-6
            assert top >= 0
            assert mark.y <= layout.printed.bottom
            for stamp in stamps:
                beside = right <= stamp.left or mark.x >= stamp.left + stamp.symbol.side - 1e-6
                assert beside or mark.y <= stamp.top or top >= stamp.top + stamp.symbol.side - 0.3


def test_text_reads_back_from_the_pdf_in_three_scripts():
    read = text_of(render(vials(*map(vial, range(6)), sheet="a4-4x16")))
    assert "Asplenium scolopendrium" in read
    assert "×intermedia" in read
    assert "Тайная Жар-птица" in read
    assert "Ωραία Πτέρις" in read
    assert "14 Aug 2019" in read
    assert "14.2 mg" in read
    assert codes.grouped(vial(3).code) in read


def test_only_embedded_fonts_are_used():
    printed = render(job(Kind.PACKET, [packet(i) for i in range(6)], "a4-3x8"))
    used = fonts_used(printed)
    assert all(embedded for _, embedded in used)
    assert {name.split("+")[-1] for name, _ in used} <= set(fonts.FACES)
    assert b"/Helvetica" not in printed


def test_the_same_labels_give_the_same_bytes_that_ask_for_true_size():
    made = vials(sheet="roll-33x13")
    printed = render(made, "Vial labels", "The Alder Carr spore bank")
    assert printed == render(made, "Vial labels", "The Alder Carr spore bank")
    assert b"/PrintScaling /None" in printed
    assert b"/Lang" in printed
    assert b"Vial labels" in printed


WRITTEN = {
    "Dryopteris filix-mas": ("Dryopteris filix-mas", ""),
    "Dryopteris × complexa": ("Dryopteris complexa", "×"),
    "×Dryostichum singulare": ("Dryostichum singulare", "×"),
    "Polypodium vulgare nothosubsp. mantoniae": ("Polypodium vulgare mantoniae", "nothosubsp."),
    "Asplenium trichomanes subsp. quadrivalens": ("Asplenium trichomanes quadrivalens", "subsp."),
    "Asplenium scolopendrium f. crispum": ("Asplenium scolopendrium crispum", "f."),
    "Dryopteris filix-mas 'Linearis Polydactyla'": ("Dryopteris filix-mas", "'Linearis Polydactyla'"),
    "Athyrium 'Ghost'": ("Athyrium", "'Ghost'"),
    "Polystichum setiferum Divisilobum Group": ("Polystichum setiferum", "Divisilobum G"),
    "Dryopteris cf. affinis": ("Dryopteris affinis", "cf."),
    "Dryopteris sp.": ("Dryopteris", "sp."),
}
"""Names as typed, what is italic and what is upright of them: Latin names are italic; ×, ranks, qualifiers, cultivar
epithets and Groups upright. International Code of Nomenclature (Turland and others 2018), preface and Art. H.3;
International Code of Nomenclature for Cultivated Plants (2016), Art. 14 and 15, both from memory."""


@pytest.mark.parametrize("typed", WRITTEN)
@pytest.mark.parametrize(
    ("kind", "sheet"), [(Kind.VIAL, "a4-4x16"), (Kind.VIAL, "a4-7x27"), (Kind.POT_ALONG, "a4-5x16")]
)
def test_italics_are_where_the_codes_of_nomenclature_want_them(typed, kind, sheet):
    label = replace(LABELS[kind](0), name=names.parse(typed))
    written = texts(label, layout_for(kind, sheet_by_id(sheet)))
    italic, upright = (
        " ".join(" ".join(mark.text for mark in written if ("Italic" in mark.face) is slanted).split())
        for slanted in (True, False)
    )
    whole, kept = WRITTEN[typed]
    genus, _, rest = whole.partition(" ")
    assert italic in (whole, f"{genus[0]}. {rest}")
    assert kept in upright


def test_the_first_dark_module_lies_where_the_sheet_says():
    made = vials(first_cell=6)
    stamp = next(mark for mark in marks(vial(), made.layout) if isinstance(mark, Stamp))
    left = 4.75 + 40.6 + (38.1 - made.layout.width) / 2 + stamp.left + 4 * stamp.symbol.module
    top = 10.7 + 21.2 + (21.2 - made.layout.height) / 2 + stamp.top + 4 * stamp.symbol.module
    dark = bounds(render(made))
    assert dark[0] == pytest.approx(left, abs=0.1)
    assert dark[1] < top + 0.1


def bounds(pdf, dpi=254):
    """Return the edges in mm of what is dark on the first page."""
    picture = pictures(pdf, dpi)[0]
    return [edge * 25.4 / dpi for edge in picture.point(lambda grey: 255 * (grey < 128)).getbbox()]


def test_a_printer_that_is_off_is_put_right():
    plain = bounds(render(vials(first_cell=64)))
    moved = bounds(render(vials(first_cell=64, printer=PrinterFit(across=1.5, down=-2.0))))
    assert [b - a for a, b in zip(plain, moved, strict=True)] == pytest.approx([1.5, -2, 1.5, -2], abs=0.15)
    scaled = bounds(render(vials(first_cell=64, printer=PrinterFit(scale_x=0.995, scale_y=1.01))))
    rect = cell(sheet_by_id("a4-5x13"), 64)
    middle = (rect.left + rect.width / 2, rect.top + rect.height / 2)
    assert scaled[0] - plain[0] == pytest.approx(-0.005 * middle[0], abs=0.15)
    assert scaled[1] - plain[1] == pytest.approx(0.01 * middle[1], abs=0.15)
    assert scaled[2] - scaled[0] == pytest.approx(plain[2] - plain[0], abs=0.15)  # the label itself keeps its size


def test_a_turned_text_reads_upwards_within_its_field():
    fields = (
        Field(("symbol",), 0, 0, 10, 10),
        Field(("code",), 0, 11, 10, 2, 6, 4),
        Field(("clone",), 12, 1, 3, 11, 8, 4, turn=90),
    )
    upright = roll("u", "u", 16, 13)
    made = LabelPrint([vial()], Layout("u", "U", Kind.VIAL, 16, 13, fields), upright)
    (turned,) = [mark for mark in texts(vial(), made.layout) if mark.turn]
    assert (turned.text, turned.turn) == ("DS-03", 90)
    assert 12 < turned.x <= 15
    assert turned.y == 12
    assert bounds(render(made))[2] <= 15.1
    assert "DS-03" in text_of(render(made))


def test_first_free_cell_copies_and_order():
    made = vials(vial(0), vial(1), first_cell=63, copies=2)
    assert (made.count, made.pages) == (4, 2)
    first, second = pictures(render(made), 203)
    assert symbols([first]) == [vial(0).code] * 2
    assert symbols([second]) == [vial(1).code] * 2
    with pytest.raises(Refusal, match="first free label"):
        vials(first_cell=65)
    with pytest.raises(Refusal, match="copies"):
        vials(copies=0)
    with pytest.raises(Refusal, match="no labels"):
        job(Kind.VIAL, [])


def test_labels_of_many_pages_are_all_there():
    made = vials(*(vial(i) for i in range(150)), first_cell=10)
    pages = pictures(render(made), 203)
    assert len(pages) == made.pages == 3
    assert symbols(pages) == sorted(vial(i).code for i in range(150))


def test_a_layout_that_does_not_fit_is_refused_with_the_numbers():
    large = layout_for(Kind.VIAL, sheet_by_id("a4-5x13"))
    with pytest.raises(Refusal, match="25.4 × 10 mm is too small for the vial layout"):
        LabelPrint([vial()], large, sheet_by_id("a4-7x27"))


def test_a_long_run_tells_how_far_it_is():
    made, told = vials(*(vial(i) for i in range(120))), []
    render(made, report=lambda done, total: told.append((done, total)))
    assert told == [(0, 120), (50, 120), (100, 120), (120, 120)]


@pytest.mark.parametrize("work", [render, preflight])
def test_a_long_run_leaves_off_as_soon_as_nobody_waits(work):
    told = []
    with pytest.raises(Stopped):
        work(
            vials(*(vial(i) for i in range(120))),
            report=lambda done, total: told.append(done),
            cancelled=lambda: len(told) == 2,
        )
    assert told == [0, 50]


def test_a_long_name_is_abbreviated_but_its_cultivar_never_cut():
    name = TaxonName("Polystichum", "setiferum", group="Plumosomultilobum", cultivar="Gracillimum")
    joined = words(vial(0, name), layout_for(Kind.VIAL, sheet_by_id("a4-7x27")))
    assert "setiferum" in joined
    assert "'Gracillimum'" in joined
    assert "Aug 2019" in joined


def test_a_packet_never_abbreviates_what_somebody_else_will_read():
    for sheet in sheets_for(Kind.PACKET):
        for i in range(6):
            assert names.text(NAMES[i]).split()[0] in words(packet(i), layout_for(Kind.PACKET, sheet))


def test_a_name_too_long_is_told_before_printing_and_left_out_whole():
    endless = TaxonName(
        "Polypodium", "cambricum", cultivar="Trailing Star of the Long Western Cliffs above the Slow Grey Winter Sea"
    )
    made = vials(vial(), vial(1, endless), sheet="a4-7x27")
    (problem,) = preflight(made)
    assert (problem.label, problem.called) == (1, codes.grouped(vial(1).code))
    assert names.text(endless) in problem.sentence
    assert "“name” has 15.8 × 4.7 mm" in problem.sentence
    assert "\N{NO-BREAK SPACE}" not in preflight(vials(vial(clone="x" * 60), sheet="a4-7x27"))[0].sentence
    assert "Trailing" not in words(vial(1, endless), made.layout)
    assert codes.grouped(vial(1).code) in words(vial(1, endless), made.layout)
    assert preflight(vials(vial(1, endless))) == ()


@pytest.mark.parametrize("sheet", sheets_for(Kind.VIAL), ids=lambda sheet: sheet.id)
def test_a_name_of_sixty_characters_fits_every_vial(sheet):
    assert len(names.text(LONG)) >= 60
    made = vials(vial(0, LONG), sheet=sheet)
    assert preflight(made) == ()
    assert "Western Cliffs" in " ".join(words(vial(0, LONG), made.layout).split())


def test_a_long_path_is_shortened_from_outside():
    label = vial(place="The cold store room of the far house / Freezer 2 / Box 11 / C3")
    assert re.search(r"Box 11 / C3", words(label, layout_for(Kind.VIAL, sheet_by_id("a4-5x13"))))
    assert preflight(vials(label)) == ()


def test_a_missing_glyph_is_told_and_no_box_is_printed():
    made = vials(vial(0, TaxonName("Adiantum", "reniforme", cultivar="荷叶")))
    (problem,) = preflight(made)
    assert "荷 (U+8377)" in problem.sentence
    assert "荷" not in text_of(render(made))
    assert "DS-03" in text_of(render(made))


def test_a_symbol_below_the_printers_limit_is_told_and_the_letters_stay():
    fields = (Field(("symbol",), 0, 0, 7.3, 7.3), Field(("code",), 8, 1, 24, 4))
    made = LabelPrint([vial()], Layout("n", "N", Kind.VIAL, 33, 8, fields), roll("n", "n", 33, 8))
    (problem,) = preflight(made)
    assert problem.sentence.startswith("A symbol within 7.3 mm has modules under 0.25 mm at 300 dpi")
    assert preflight(replace(made, printer=PrinterFit(dpi=203))) == ()  # two dots of 0.1251 mm are 29 × 0.2502 mm
    assert symbols(pictures(render(made), 300)) == []
    assert codes.grouped(vial().code) in text_of(render(made))


def test_what_must_be_there_is_missed():
    (problem,) = preflight(job(Kind.PLACE, [replace(place(), title=" ")], "a4-3x8"))
    assert problem.sentence == "There is nothing for “title”, which this layout must have."
    assert preflight(job(Kind.PLACE, [replace(place(), conditions="")], "a4-3x8")) == ()


def test_packets_carry_their_caution_and_pots_their_batch():
    parcelled = packet(1)
    read = text_of(render(job(Kind.PACKET, [parcelled], "a4-3x8")))
    assert CAUTION.rstrip(".") in read
    assert "62 % alive" in read
    assert "garden, Alder Carr" in read
    assert f"{codes.grouped(parcelled.parcel)}, line 2" in read
    for kind, sheet in (
        (Kind.POT_ALONG, "roll-125x15"),
        (Kind.POT_ALONG, "a4-5x16"),
        (Kind.POT_UPRIGHT, "roll-15x125"),
    ):
        read = text_of(render(job(kind, [pot()], sheet)))
        assert "3 Mar 2026" in read
        assert codes.grouped(pot().batch) in read


def test_an_address_keeps_its_lines():
    label, layout = LABELS[Kind.ADDRESS](0), layout_for(Kind.ADDRESS, sheet_by_id("a4-2x7"))
    lines = {mark.y: mark.text for mark in texts(label, layout)}
    assert tuple(lines[y] for y in sorted(lines)) == ("From The Alder Carr spore bank, Alder Carr", *ADDRESS)


def test_an_address_too_long_is_told_by_its_first_line():
    label = replace(LABELS[Kind.ADDRESS](0), address=(*ADDRESS, "x" * 120))
    (problem,) = preflight(job(Kind.ADDRESS, [label], "a4-4x10"))
    assert problem.called == "Marit Olander"
    assert "“Marit Olander; The Fern House; 4 Mill Lane" in problem.sentence


def test_a_layout_may_slant_what_is_no_name():
    field = Field(("clone",), 0, 0, 30, 4, italic=True)
    (mark,) = texts(vial(), Layout("i", "I", Kind.VIAL, 30, 4, (field,)))
    assert mark.face == fonts.ITALIC


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(sheets_for(Kind.VIAL)),
    st.sampled_from(NAMES),
    st.text("abcdefgh ", min_size=1, max_size=60).filter(str.strip),
)
def test_whatever_is_written_is_printed_whole_or_told(sheet, name, clone):
    label = VialLabel(codes.make("V", "K7F", 1), name, clone, PartDate(2019, 8, 14), "1 mg")
    made = vials(label, sheet=sheet)
    told = " ".join(problem.sentence for problem in preflight(made))
    printed = words(label, made.layout)
    for word in clone.split():
        assert word in printed or word in told
