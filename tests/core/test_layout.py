from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.errors import Refusal
from sporebank.core.layout import (
    FLOOR,
    LARGEST,
    TEXTS,
    Align,
    Field,
    Kind,
    Layout,
    choose,
    faults,
    fits,
    problems,
    require_fit,
    suits,
)
from sporebank.core.sheets import Sheet, roll

SYMBOL = Field(("symbol",), 0, 1, 10, 10)
NAME = Field(("name",), 10, 1, 22, 5, 8, 4.5, lines=2)
CODE = Field(("code",), 10, 8, 22, 3, strong=True)


def layout(*fields, kind=Kind.VIAL, width=33.0, height=12.5, **more):
    return Layout("t", "T", kind, width, height, fields or (SYMBOL, NAME, CODE), **more)


def test_a_sound_layout_has_no_problems():
    assert problems(layout()) == ()


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"x": 12.2}, "“name” lies outside the label by 1.2 mm, at the right."),
        ({"y": -0.5}, "“name” lies outside the label by 0.5 mm, at the top."),
        ({"height": 8}, "“name” and “code” overlap by 22.0 × 1.0 mm."),
        ({"x": 8, "width": 20}, "“symbol” and “name” overlap by 2.0 × 5.0 mm."),
        ({"largest": 4, "smallest": 5}, "“name”: the largest size of 4 pt is below the smallest of 5 pt."),
        ({"smallest": 3}, "“name”: 3 pt cannot be read; the smallest size is at least 4 pt."),
        ({"turn": 45}, "“name”: a field is turned by 0 or 90 degrees, not 45."),
        ({"lines": 7}, "“name”: a field has from 1 to 6 lines, not 7."),
        ({"width": 0}, "“name”: width must be more than 0, not 0."),
        ({"x": float("nan")}, "“name”: x and y must be numbers."),
        ({"height": 1.2}, "“name” is 1.20 mm high; one line of 4.5 pt takes 1.71 mm."),
        ({"show": ("title",)}, "labels of the kind vial show symbol, code, tag, serial, name"),
        ({"show": ()}, "not nothing."),
    ],
)
def test_what_is_wrong_with_a_field_is_said_with_its_number(changed, says):
    (found,) = problems(layout(SYMBOL, replace(NAME, **changed), CODE))
    assert says in found


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        (layout(width=0), "not 0 × 12.5 mm"),
        (layout(width=float("inf")), "not inf × 12.5 mm"),
        (layout(stem=-1), "stem -1 mm"),
        (layout(stem=5), "“name” lies on the stem by 4.0 mm, at the right."),
        (layout(stem=40), "stem of 40 mm leaves nothing"),
        (layout(SYMBOL, NAME), "The code must stand in letters beside the symbol"),
        (layout(NAME, CODE), "The symbol is missing"),
        (layout(NAME, kind=Kind.ADDRESS), "labels of the kind address show address"),
        (layout(replace(SYMBOL, width=7.2, height=9), NAME, CODE), "“symbol” is 7.2 mm wide; a code takes 7.25 mm"),
        (layout(replace(SYMBOL, show=("symbol", "clone")), NAME, CODE), "stands in a field of its own"),
        (layout(width=33.0, height=12.5, round=True), "A round label is as wide as high, not 33 × 12.5 mm."),
        (layout(SYMBOL, CODE, width=34.0, height=34.0, round=True), "“symbol” lies outside the round label by 6.3 mm."),
    ],
)
def test_what_is_wrong_with_a_label_is_said(wrong, says):
    assert any(says in sentence for sentence in problems(wrong)), problems(wrong)


@pytest.mark.parametrize(
    ("changed", "number"),
    [
        ({"x": 12.2}, "x"),
        ({"x": -1, "width": 40}, "x width"),
        ({"width": 40}, "width"),
        ({"y": -0.5}, "y"),
        ({"y": 9}, "y y"),
        ({"x": 8}, "x"),
        ({"largest": 4, "smallest": 5}, "largest"),
        ({"largest": float("inf")}, "largest"),
        ({"smallest": 3}, "smallest"),
        ({"height": 1.2}, "height"),
        ({"turn": 90, "width": 1.2}, "width"),
        ({"lines": 7}, "lines"),
        ({"show": ()}, "show"),
    ],
)
def test_a_fault_names_the_number_and_the_field(changed, number):
    found = faults(layout(SYMBOL, replace(NAME, **changed), CODE))
    assert set(number.split()) <= {fault.number for fault in found}
    assert all(1 in fault.places for fault in found)


@pytest.mark.parametrize(
    ("wrong", "number"),
    [
        (layout(width=0), "width"),
        (layout(height=LARGEST + 1), "height"),
        (layout(stem=-1), "stem"),
        (layout(stem=40), "stem"),
        (layout(NAME), "fields"),
        (layout(width=33.0, height=12.5, round=True), "height"),
    ],
)
def test_a_fault_of_the_label_has_no_field(wrong, number):
    assert (number, ()) in {(fault.number, fault.places) for fault in faults(wrong)}


def test_a_label_too_small_for_its_code_is_to_blame_and_not_its_fields():
    """ISO/IEC 18004: 21 modules and 4 of quiet zone on each side; 29 of 0.25 mm are 7.25 mm (arithmetic)."""
    (fault,) = faults(layout(SYMBOL, NAME, CODE, height=5))
    assert (fault.number, fault.places) == ("height", ())
    assert fault.sentence.startswith("A label whose height is 5 mm has no room for a code, which takes 7.25 mm: 29")
    assert all(one.places for one in faults(layout(height=7.25)))
    assert problems(Layout("t", "T", Kind.ADDRESS, 30, 5, (Field(("address",), 0, 0, 30, 5),))) == ()


def test_two_fields_that_overlap_are_both_named():
    (fault,) = faults(layout(SYMBOL, replace(NAME, height=8), CODE))
    assert (fault.number, fault.places) == ("y", (1, 2))


def test_a_layout_without_fields_says_so():
    assert "The layout has no fields; add one." in problems(Layout("t", "T", Kind.ADDRESS, 30, 20, ()))


def test_tag_and_serial_stand_for_the_code():
    halves = (Field(("tag",), 10, 7, 11, 3), Field(("serial",), 21, 7, 11, 3))
    assert problems(layout(SYMBOL, NAME, *halves)) == ()


def test_a_turned_field_has_its_room_along_the_text():
    turned = Field(("name",), 10, 1, 3, 11, turn=90)
    assert (turned.box.width, turned.box.height) == (11, 3)
    assert problems(layout(SYMBOL, turned, replace(CODE, x=14, width=18))) == ()


def test_the_stem_of_an_upright_tag_is_its_lower_end():
    tag = layout(
        Field(("symbol",), 1, 1, 13, 13), Field(("code",), 1, 80, 13, 3), kind=Kind.POT_UPRIGHT, width=15, height=125,
        stem=45,
    )  # fmt: skip
    assert problems(tag) == ("“code” lies on the stem by 3.0 mm, at the bottom.",)


def test_the_rule_for_other_sizes_is_whole_or_not_at_all():
    assert fits(layout(), roll("r", "r", 33, 12.5))
    assert not fits(layout(), roll("r", "r", 32.9, 13))
    dot = roll("d", "d", 36, 36, round=True)
    assert fits(layout(), dot)  # its diagonal is 35.3 mm
    assert not fits(layout(), roll("d", "d", 35, 35, round=True))
    assert fits(layout(width=36.0, height=36.0, round=True), dot)


def test_the_largest_that_fits_is_chosen():
    small, large = layout(), layout(width=38.0, height=12.5)
    other = layout(kind=Kind.CAP, width=40.0)
    every = (small, other, large)
    assert choose(every, Kind.VIAL, roll("r", "r", 40, 13)) is large
    assert choose(every, Kind.VIAL, roll("r", "r", 35, 13)) is small
    assert suits(every, Kind.VIAL, roll("r", "r", 40, 20))
    assert not suits(every, Kind.VIAL, roll("r", "r", 40, 30))
    assert not suits(every, Kind.VIAL, roll("r", "r", 30, 10))


def test_what_does_not_fit_is_refused_with_the_numbers():
    tiny = roll("r", "r", 20, 10)
    with pytest.raises(Refusal, match="20 × 10 mm is too small for the vial layout “T”, which takes 33 × 12.5 mm"):
        choose((layout(),), Kind.VIAL, tiny)
    with pytest.raises(Refusal, match="no layout for box labels"):
        choose((layout(),), Kind.BOX, tiny)
    with pytest.raises(Refusal, match="10 mm round is too small"):
        require_fit(layout(), roll("r", "r", 10, 10, round=True))
    with pytest.raises(Refusal, match="outside the label by 9.0 mm"):
        require_fit(layout(SYMBOL, replace(NAME, x=20), CODE), roll("r", "r", 40, 13))


def test_every_kind_may_show_something_and_nothing_twice():
    assert set(TEXTS) == set(Kind)
    for keys in TEXTS.values():
        assert len(keys) == len(set(keys)) > 0


@given(
    st.lists(
        st.builds(
            Field,
            st.sampled_from([("name",), ("clone", "collected"), ("code",)]),
            st.floats(-5, 40), st.floats(-5, 20), st.floats(0, 40), st.floats(0, 20),
            largest=st.floats(3, 10), smallest=st.floats(3, 10), align=st.sampled_from(Align),
        ),
        max_size=5,
    )
)  # fmt: skip
def test_a_layout_without_problems_is_inside_and_without_overlaps(fields):
    one = layout(SYMBOL, CODE, *fields)
    if problems(one):
        return
    for a in one.fields:
        assert a.rect.left >= -0.011
        assert a.rect.right <= one.width + 0.011
        assert a.rect.top >= -0.011
        assert a.rect.bottom <= one.height + 0.011
        assert FLOOR <= a.smallest <= a.largest


def test_sheets_and_layouts_are_measured_alike():
    grid = Sheet("g", "g", 210, 297, 5, 19, 35.0, 12.5, 13.0, 16.5, 37.0, 14.0)
    assert fits(layout(), grid)
