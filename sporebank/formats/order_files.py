"""Tables of orders as plain rows: CSV as any program writes it, and XLSX sheets.

A file is data that somebody else made: its size, its rows and its cells have limits, and formulas count as the values
that their program worked out last.
"""

from __future__ import annotations

import csv
import io
import warnings
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime
from pathlib import Path

from sporebank.core.errors import Refusal
from sporebank.core.matching import FilledForm, Row, Table, columns_known
from sporebank.formats.order_form_xlsx import as_order

MOST_BYTES = 20_000_000
MOST_UNPACKED = 100_000_000
"""A sheet is a packed file; a small one can be made that unpacks without end."""
MOST_ROWS = 300_000
MOST_COLUMNS = 120
MOST_CELL = 20_000
"""Characters of a cell. All limits are ours, far beyond any list of orders."""
_HEAD_WITHIN = 20
"""In so many first lines of a CSV file the names of its columns say what parts the cells."""
_PACKED = b"PK\x03\x04"
_OLD_SHEET = b"\xd0\xcf\x11\xe0"
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


def read_file(path: Path) -> Table:
    """Return the rows of a CSV or XLSX file.

    Raises:
        Refusal: it cannot be opened, is too large, or is no table.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise Refusal(f"{path.name} is larger than {MOST_BYTES // 1_000_000} MB. Take in a part of it at a time.")
        data = path.read_bytes()
    except OSError as error:
        raise Refusal(f"{path.name} cannot be opened ({error.strerror}). Choose another file.") from error
    return read_table(data)


def read_table(data: bytes) -> Table:
    """Return the rows of a table that is at hand as bytes.

    Raises:
        Refusal: it is too large, or no table.
    """
    if data.startswith(_OLD_SHEET):
        raise Refusal("This is a spreadsheet of the old kind. Save it as XLSX or CSV, and take that in.")
    if data.startswith(_PACKED):
        return _table(*as_order(list(_sheet_rows(data))))
    return _table(_csv_rows(data))


def _table(found: Iterable[Row | tuple[int, str]], form: FilledForm | None = None) -> Table:
    rows, problems = [], []
    for one in found:
        if isinstance(one, tuple):
            problems.append(one)
        elif any(len(cell) > MOST_CELL for cell in one.cells):
            problems.append((one.number, "A cell of this row is far too long. The row is left out."))
        elif any(cell.strip() for cell in one.cells):
            rows.append(one)
        if len(rows) > MOST_ROWS:
            raise Refusal(f"The table has more than {MOST_ROWS:,} rows. Take in a part of it at a time.")
    if not rows:
        raise Refusal("There is nothing in this table.")
    return Table(tuple(rows), tuple(problems), form)


# -- CSV


def _csv_rows(data: bytes) -> Iterator[Row | tuple[int, str]]:
    """Yield the rows of a CSV file, or the number of a row and why it cannot be read."""
    text = _decoded(data)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error:
            yield number, "This row cannot be read: a quotation mark in it may not be closed. It is left out."
            continue
        yield Row(number, tuple(map(_unguarded, cells[:MOST_COLUMNS])))


def _decoded(data: bytes) -> str:
    encodings = ("utf-16",) if data.startswith(_UTF_16) else ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise Refusal("This is no table that can be read. Save it as CSV or XLSX, and take that in.")


def _delimiter(text: str) -> str:
    """Return what parts the cells: the mark that parts the names of the columns, else the first line that has any.

    Lines above the names, such as a title, may hold any mark.
    """
    lines = [line[:10_000] for line in text[:100_000].splitlines()]
    return _best_mark(lines[:_HEAD_WITHIN], columns_known) or _best_mark(lines, len) or ","


def _best_mark(lines: Iterable[str], count: Callable[[Sequence[str]], int]) -> str:
    """Return the mark that parts the first line for which it can into the most cells that count, at least two."""
    for line in lines:
        cells = {mark: count(next(csv.reader([line], delimiter=mark), [])) for mark in ";,\t"}
        best = max(cells, key=cells.__getitem__)
        if cells[best] > 1:
            return best
    return ""


def _unguarded(cell: str) -> str:
    """Return a cell without the mark that keeps spreadsheets from taking it for a formula."""
    return cell[1:] if cell[:2] in ("'=", "'+", "'-", "'@") else cell


# -- sheets


def _sheet_rows(data: bytes) -> Iterator[Row]:
    """Yield the rows of the first sheet of a workbook."""
    _refuse_bomb(data)
    import openpyxl  # reads sheets alone, so that nothing else waits for it

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # openpyxl warns of what it leaves out, such as pictures
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            sheet = book.worksheets[0]
            sheet.reset_dimensions()
            rows = sheet.iter_rows(max_col=MOST_COLUMNS, max_row=MOST_ROWS + 2, values_only=True)
            for number, cells in enumerate(rows, start=1):
                last = max((place for place, cell in enumerate(cells) if cell is not None), default=-1)
                yield Row(number, tuple(map(_text, cells[: last + 1])))
            book.close()
    except Exception as error:  # a broken file can make it raise anything
        raise Refusal("This spreadsheet is damaged or of another kind. Save it anew as XLSX or CSV.") from error


def _refuse_bomb(data: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
    except (zipfile.BadZipFile, ValueError, OverflowError) as error:
        raise Refusal("This spreadsheet is damaged. Save it anew as XLSX or CSV.") from error
    if unpacked > MOST_UNPACKED:
        raise Refusal("This spreadsheet is far larger than it looks. Save the orders alone as CSV.")


def _text(value: object) -> str:
    """Return what a cell of a sheet shows, days in ISO 8601."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, datetime):
        return value.date().isoformat()
    return value.isoformat() if isinstance(value, date) else str(value)
