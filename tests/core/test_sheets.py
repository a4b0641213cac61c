from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.errors import Refusal
from sporebank.core.sheets import (
    CROSS,
    SMALLEST_MODULE,
    PrinterFit,
    Rect,
    Sheet,
    cell,
    fitted_to_page,
    next_free,
    pages_needed,
    roll,
)


def sheet(**changes):
    numbers = {
        "id": "t", "title": "t", "paper_width": 210, "paper_height": 297, "columns": 5, "rows": 13,
        "label_width": 38.1, "label_height": 21.2, "left": 4.75, "top": 10.7, "pitch_x": 40.6, "pitch_y": 21.2,
    }  # fmt: skip
    return Sheet(**(numbers | changes))


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
    ("changes", "says", "field"),
    [
        ({"pitch_x": 38.0}, "the pitch across of 38 mm is less than the label's 38.1 mm", "pitch_x"),
        ({"pitch_y": 20.0}, "the pitch down of 20 mm is less", "pitch_y"),
        ({"pitch_y": float("nan")}, "the pitch down of nan mm", "pitch_y"),
        ({"columns": 6}, "6 columns reach to 245.85 mm, past the paper's 210 mm", "columns"),
        ({"top": 30}, "13 rows reach to 305.60 mm", "rows"),
        ({"label_width": 500}, "the label's width of 500 mm reaches past the paper's 210 mm", "label_width"),
        ({"label_height": 298}, "the label's height of 298 mm reaches past the paper's 297 mm", "label_height"),
        ({"top": 290}, "the upper margin of 290 mm and a label of 21.2 mm reach to 311.20 mm, past", "top"),
        ({"left": float("inf")}, "the left margin of inf mm and a label of 38.1 mm reach", "left"),
        ({"pitch_x": 180}, "the pitch across of 180 mm sets the second label to 222.85 mm, past", "pitch_x"),
        ({"pitch_y": float("inf")}, "the pitch down of inf mm sets the second label", "pitch_y"),
        ({"rows": 0}, "the number of rows must be more than 0", "rows"),
        ({"columns": 2.5}, "Label sheet .*: the number of columns must be a whole number, not 2.5", "columns"),
        ({"rows": 12.5}, "the number of rows must be a whole number, not 12.5", "rows"),
        ({"label_width": float("nan")}, "the label's width must be more than 0", "label_width"),
        ({"left": -1}, "the left margin cannot be less than 0 mm; it is -1 mm", "left"),
        ({"top": float("nan")}, "the upper margin cannot be less", "top"),
        ({"round": True}, "a round label needs the same width and height, not 38.1 and 21.2 mm", "label_height"),
        ({"roll": True}, "a roll has one label a page", "columns"),
    ],
)
def test_a_sheet_that_contradicts_itself_is_refused_with_the_number(changes, says, field):
    with pytest.raises(Refusal, match=says) as refused:
        sheet(**changes)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("labels", "first", "pages"), [(0, 0, 0), (1, 0, 1), (65, 0, 1), (66, 0, 2), (1, 64, 1), (2, 64, 2), (400, 10, 7)]
)
def test_pages_needed_counts_from_the_first_free_cell(labels, first, pages):
    assert pages_needed(sheet(), labels, first) == pages


@given(sheets(), st.integers(0, 10_000), st.integers(1, 10_000))
def test_the_next_print_begins_where_the_last_one_ended(one, first, labels):
    first %= one.cells
    begins = next_free(one, first, labels)
    assert begins == (
        0 if first + labels == pages_needed(one, labels, first) * one.cells else (first + labels) % one.cells
    )
    assert cell(one, begins)


def test_a_roll_is_one_label_a_page():
    wrap = roll("w", "w", 33, 13)
    assert cell(wrap, 0) == Rect(0, 0, 33, 13)
    assert (wrap.cells, wrap.paper_width, wrap.paper_height) == (1, 33, 13)
    with pytest.raises(Refusal, match="height must be more than 0, not 0"):
        roll("w", "w", 33, 0)


def test_a_printer_is_put_right_by_what_its_rulers_measure():
    """A printer that makes 100 mm into 99.5 across and 100.4 down prints true once stretched by the inverse."""
    fit = PrinterFit(across=1.5, down=-0.5).measured(99.5, 100.4)
    assert fit.scale_x * 0.995 == pytest.approx(1)
    assert fit.scale_y * 1.004 == pytest.approx(1)
    assert (fit.across, fit.down) == (1.5, -0.5)
    placed = fit.placed(Rect(100, 200, 40, 20))
    assert (placed.left, placed.top) == pytest.approx((100 / 0.995 + 1.5, 200 / 1.004 - 0.5))
    assert fit.measured(100, 100) == fit


@pytest.mark.parametrize(
    ("fit", "said"),
    [
        (PrinterFit(), "not moved; scale 1.0000 across and 1.0000 down"),
        (PrinterFit(0.4, -0.3, 1.002), "moved 0.4 mm to the right, 0.3 mm up; scale 1.0020 across and 1.0000 down"),
        (PrinterFit(-1, 0.001), "moved 1 mm to the left; scale 1.0000 across and 1.0000 down"),
    ],
)
def test_a_printer_says_which_way_it_moves(fit, said):
    assert fit.said == said


@given(st.floats(96, 104), st.floats(96, 104))
def test_a_second_test_page_proves_or_mends_the_first(x, again):
    first = PrinterFit().measured(x, 100)
    second = first.measured(again, 100)
    assert second.scale_x * again == pytest.approx(first.scale_x * 100)


def test_what_is_measured_on_a_page_is_worked_out_by_hand():
    """Our own arithmetic: 99.2 mm for 100 wants a stretch of 1.00806; a cross at 16.1 mm lies 1.1 too far right."""
    fit = PrinterFit().measured(99.2, 100, 16.1, 14.5)
    assert (fit.scale_x, fit.scale_y) == pytest.approx((100 / 99.2, 1))
    assert fit.across == pytest.approx(15 - 16.1 * 100 / 99.2)
    assert fit.down == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("rulers", "share"),
    [
        ((96.5, 96.5), -0.035),
        ((94, 94), -0.06),
        ((103.6, 103.8), 0.037),
        ((96.5, 96.8), -0.0335),
        ((96.5, 96.9), 0),
        ((99, 99), 0),
        ((99.2, 99.3), 0),
        ((98.5, 101.5), 0),
        ((100, 100), 0),
    ],
)
def test_a_page_that_is_off_alike_both_ways_looks_fitted(rulers, share):
    assert fitted_to_page(*rulers) == pytest.approx(share)


@given(st.floats(3, 10))
def test_a_page_fitted_into_margins_is_told(margin):
    """ISO 216: A4 is 210 mm by 297 mm; fitted, it shrinks both ways by what its narrower side needs (arithmetic)."""
    ruler = 100 * min((210 - 2 * margin) / 210, (297 - 2 * margin) / 297)
    assert fitted_to_page(round(ruler, 1), round(ruler, 1)) == pytest.approx(-2 * margin / 210, abs=0.001)


_errors = st.floats(0.97, 1.03)
_shifts = st.floats(-4, 4)


@given(_errors, _errors, _shifts, _shifts, _shifts, _errors)
def test_whatever_a_printer_does_is_put_right_by_its_test_page(stretch_x, stretch_y, right, lower, moved, scaled):
    """A printer that stretches and moves everything prints all in its place once its page was measured."""

    def printed(fit, x, y):
        placed = fit.placed(Rect(x, y, 0, 0))
        return placed.left * stretch_x + right, placed.top * stretch_y + lower

    before = PrinterFit(moved, -moved, scaled, 1 / scaled)
    (x0, y0), (x1, y1), cross = printed(before, 50, 60), printed(before, 150, 160), printed(before, CROSS, CROSS)
    fit = before.measured(x1 - x0, y1 - y0, *cross)
    for place in ((CROSS, CROSS), (0, 0), (105, 148.5), (195, 282)):
        assert printed(fit, *place) == pytest.approx(place, abs=1e-6)


@pytest.mark.parametrize(
    ("changes", "says", "field"),
    [
        ({"across": 26}, "moved by up to 25 mm, not by 26 mm", "across"),
        ({"down": float("nan")}, "moved by up to 25 mm", "down"),
        ({"scale_x": 0.8}, "scale of 0.8 is out of reason", "scale_x"),
        ({"scale_y": 1.2}, "fit to page", "scale_y"),
        ({"dpi": 400}, "choose 203, 300 or 600", "dpi"),
    ],
)
def test_a_printer_out_of_reason_is_refused_beside_its_field(changes, says, field):
    with pytest.raises(Refusal, match=says) as refused:
        PrinterFit(**changes)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("measured", "says"),
    [
        ((0, 100), "cannot measure 0 mm"),
        ((100, 70), "out of reason"),
        ((float("nan"), 100), "cannot measure nan mm"),
        ((100, 100, 60, 15), "moved by up to 25 mm, not by -45 mm"),
        ((100, 100, 15, float("nan")), "moved by up to 25 mm"),
    ],
)
def test_a_ruler_out_of_reason_is_refused(measured, says):
    with pytest.raises(Refusal, match=says):
        PrinterFit().measured(*measured)


@pytest.mark.parametrize(
    ("dpi", "room", "dots"),
    [(203, 0.376, 3), (300, 0.339, 4), (600, 0.339, 8), (203, 0.2503, 2), (300, 0.26, 3), (600, 0.26, 6)],
)
def test_a_module_is_snapped_down_to_whole_dots(dpi, room, dots):
    """Dots of 203, 300 and 600 dpi are 0.1251, 0.0847 and 0.0423 mm: 25.4 mm over the dots of an inch (computed)."""
    assert PrinterFit(dpi=dpi).module(room) == pytest.approx(dots * 25.4 / dpi)


@given(st.sampled_from([203, 300, 600]), st.floats(0, 3))
def test_no_module_is_under_the_limit_or_over_its_room(dpi, room):
    module = PrinterFit(dpi=dpi).module(room)
    dot = 25.4 / dpi
    if module is None:
        assert room < SMALLEST_MODULE + dot
    else:
        assert SMALLEST_MODULE <= module <= room + 1e-6
        assert module / dot == pytest.approx(round(module / dot))
        assert room - module < dot + 1e-6
