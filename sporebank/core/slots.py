"""The cells of a box: rows are letters, columns numbers, counted from 0 at A1 along the rows."""

from __future__ import annotations

import re

from sporebank.core.errors import Refusal

_LABEL = re.compile(r"([A-Za-z]{1,2})\s*([0-9]{1,3})")


def label(slot: int, columns: int) -> str:
    """Return the label of a slot: `C4`."""
    row, column = divmod(slot, columns)
    return f"{_letters(row)}{column + 1}"


def _letters(row: int) -> str:
    first, second = divmod(row, 26)
    return chr(65 + second) if first == 0 else chr(64 + first) + chr(65 + second)


def parse(text: str, rows: int, columns: int) -> int:
    """Return the slot that a label names.

    Raises:
        Refusal: no such cell in a box of so many rows and columns.
    """
    match = _LABEL.fullmatch(text.strip())
    if match:
        letters, number = match.groups()
        row = 0
        for letter in letters.upper():
            row = row * 26 + ord(letter) - 64
        slot = (row - 1) * columns + int(number) - 1
        if row <= rows and 1 <= int(number) <= columns:
            return slot
    last = label(rows * columns - 1, columns)
    raise Refusal(f"“{text.strip()}” is no slot of this box. Its slots run from A1 to {last}.")
