"""The order form of an exchange as a spreadsheet that comes back filled in.

Above stand the fields of the person, below the list with columns to fill in. Filled in, it is read as a table of one
order, so that it comes in the same way as any other table.
"""

from __future__ import annotations

from collections.abc import Sequence

from sporebank.core.matching import Meaning, Row

TITLE = "Order form"
PERSON = (
    ("Name", Meaning.NAME),
    ("Organisation", Meaning.ORGANISATION),
    ("Address", Meaning.ADDRESS),
    ("Country, two letters", Meaning.COUNTRY),
    ("E-mail", Meaning.EMAIL),
    ("Helper, yes or no", Meaning.HELPER),
    ("Note", Meaning.NOTE),
)
"""The fields of the person: what is written before each, and what it means."""
NUMBER, WANTED, RANK, INSTEAD, ALTERNATIVE = "Number", "Packets wanted", "Rank", "Instead of it", "Alternative"
_TICKS = frozenset({"x", "yes", "y", "✓", "✔"})


def as_order(rows: Sequence[Row]) -> Sequence[Row]:
    """Return a form that was filled in as a table of one order; any other table as it is."""
    if not rows or not rows[0].cells or rows[0].cells[0].strip() != TITLE:
        return rows
    fields = {_cell(row, 0): row for row in rows if _cell(row, 1)}
    head = next((place for place, row in enumerate(rows) if _cell(row, 0) == NUMBER), len(rows))
    person = [_cell(fields[label], 1) if label in fields else "" for label, _ in PERSON]
    meanings = [meaning.value for _, meaning in PERSON]
    name_row = fields["Name"].number if "Name" in fields else rows[0].number
    first, others = _filled(rows[head:])
    return [
        Row(rows[0].number, (*meanings, Meaning.FIRST.value, Meaning.ALTERNATIVES.value)),
        Row(name_row, (*person, first, others)),
    ]


def _filled(rows: Sequence[Row]) -> tuple[str, str]:
    """Return the first choices and the alternatives that were filled in, as the texts that are typed for them."""
    if not rows:
        return "", ""
    columns = {_cell(rows[0], place): place for place in range(len(rows[0].cells))}
    firsts, others = [], []
    for row in rows[1:]:
        number, wanted, rank, instead, other = (
            _cell(row, columns[title]) if title in columns else ""
            for title in (NUMBER, WANTED, RANK, INSTEAD, ALTERNATIVE)
        )
        if (wanted or rank) and wanted != "0":
            packets = "" if not wanted or wanted.casefold() in _TICKS or wanted == "1" else f"x{wanted}"
            firsts.append((_order(rank), f"{number}{packets}" + (f"/{instead}" if instead else "")))
        if other:
            others.append((_order(other), number))
    return _sorted(firsts), _sorted(others)


def _order(rank: str) -> tuple[bool, int]:
    """Return what a rank sorts by; what has none comes after, as it stands."""
    known = rank.isascii() and rank.isdigit() and len(rank) < 10
    return not known, int(rank) if known else 0


def _sorted(found: list[tuple[tuple[bool, int], str]]) -> str:
    return ", ".join(text for _, text in sorted(found, key=lambda one: one[0]))


def _cell(row: Row, place: int) -> str:
    return row.cells[place].strip() if place < len(row.cells) else ""
