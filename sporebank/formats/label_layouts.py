"""The layouts of labels that travel with the program, from resources/label_layouts.toml.

`layout_for(kind, sheet)` and `sheets_for(kind)` are what a dialog needs. `layout_from(entry)` reads one layout from
plain values, `as_entry(layout)` turns it back, so that a keeper's own copy can be stored anywhere.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from sporebank.core.errors import Refusal
from sporebank.core.layout import Align, Field, Kind, Layout, Stand, choose, problems, suits
from sporebank.core.sheets import Sheet
from sporebank.formats.label_sheets import entries, load_label_sheets, refuse_doubles
from sporebank.paths import resources

_WAYS = ("lines", "align", "stand", "turn", "strong", "italic", "whole", "mandatory")


@cache
def load_label_layouts() -> tuple[Layout, ...]:
    """Return the layouts in the order of the file."""
    return read_label_layouts(resources() / "label_layouts.toml")


def read_label_layouts(path: Path) -> tuple[Layout, ...]:
    """Read layouts from a TOML file: a table `[[layout]]` for each, lengths in mm, sizes in points.

    Raises:
        Refusal: a layout lacks a number, has one that is not known, or contradicts itself.
    """
    layouts = tuple(layout_from(entry) for entry in entries(path, "layout"))
    refuse_doubles(path, (layout.id for layout in layouts))
    for layout in layouts:
        if wrong := problems(layout):
            raise Refusal(f"Layout {layout.id}: {' '.join(wrong)}")
    return layouts


def layout_for(kind: Kind, sheet: Sheet) -> Layout:
    """Return the largest layout of a kind that fits the labels of a sheet.

    Raises:
        Refusal: none fits.
    """
    return choose(load_label_layouts(), kind, sheet)


def sheets_for(kind: Kind) -> tuple[Sheet, ...]:
    """Return the sheets that suit a kind of label, in the order in which they are offered."""
    return tuple(sheet for sheet in load_label_sheets() if suits(load_label_layouts(), kind, sheet))


def layout_from(entry: dict[str, Any]) -> Layout:
    """Return a layout from plain values; its numbers may still contradict each other.

    Raises:
        Refusal: something is missing or not known.
    """
    try:
        plain = {key: value for key, value in entry.items() if key not in ("kind", "size", "fields")}
        width, height = entry["size"]
        placed = tuple(_field(one) for one in entry["fields"])
        return Layout(kind=Kind(entry["kind"]), width=width, height=height, fields=placed, **plain)
    except (TypeError, ValueError, KeyError) as error:
        called = entry.get("id", "without an id")
        raise Refusal(f"Layout {called} is not complete or not known: {error}.") from error


def as_entry(layout: Layout) -> dict[str, Any]:
    """Return a layout as plain values that `layout_from` reads again."""
    entry = {"id": layout.id, "title": layout.title, "kind": layout.kind.value, "size": [layout.width, layout.height]}
    more = {"round": layout.round, "stem": layout.stem}
    return entry | {key: value for key, value in more.items() if value} | {"fields": [*map(_entry, layout.fields)]}


def _field(entry: dict[str, Any]) -> Field:
    plain = {key: value for key, value in entry.items() if key not in ("show", "at", "size")}
    x, y, width, height = entry["at"]
    largest, smallest = entry.get("size", (Field.largest, Field.smallest))
    plain |= {key: read(plain[key]) for key, read in (("align", Align), ("stand", Stand)) if key in plain}
    return Field(tuple(entry["show"]), x, y, width, height, largest, smallest, **plain)


def _entry(one: Field) -> dict[str, Any]:
    plain = {name: getattr(one, name) for name in _WAYS if getattr(one, name) != getattr(Field, name)}
    place = {"show": [*one.show], "at": [one.x, one.y, one.width, one.height], "size": [one.largest, one.smallest]}
    return place | {name: str(value) if isinstance(value, Align | Stand) else value for name, value in plain.items()}
