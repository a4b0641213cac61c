import pytest

from sporebank.core.errors import Refusal
from sporebank.core.sheets import cell
from sporebank.formats.label_sheets import load_label_sheets, read_label_sheets, sheet_by_id

SHEETS = load_label_sheets()


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.id)
def test_every_label_lies_on_its_paper(sheet):
    for index in range(sheet.cells):
        rect = cell(sheet, index)
        assert rect.left >= 0
        assert rect.top >= 0
        assert rect.right <= sheet.paper_width + 0.02
        assert rect.bottom <= sheet.paper_height + 0.02


GRIDS = {
    "a4-5x13": 65, "a4-7x27": 189, "a4-4x12": 48, "a4-4x16": 64, "a4-5x16": 80, "a4-5x19": 95, "a4-3x8": 24,
    "a4-3x7": 21, "a4-3x8-wide": 24, "a4-4x10": 40, "a4-2x7": 14, "a4-13x18-round": 234, "letter-3x10": 30,
    "letter-4x20": 80, "letter-5x17": 85, "letter-5x20": 100, "letter-7x22": 154, "letter-2x10": 20, "letter-2x5": 10,
    "letter-9x12-round": 108, "letter-7x9-round": 63,
}  # fmt: skip
"""Labels to a page of 21 grids on A4 and Letter in common use: common practice, no source."""


def test_the_common_grids_are_there():
    counts = {sheet.id: sheet.cells for sheet in SHEETS if not sheet.roll}
    assert counts == GRIDS
    assert all(sheet.cells == 1 for sheet in SHEETS if sheet.roll)


def test_papers_are_a4_letter_or_the_roll_itself():
    """ISO 216: A4 is 210 × 297 mm; ANSI Y14.1: Letter is 8.5 × 11 in."""
    for sheet in SHEETS:
        own = (sheet.label_width, sheet.label_height)
        papers = {"a4": (210, 297), "letter": (8.5 * 25.4, 11 * 25.4), "roll": own}
        assert (sheet.paper_width, sheet.paper_height) == pytest.approx(papers[sheet.id.split("-")[0]])


def test_titles_speak_of_dimensions():
    for sheet in SHEETS:
        assert f"{sheet.label_width:g}" in sheet.title
        assert f"{sheet.label_height:g} mm" in sheet.title


def test_a_sheet_is_found_by_its_id_or_refused():
    assert sheet_by_id("a4-5x16").columns == 5
    with pytest.raises(Refusal, match="no label sheet"):
        sheet_by_id("a9")


GOOD = '[[sheet]]\nid = "x"\ntitle = "x"\npaper = [50, 20]\nlabel = [40, 15]\ncolumns = 1\nrows = 1\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (GOOD.replace("label = [40, 15]\n", ""), "Label sheet x is not complete"),
        (GOOD + "colour = 3\n", "Label sheet x is not complete or not known"),
        (GOOD.replace("[40, 15]", "[60, 15]"), "past the paper's 50 mm"),
        (GOOD + GOOD, "two entries called x"),
        ("[[sheet", "cannot be read"),
    ],
)
def test_bad_sheet_files_are_refused_with_the_place(tmp_path, text, says):
    file = tmp_path / "sheets.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(Refusal, match=says):
        read_label_sheets(file)


def test_own_sheets_are_read(tmp_path):
    file = tmp_path / "sheets.toml"
    file.write_text(GOOD, encoding="utf-8")
    assert read_label_sheets(file)[0].label_height == 15
