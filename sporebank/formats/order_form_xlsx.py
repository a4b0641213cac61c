"""The order form of an exchange as a spreadsheet that comes back filled in.

Above stand the fields of the person, below the list with columns to fill in. Filled in, it is read as a table of one
order, so that it comes in the same way as any other table.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from sporebank.core import amounts, names
from sporebank.core.dates import day_label
from sporebank.core.errors import Refusal
from sporebank.core.matching import FilledForm, Meaning, Row
from sporebank.core.order_paper import EmptyForm

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
LIMITED = "limited stock"
_WIDTHS = {"A": 22, "B": 46, "C": 12, "D": 26}
_NOTE_COLUMN = 4
_TO_FILL = "FFF4EFDC"
_TICKS = frozenset({"x", "yes", "y", "✓", "✔"})


def write_form(form: EmptyForm) -> bytes:
    """Return an order form as XLSX: its coloured cells are to be filled in."""
    import openpyxl  # writes sheets alone, so that nothing else waits for it
    from openpyxl.styles import Alignment, Font, PatternFill

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = TITLE
    strong, to_fill = Font(bold=True), PatternFill("solid", fgColor=_TO_FILL)
    closes = "" if form.closes is None else f" Send it back by {day_label(form.closes)}."
    said = f"Fill in the coloured cells.{closes} {_how(form)}"
    rows: list[tuple[Any, ...]] = [(TITLE, form.exchange), (said,), *((label,) for label, _ in PERSON), ()]
    head = len(rows) + 1
    rows += [_titles(form), *_list(form)]
    for number, row in enumerate(rows, start=1):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(number, column, value)
            if isinstance(value, str):
                cell.data_type = "s"  # or what begins with an equals sign would be worked out
    for number in range(3, 3 + len(PERSON)):
        sheet.cell(number, 2).fill = to_fill
    for column in range(1, len(_titles(form)) + 1):
        sheet.cell(head, column).font = strong
        for number in range(head + 1, len(rows) + 1):
            sheet.cell(number, column).alignment = Alignment(vertical="top", wrap_text=column == _NOTE_COLUMN)
            if column > _NOTE_COLUMN:
                sheet.cell(number, column).fill = to_fill
    sheet.cell(1, 1).font = sheet.cell(1, 2).font = strong
    for letter, width in _WIDTHS.items():
        sheet.column_dimensions[letter].width = width
    for column in range(_NOTE_COLUMN + 1, len(_titles(form)) + 1):
        sheet.column_dimensions[openpyxl.utils.get_column_letter(column)].width = 15
    sheet.freeze_panes = sheet.cell(head + 1, 1)
    sheet.print_title_rows = f"{head}:{head}"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _how(form: EmptyForm) -> str:
    """Return in a sentence or two how the columns are filled in."""
    said = [f"{WANTED}: how many of each. {RANK}: 1 for what you want most; it may stay empty."]
    if form.beside:
        said.append(f"{INSTEAD}: the number that may come for it.")
    if form.alternative_boxes:
        said.append(f"{ALTERNATIVE}: x, or 1, 2, 3 by rank, beside what may come where a first choice is gone.")
    return " ".join(said)


def _titles(form: EmptyForm) -> tuple[str, ...]:
    beside = (INSTEAD,) if form.beside else ()
    other = (ALTERNATIVE,) if form.alternative_boxes else ()
    return (NUMBER, "Taxon", "Packet", "Note", WANTED, RANK, *beside, *other)


def _list(form: EmptyForm) -> list[tuple[Any, ...]]:
    return [
        (
            line.number,
            names.text(line.name),
            amounts.show(line.packet_ug),
            "; ".join(part for part in (LIMITED if line.limited else "", line.note) if part),
        )
        for line in form.lines
    ]


def as_order(rows: Sequence[Row]) -> tuple[Sequence[Row], FilledForm | None]:
    """Return a form that was filled in as a table of one order, and what it says of its list; any other as it is.

    Raises:
        Refusal: nothing is filled in.
    """
    if not rows or not rows[0].cells or rows[0].cells[0].strip() != TITLE:
        return rows, None
    fields = {_cell(row, 0): row for row in rows if _cell(row, 1)}
    head = next((place for place, row in enumerate(rows) if _cell(row, 0) == NUMBER), len(rows))
    person = [_cell(fields[label], 1) if label in fields else "" for label, _ in PERSON]
    meanings = [meaning.value for _, meaning in PERSON]
    name_row = fields["Name"].number if "Name" in fields else rows[0].number
    first, others = _filled(rows[head:])
    if not any((*person, first, others)):
        raise Refusal("Nothing is filled in in this order form.")
    table = [
        Row(rows[0].number, (*meanings, Meaning.FIRST.value, Meaning.ALTERNATIVES.value)),
        Row(name_row, (*person, first, others)),
    ]
    return table, FilledForm(_cell(rows[0], 1), _taxa(rows[head:]))


def _taxa(rows: Sequence[Row]) -> dict[int, str]:
    """Return the names of the list by its numbers."""
    named = ((_cell(row, 0), _cell(row, 1)) for row in rows[1:])
    return {int(number): name for number, name in named if _is_number(number) and name}


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
    known = _is_number(rank)
    return not known, int(rank) if known else 0


def _is_number(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 10


def _sorted(found: list[tuple[tuple[bool, int], str]]) -> str:
    return ", ".join(text for _, text in sorted(found, key=lambda one: one[0]))


def _cell(row: Row, place: int) -> str:
    return row.cells[place].strip() if place < len(row.cells) else ""
