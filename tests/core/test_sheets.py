from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.errors import Refusal
from sporebank.core.records import Run
from sporebank.core.sheets import Rect, Sheet, block_height, cell, fit, pages_needed, usable


def sheet(**changes):
    numbers = {
        "id": "t", "title": "t", "paper_width": 210, "paper_height": 297, "columns": 5, "rows": 13,
        "label_width": 38.1, "label_height": 21.2, "left": 4.75, "top": 10.7, "pitch_x": 40.6, "pitch_y": 21.2,
    }  # fmt: skip
    return Sheet(**(numbers | changes))


def plain_measure(line, condensed):
    return sum(len(run.text) for run in line) * (0.1 if condensed else 0.2)


def runs(text):
    return (Run(text),)


@st.composite
def sheets(draw):
    length = st.floats(5, 60)
    gap = st.floats(0, 5)
    columns, rows = draw(st.integers(1, 9)), draw(st.integers(1, 12))
    width, height = draw(length), draw(length)
    left, top = draw(gap), draw(gap)
    pitch_x, pitch_y = width + draw(gap), height + draw(gap)
    return Sheet(
        "h", "h", left + columns * pitch_x, top + rows * pitch_y, columns, rows, width, height,
        left, top, pitch_x, pitch_y,
    )  # fmt: skip


@given(sheets())
def test_cells_lie_on_the_paper_and_never_overlap(one):
    cells = [cell(one, index) for index in range(one.cells)]
    for rect in cells:
        assert rect.left >= 0
        assert rect.top >= 0
        assert rect.right <= one.paper_width + 0.02
        assert rect.bottom <= one.paper_height + 0.02
    for a, b in combinations(cells[: one.columns + 2], 2):
        apart = a.right <= b.left + 1e-9 or b.right <= a.left + 1e-9
        assert apart or a.bottom <= b.top + 1e-9 or b.bottom <= a.top + 1e-9


def test_cells_run_along_the_rows():
    assert cell(sheet(), 0) == Rect(4.75, 10.7, 38.1, 21.2)
    assert cell(sheet(), 1).left == pytest.approx(45.35)
    assert cell(sheet(), 5).top == pytest.approx(31.9)
    assert cell(sheet(), 64).right == pytest.approx(4.75 + 4 * 40.6 + 38.1)


@pytest.mark.parametrize("index", [-1, 65])
def test_a_cell_that_is_not_there_is_refused_beside_its_field(index):
    with pytest.raises(Refusal, match="from 1 to 65") as refused:
        cell(sheet(), index)
    assert refused.value.field == "first_cell"


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"pitch_x": 38.0}, "pitch_x 38 mm is less than the label's 38.1 mm"),
        ({"pitch_y": 20.0}, "pitch_y 20 mm is less"),
        ({"columns": 6}, "6 columns reach to 245.85 mm, past the paper's 210 mm"),
        ({"top": 30}, "13 rows reach to 305.60 mm"),
        ({"rows": 0}, "rows must be more than 0"),
        ({"label_width": float("nan")}, "label_width must be more than 0"),
        ({"left": -1}, "margin cannot be less"),
        ({"round": True}, "round label needs the same"),
        ({"roll": True}, "a roll has one label a page"),
        ({"stem": 39}, "stem 39 mm leaves nothing"),
    ],
)
def test_a_sheet_that_contradicts_itself_is_refused_with_the_number(changes, says):
    with pytest.raises(Refusal, match=says):
        sheet(**changes)


@pytest.mark.parametrize(
    ("labels", "first", "pages"), [(0, 0, 0), (1, 0, 1), (65, 0, 1), (66, 0, 2), (1, 64, 1), (2, 64, 2), (400, 10, 7)]
)
def test_pages_needed_counts_from_the_first_free_cell(labels, first, pages):
    assert pages_needed(sheet(), labels, first) == pages


def test_print_stays_off_the_stem_and_inside_a_round_label():
    tag = Sheet("r", "r", 125, 15, 1, 1, 125, 15, roll=True, stem=45)
    assert usable(tag, Rect(0, 0, 125, 15)) == Rect(0, 0, 80, 15)
    dot = Sheet("o", "o", 30, 30, 1, 1, 20, 20, round=True)
    square = usable(dot, Rect(0, 0, 20, 20))
    corner = ((square.left - 10) ** 2 + (square.top - 10) ** 2) ** 0.5
    assert corner == pytest.approx(10)


def test_text_is_shrunk_then_condensed_then_abbreviated_then_given_up():
    wordings = (runs("abcdefghij"), runs("abcde"))  # 10 signs are 2 mm a point wide, condensed 1 mm
    sizes = (8, 6, 5)
    asked = {"height": 10, "sizes": sizes, "measure": plain_measure}
    assert fit(wordings, 16, **asked).size == 8
    shrunk = fit(wordings, 10, **asked)
    assert (shrunk.size, shrunk.condensed, shrunk.candidate) == (5, False, 0)
    condensed = fit(wordings, 8, **asked)
    assert (condensed.size, condensed.condensed, condensed.candidate) == (8, True, 0)
    shortened = fit(wordings, 4.9, **asked)
    assert (shortened.condensed, shortened.candidate) == (True, 1)
    assert fit(wordings, 2, **asked) is None


def test_text_that_is_too_tall_is_given_up():
    assert fit((runs("a"),), 100, block_height(1, 5) - 0.01, (5,), plain_measure) is None
    assert fit((runs("a"),), 100, block_height(1, 5), (5,), plain_measure) is not None


def test_lines_break_evenly_and_ranks_stay_with_their_epithet():
    name = (Run("Athyrium filix-femina ", True), Run("var. "), Run("angustum ", True), Run("ex 'Lady in Red'"))
    broken = fit((name,), 25, 30, (5,), plain_measure, lines=3)
    texts = ["".join(run.text for run in line).strip() for line in broken.lines]
    assert texts == ["Athyrium filix-femina", "var. angustum", "ex 'Lady in Red'"]
    assert broken.lines[1] == (Run("var. "), Run("angustum", True))


def test_a_dot_between_two_things_never_hangs_at_the_end_of_a_line():
    broken = fit((runs("DS-03 · 2019"),), 5, 30, (5,), plain_measure, lines=2)
    assert broken.lines == ((Run("DS-03"),), (Run("2019"),))


@given(
    st.lists(st.text("abc", min_size=1, max_size=8), min_size=1, max_size=6),
    st.floats(1, 40),
    st.floats(1, 20),
    st.integers(1, 3),
)
def test_whatever_fits_is_whole_and_inside_its_box(words, width, height, lines):
    text = runs(" ".join(words))
    fitted = fit((text,), width, height, (8, 6, 5), plain_measure, lines)
    if fitted is not None:
        assert " ".join("".join(run.text for run in line) for line in fitted.lines) == text[0].text
        assert fitted.height <= height + 1e-6
        assert all(plain_measure(line, fitted.condensed) * fitted.size <= width for line in fitted.lines)
