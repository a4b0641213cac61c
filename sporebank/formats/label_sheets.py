"""The label sheets that travel with the program, from resources/label_sheets.toml."""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from sporebank.core.errors import Refusal
from sporebank.core.sheets import Sheet, roll
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
    sheets = tuple(_sheet(entry) for entry in entries(path, "sheet"))
    refuse_doubles(path, (sheet.id for sheet in sheets))
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


def entries(path: Path, table: str) -> list[dict[str, Any]]:
    """Return the tables of one name of a TOML file.

    Raises:
        Refusal: it is no TOML.
    """
    try:
        found: list[dict[str, Any]] = tomllib.loads(path.read_text(encoding="utf-8")).get(table, [])
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise Refusal(f"{path.name} cannot be read: {error}.") from error
    return found


def refuse_doubles(path: Path, ids: Iterable[str]) -> None:
    """Refuse a file that has two entries of one id."""
    counted = Counter(ids)
    doubled = min((one for one, count in counted.items() if count > 1), default=None)
    if doubled is not None:
        raise Refusal(f"{path.name} has two entries called {doubled}; rename one of them.")


def _sheet(entry: dict[str, Any]) -> Sheet:
    plain = {key: value for key, value in entry.items() if key not in ("paper", "label")}
    label = entry.get("label", ())
    try:
        if plain.pop("roll", False):
            return roll(plain.pop("id"), plain.pop("title"), *label, **plain)
        width, height = entry.get("paper", ())
        return Sheet(paper_width=width, paper_height=height, label_width=label[0], label_height=label[1], **plain)
    except (TypeError, ValueError, IndexError, KeyError) as error:
        called = entry.get("id", "without an id")
        raise Refusal(f"Label sheet {called} is not complete or not known: {error}.") from error
