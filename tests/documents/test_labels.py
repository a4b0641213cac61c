import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.core import codes, names
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.papers import VialLabel
from sporebank.core.records import TaxonName
from sporebank.core.sheets import Sheet
from sporebank.documents import fonts
from sporebank.documents.drawing import Fill, Text
from sporebank.documents.labels import layout_labels, preview, render
from sporebank.documents.qr import SMALLEST_MODULE
from sporebank.documents.setting import FLOOR
from sporebank.formats.label_sheets import load_label_sheets, sheet_by_id
from tests.documents.examples import (
    CAUTION,
    LABELS,
    LONG,
    NAMES,
    fonts_used,
    pictures,
    pot,
    symbols,
    text_of,
    vial,
)

CAP_HEIGHT = 0.714
"""Of the size: the height of capitals in Noto Sans (its OS/2 table, in units of 1000)."""
USES = [(sheet, use) for sheet in load_label_sheets() for use in sheet.uses]
ids = [f"{sheet.id}-{use}" for sheet, use in USES]


def labels_for(use, count=8):
    return [LABELS[use](i) for i in range(count)]


def texts(cell):
    return [mark for mark in cell.marks if isinstance(mark, Text)]


def words(cell):
    return " ".join(mark.text.strip() for mark in texts(cell))


@pytest.mark.parametrize(("sheet", "use"), USES, ids=ids)
def test_every_symbol_reads_back_at_203_and_300_dpi_and_in_pure_black(sheet, use):
    labels = labels_for(use)
    printed = render(layout_labels(labels, sheet))
    expected = sorted(label.code for label in labels)
    for dpi in (203, 300):
        pages = pictures(printed, dpi)
        assert symbols(pages) == expected
        thermal = [page.point(lambda grey: 255 * (grey > 127)) for page in pages]
        assert symbols(thermal) == expected


@pytest.mark.parametrize(("sheet", "use"), USES, ids=ids)
def test_nothing_ordinary_is_a_problem_and_all_is_legible(sheet, use):
    layout = layout_labels(labels_for(use), sheet)
    assert layout.problems == ()
    for cell in layout.cells:
        assert min(mark.size for mark in texts(cell)) >= FLOOR
        assert cell.symbol.module >= SMALLEST_MODULE
        assert codes.grouped(cell.code) in words(cell)


@pytest.mark.parametrize(("sheet", "use"), USES, ids=ids)
def test_all_marks_stay_in_their_cell(sheet, use):
    for cell in layout_labels(labels_for(use), sheet).cells:
        for mark in texts(cell):
            right = mark.x + fonts.text_width(mark.text.rstrip(), mark.face, mark.size)
            top = mark.baseline - CAP_HEIGHT * mark.size * 25.4 / 72
            assert cell.rect.left <= mark.x
            assert right <= cell.rect.right - sheet.stem + 1e-6
            assert cell.rect.top <= top
            assert mark.baseline <= cell.rect.bottom
        for mark in cell.marks:
            if isinstance(mark, Fill):
                assert all(cell.rect.left < bar.left for bar in mark.rects)
                assert all(bar.bottom < cell.rect.bottom for bar in mark.rects)


def test_text_reads_back_from_the_pdf_in_three_scripts():
    read = text_of(render(layout_labels(labels_for("vial"), sheet_by_id("a4-4x16"))))
    assert "Asplenium scolopendrium" in read
    assert "×intermedia" in read
    assert "Тайная Жар-птица" in read
    assert "Ωραία Πτέρις" in read
    assert "14 Aug 2019" in read
    assert "14.2 mg" in read
    assert codes.grouped(vial(3).code) in read


def test_only_embedded_fonts_are_used():
    printed = render(layout_labels(labels_for("packet"), sheet_by_id("a4-3x8")))
    used = fonts_used(printed)
    assert all(embedded for _, embedded in used)
    assert {name.split("+")[-1] for name, _ in used} <= set(fonts.FACES)
    assert b"/Helvetica" not in printed


def test_the_same_labels_give_the_same_bytes_that_ask_for_true_size():
    layout = layout_labels([vial()], sheet_by_id("roll-33x13"))
    printed = render(layout, "Vial labels", "The Alder Carr spore bank")
    assert printed == render(layout, "Vial labels", "The Alder Carr spore bank")
    assert b"/PrintScaling /None" in printed
    assert b"/Lang" in printed
    assert b"Vial labels" in printed


def test_italics_are_where_the_code_of_nomenclature_wants_them():
    """Genus and epithets italic, ranks, ×, ex and cultivars upright (ICN, preface; ICNCP art. 14, from memory)."""
    cell = layout_labels([vial(2)], sheet_by_id("a4-3x7")).cells[0]
    italic = " ".join(mark.text.strip() for mark in texts(cell) if "Italic" in mark.face)
    assert italic == "Athyrium filix-femina angustum"
    hybrid = layout_labels([vial(1)], sheet_by_id("a4-3x7")).cells[0]
    assert [mark.text for mark in texts(hybrid) if "Italic" in mark.face] == ["Dryopteris ", "intermedia"]


def test_the_first_dark_module_lies_where_the_sheet_says():
    printed = render(layout_labels([vial()], sheet_by_id("a4-5x13"), first_cell=6))
    picture = pictures(printed, 254)[0]  # ten dots a millimetre
    dark = picture.point(lambda grey: 255 * (grey < 128)).getbbox()
    assert dark[0] / 10 == pytest.approx(4.75 + 40.6 + 4 * 0.5, abs=0.15)
    assert 10.7 + 21.2 < dark[1] / 10 < 10.7 + 21.2 + 4


def test_first_free_cell_copies_and_order():
    layout = layout_labels([vial(0), vial(1)], sheet_by_id("a4-5x13"), first_cell=63, copies=2)
    assert [(cell.page, cell.label) for cell in layout.cells] == [(0, 0), (0, 0), (1, 1), (1, 1)]
    assert layout.pages == 2
    assert layout.cells[2].rect.left == 4.75
    with pytest.raises(Refusal, match="first free label"):
        layout_labels([vial()], sheet_by_id("a4-5x13"), first_cell=65)
    with pytest.raises(Refusal, match="copies"):
        layout_labels([vial()], sheet_by_id("a4-5x13"), copies=0)


def test_four_hundred_labels_take_their_pages_and_none_is_refused():
    labels = [vial(i) for i in range(400)]
    layout = layout_labels(labels, sheet_by_id("a4-5x13"))
    assert layout.pages == 7
    assert len({(cell.page, cell.rect) for cell in layout.cells}) == 400
    with pytest.raises(Refusal, match="no labels"):
        render(layout_labels([], sheet_by_id("a4-5x13")))


def test_the_preview_shows_what_is_printed_and_every_outline():
    layout = layout_labels([vial(), vial(1)], sheet_by_id("letter-7x9-round"), first_cell=62)
    pages = preview(layout)
    assert [len(page.outlines) for page in pages] == [63, 63]
    assert pages[0].round
    assert pages[0].marks == layout.cells[0].marks
    assert all(fonts.font_file(mark.face).is_file() for mark in pages[1].marks if isinstance(mark, Text))


def test_a_long_name_is_abbreviated_but_its_cultivar_never_cut():
    name = TaxonName("Polystichum", "setiferum", group="Plumosomultilobum", cultivar="Gracillimum")
    cell = layout_labels([vial(0, name)], sheet_by_id("a4-7x27")).cells[0]
    joined = words(cell)
    assert "setiferum" in joined
    assert "'Gracillimum'" in joined
    assert "Aug 2019" in joined


def test_a_name_too_long_is_told_before_printing_and_left_out_whole():
    endless = TaxonName("Polypodium", "cambricum", cultivar="Trailing Star of the Long Western Cliffs and Slow Sea")
    layout = layout_labels([vial(), vial(1, endless)], sheet_by_id("a4-7x27"))
    assert [(problem.label, problem.code) for problem in layout.problems] == [(1, vial(1).code)]
    assert names.text(endless) in layout.problems[0].sentence
    assert (
        "\N{NO-BREAK SPACE}" not in layout_labels([vial(clone="x" * 60)], sheet_by_id("a4-7x27")).problems[0].sentence
    )
    assert "Trailing" not in words(layout.cells[1])
    assert codes.grouped(vial(1).code) in words(layout.cells[1])
    assert layout_labels([vial(1, endless)], sheet_by_id("a4-5x13")).problems == ()


@pytest.mark.parametrize("sheet", load_label_sheets(), ids=lambda sheet: sheet.id)
def test_a_name_of_sixty_characters_fits_every_sheet(sheet):
    assert len(names.text(LONG)) >= 60
    layout = layout_labels([vial(0, LONG)], sheet)
    assert layout.problems == ()
    assert "Western Cliffs" in " ".join(words(layout.cells[0]).split())


def test_a_place_without_room_is_missed_by_nobody():
    layout = layout_labels([vial(0, LONG, place="Cold room of the far house / " * 4)], sheet_by_id("a4-5x16"))
    assert layout.problems == ()


def test_a_missing_glyph_is_told_and_no_box_is_printed():
    layout = layout_labels([vial(0, TaxonName("Adiantum", "reniforme", cultivar="荷叶"))], sheet_by_id("a4-5x13"))
    assert len(layout.problems) == 1
    assert "荷 (U+8377)" in layout.problems[0].sentence
    assert "荷" not in text_of(render(layout))
    assert "DS-03" in words(layout.cells[0])


def test_a_label_too_small_for_a_symbol_is_told_and_keeps_its_letters():
    tiny = Sheet("tiny", "tiny", 30, 6, 1, 1, 30, 6)
    layout = layout_labels([vial()], tiny)
    assert "too small for a symbol" in layout.problems[0].sentence
    assert layout.cells[0].symbol is None
    assert codes.grouped(vial().code) in words(layout.cells[0])


def test_a_label_too_small_for_anything_prints_nothing_and_says_all():
    layout = layout_labels([vial()], Sheet("dot", "dot", 3, 3, 1, 1, 3, 3))
    assert len(layout.problems) == 4  # symbol, code, name, clone and date
    assert layout.cells[0].marks == ()


def test_packets_carry_their_caution_and_pots_their_batch():
    packet = LABELS["packet"](1)
    read = text_of(render(layout_labels([packet], sheet_by_id("a4-3x8"))))
    assert CAUTION in read
    assert "62 % alive" in read
    assert f"{codes.grouped(packet.parcel)}, line 2" in read
    for sheet in ("roll-125x15", "a4-5x16"):
        read = text_of(render(layout_labels([pot()], sheet_by_id(sheet))))
        assert "sown 3 Mar 2026" in read
        assert f"from {codes.grouped(pot().batch)}" in read


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(load_label_sheets()),
    st.sampled_from(NAMES),
    st.text("abcdefgh ", min_size=1, max_size=60).filter(str.strip),
)
def test_whatever_is_written_is_printed_whole_or_told(sheet, name, clone):
    label = VialLabel(codes.make("V", "K7F", 1), name, clone, PartDate(2019, 8, 14), "1 mg")
    layout = layout_labels([label], sheet)
    told = " ".join(problem.sentence for problem in layout.problems)
    printed = words(layout.cells[0])
    for word in clone.split():
        assert word in printed or word in told
