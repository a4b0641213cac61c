import contextlib
import csv
import io
import zipfile
from datetime import date, datetime

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.errors import Refusal
from sporebank.formats import order_files
from sporebank.formats.order_files import read_file, read_table


def cells(data):
    return [row.cells for row in read_table(data).rows]


def sheet(*rows, more=None):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    if more:
        more(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def with_part(data, name, content):
    """Return a workbook with one of its parts put in another's place."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            new.writestr(part.filename, content if part.filename == name else old.read(part.filename))
    return out.getvalue()


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_csv_is_read_however_programs_write_it(mark, encoding):
    text = f"Name{mark}Numbers\r\nMärta Ödön{mark}12 14\r\n"
    assert cells(text.encode(encoding)) == [("Name", "Numbers"), ("Märta Ödön", "12 14")]


def test_the_first_line_that_has_any_says_what_parts_the_cells():
    assert cells(b"Orders\nName;Numbers\nIda;12, 14, 15, 16\n")[2] == ("Ida", "12, 14, 15, 16")
    assert cells(b"Name\nIda\n") == [("Name",), ("Ida",)]


def test_the_names_of_the_columns_say_what_parts_the_cells_whatever_stands_above():
    above = "Orders, of all, for the round, 2026\nWho asks\n"
    assert cells((above + "Name;E-mail;First choices\nIda, A;;1, 2, 3\n").encode())[2:] == [
        ("Name", "E-mail", "First choices"), ("Ida, A", "", "1, 2, 3"),
    ]  # fmt: skip
    assert cells(b"One; two; three\nName,E-mail,Alt 1\nIda,,1;2\n")[1:] == [
        ("Name", "E-mail", "Alt 1"), ("Ida", "", "1;2"),
    ]  # fmt: skip


def test_rows_keep_their_numbers_and_empty_ones_are_passed_over():
    rows = read_table(b'Name,Note\n\n,\nIda,"two\nlines"\nJon,x\n').rows
    assert [(row.number, row.cells) for row in rows] == [
        (1, ("Name", "Note")),
        (4, ("Ida", "two\nlines")),
        (5, ("Jon", "x")),
    ]


def test_what_guards_a_cell_from_formulas_is_taken_off():
    assert cells(b"Name,Note\n'=A1,'s fern\n")[1] == ("=A1", "'s fern")


@given(
    st.lists(
        st.lists(st.text(st.characters(exclude_characters="\0", exclude_categories=("Cs",))), min_size=2, max_size=5),
        min_size=1,
    )
)
def test_what_was_written_is_read(rows):
    """The reader of the standard library writes the file, after RFC 4180."""
    out = io.StringIO(newline="")
    csv.writer(out).writerows([("Name", "Numbers"), *rows])
    found = cells(out.getvalue().encode("utf-8"))
    written = [tuple(row) for row in rows if any(cell.strip() for cell in row)]
    assert [tuple(map(len, row)) for row in found[1:]] == [
        tuple(len(cell) - (cell[:2] in ("'=", "'+", "'-", "'@")) for cell in row) for row in written
    ]


def test_sheets_are_read_with_days_numbers_and_ticks_as_they_show():
    rows = [
        ("Name", "Day", "Number", "Helper", "Share", "Stamp"),
        ("Ida", date(2026, 1, 14), 12, True, 0.5, datetime(2026, 1, 14, 9, 30)),
        (None, None, 3.0, False),
    ]
    assert cells(sheet(*rows))[1:] == [
        ("Ida", "2026-01-14", "12", "yes", "0.5", "2026-01-14"),
        ("", "", "3", "no"),
    ]


def test_a_formula_counts_as_its_last_value_and_is_never_worked_out():
    data = sheet(("Name", "Number"), ("Ida", '=WEBSERVICE("http://example.org")'))
    assert cells(data)[1] == ("Ida",)


def test_only_the_first_sheet_is_read():
    assert cells(sheet(("Name",), more=lambda book: book.create_sheet("More").append(["x"]))) == [("Name",)]


# -- files that are broken, or meant to harm

LAUGHS = b"""<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa">""" + b"".join(
    b'<!ENTITY %c "%s">' % (ord("b") + n, (b"&%c;" % (ord("a") + n)) * 60) for n in range(8)
) + b"""]><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData><row r="1"><c r="A1"
t="inlineStr"><is><t>&i;</t></is></c></row></sheetData></worksheet>"""  # fmt: skip
FAR = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><dimension ref="A1:XFD1048576"/>'
    b'<sheetData><row r="1048576"><c r="A1048576"><v>1</v></c></row></sheetData></worksheet>'
)
SHEET = "xl/worksheets/sheet1.xml"


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\n\n , \n",
        bytes(range(256)) * 40,
        b"\x89PNG\r\n\x1a\n\0\0\0",
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600,
        b"PK\x03\x04",
        sheet(("Name", "Number"))[:-200],
        sheet(("Name", "Number"))[:300],
        with_part(sheet(("Name",)), SHEET, b"<worksheet"),
        with_part(sheet(("Name",)), SHEET, LAUGHS),
        with_part(sheet(("Name",)), SHEET, FAR),
        with_part(sheet(("Name",)), "xl/workbook.xml", b"<workbook/>"),
        with_part(sheet(("Name",)), SHEET, b"0" * (order_files.MOST_UNPACKED + 1)),
    ],
    ids=lambda data: "",
)
def test_what_is_no_table_is_refused_in_a_sentence(data):
    with pytest.raises(Refusal) as refused:
        read_table(data)
    assert len(str(refused.value)) < 200


def test_a_name_of_a_hundred_megabytes_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "orders.csv"
    with path.open("wb") as file:
        file.write(b"Name,Numbers\n")
        file.truncate(100_000_000)
    with pytest.raises(Refusal, match="larger than 20 MB"):
        read_file(path)


@pytest.mark.parametrize("length", [order_files.MOST_CELL + 1, 1_000_000])
def test_a_row_with_an_endless_cell_loses_no_other(length):
    table = read_table(b"Name,Numbers\nIda,1\n" + b"x" * length + b",2\nJon,3\n")
    assert [row.cells[0] for row in table.rows] == ["Name", "Ida", "Jon"]
    assert [row for row, _ in table.problems] == [3]


def test_an_open_quotation_mark_loses_no_row_before_it():
    found = read_table(b'Name,Numbers\nIda,1\n"Jon,2\n' + b"Pia,3\n" * 3)
    assert found.rows[1].cells == ("Ida", "1")


def test_more_rows_than_any_list_has_are_refused(monkeypatch):
    monkeypatch.setattr(order_files, "MOST_ROWS", 10)
    assert len(read_table(b"Ida,1\n" * 10).rows) == 10
    for data in (b"Ida,1\n" * 11, sheet(*[("Ida", 1)] * 11)):
        with pytest.raises(Refusal, match="more than 10 rows"):
            read_table(data)


def test_a_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(Refusal, match="cannot be opened"):
        read_file(tmp_path / "none.csv")


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused(data):
    for prefix in (b"", b"PK\x03\x04"):
        with contextlib.suppress(Refusal):
            read_table(prefix + data)
