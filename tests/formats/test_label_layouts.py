import pytest

from sporebank.core.errors import Refusal
from sporebank.core.layout import Kind, fits, problems
from sporebank.formats.label_layouts import (
    as_entry,
    layout_for,
    layout_from,
    load_label_layouts,
    read_label_layouts,
    sheets_for,
)
from sporebank.formats.label_sheets import load_label_sheets

LAYOUTS = load_label_layouts()


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.id)
def test_every_layout_is_sound(layout):
    assert problems(layout) == ()
    assert "mm" in layout.title


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: layout.id)
def test_every_layout_can_be_stored_as_plain_values(layout):
    assert layout_from(as_entry(layout)) == layout


@pytest.mark.parametrize("kind", Kind)
def test_every_kind_has_sheets_and_each_has_a_layout(kind):
    sheets = sheets_for(kind)
    assert sheets
    assert all(fits(layout_for(kind, sheet), sheet) for sheet in sheets)


def test_every_sheet_is_good_for_something_and_every_layout_has_a_sheet():
    assert {sheet for kind in Kind for sheet in sheets_for(kind)} == set(load_label_sheets())
    assert {layout_for(kind, sheet) for kind in Kind for sheet in sheets_for(kind)} == set(LAYOUTS)


GOOD = """[[layout]]
id = "x"
title = "x"
kind = "address"
size = [50, 20]
fields = [{ show = ["address"], at = [2, 2, 46, 16], lines = 4, align = "centre" }]
"""


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (GOOD.replace("size = [50, 20]\n", ""), "Layout x is not complete or not known: 'size'"),
        (GOOD.replace('"address"\n', '"postcard"\n'), "Layout x is not complete or not known"),
        (GOOD.replace('"centre"', '"middle"'), "Layout x is not complete or not known"),
        (GOOD.replace("lines = 4", "colour = 4"), "Layout x is not complete or not known"),
        (GOOD.replace("46, 16", "49, 16"), "Layout x: “address” lies outside the label by 1.0 mm"),
        (GOOD + GOOD, "two entries called x"),
        ("[[layout", "cannot be read"),
    ],
)
def test_bad_files_are_refused_with_the_place(tmp_path, text, says):
    file = tmp_path / "layouts.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(Refusal, match=says):
        read_label_layouts(file)


def test_own_layouts_are_read(tmp_path):
    file = tmp_path / "layouts.toml"
    file.write_text(GOOD, encoding="utf-8")
    assert read_label_layouts(file)[0].fields[0].lines == 4
