"""The label sheets that travel with the program, from resources/label_sheets.toml."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from sporebank.core.errors import Refusal
from sporebank.core.sheets import Sheet
from sporebank.paths import resources


@cache
def load_label_sheets() -> tuple[Sheet, ...]:
    """Return the sheets in the order in which they are offered."""
    return read_label_sheets(resources() / "label_sheets.toml")


def read_label_sheets(path: Path) -> tuple[Sheet, ...]:
    """Read label sheets from a TOML file: a table `[[sheet]]` for each, lengths in mm.

    Raises:
        Refusal: a sheet lacks a number, has one that is not known, or contradicts itself.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise Refusal(f"{path.name} cannot be read as label sheets: {error}.") from error
    sheets = tuple(_sheet(entry) for entry in table.get("sheet", ()))
    doubled = {sheet.id for sheet in sheets if [other.id for other in sheets].count(sheet.id) > 1}
    if doubled:
        raise Refusal(f"{path.name} has two label sheets called {min(doubled)}; rename one of them.")
    return sheets


def sheet_by_id(sheet_id: str) -> Sheet:
    """Return one of the sheets that travel with the program.

    Raises:
        Refusal: there is none of that id.
    """
    for sheet in load_label_sheets():
        if sheet.id == sheet_id:
            return sheet
    raise Refusal(f"There is no label sheet “{sheet_id}”; choose another.", field="sheet")


def _sheet(entry: dict[str, Any]) -> Sheet:
    paper = entry.pop("paper", (None, None))
    label = entry.pop("label", (None, None))
    try:
        return Sheet(
            paper_width=paper[0],
            paper_height=paper[1],
            label_width=label[0],
            label_height=label[1],
            **(entry | {"uses": tuple(entry.get("uses", ()))}),
        )
    except (TypeError, ValueError, IndexError) as error:
        called = entry.get("id", "without an id")
        raise Refusal(f"Label sheet {called} is not complete or not known: {error}.") from error
