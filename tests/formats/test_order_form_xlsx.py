import io
from dataclasses import replace

import openpyxl
import pytest

from sporebank.core import names
from sporebank.core.asking import Asked, read
from sporebank.core.errors import Refusal
from sporebank.core.matching import Meaning, find_head
from sporebank.core.orders import Alternatives, Rules, Wish
from sporebank.formats.order_files import read_table
from sporebank.formats.order_form_xlsx import (
    ALTERNATIVE,
    INSTEAD,
    NUMBER,
    PERSON,
    RANK,
    TITLE,
    WANTED,
    write_form,
)  # fmt: skip
from tests.documents.test_order_form import FORM

PLENTY = replace(FORM, lines=tuple(replace(FORM.lines[n % 6], number=n + 1, note="=1+1") for n in range(40)))


def opened(data):
    return openpyxl.load_workbook(io.BytesIO(data))


def filled(form, person, wishes):
    """Return a form as somebody's spreadsheet program saves it filled in: wishes are columns by number."""
    book = opened(write_form(form))
    sheet = book.active
    labels = {sheet.cell(row, 1).value: row for row in range(1, 12)}
    for label, value in person.items():
        sheet.cell(labels[label], 2).value = value
    head = labels[NUMBER]
    columns = {sheet.cell(head, column).value: column for column in range(1, sheet.max_column + 1)}
    for number, cells in wishes.items():
        for title, value in cells.items():
            sheet.cell(head + number, columns[title]).value = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def asked(data):
    table = read_table(data)
    head = find_head(table.rows)
    (row,) = [row for row in table.rows if row.number > head.row.number]
    return head, row, read(head.cell(row, Meaning.FIRST), head.cell(row, Meaning.ALTERNATIVES))


def test_a_form_has_the_list_the_person_and_nothing_that_is_worked_out():
    sheet = opened(write_form(PLENTY)).active
    cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert sheet["A1"].value == TITLE
    assert sheet["B1"].value == "Spring round 2027"
    assert "by 31 Mar 2027" in sheet["A2"].value
    assert not any(cell.data_type == "f" for cell in cells)
    texts = [cell.value for cell in cells]
    assert [label for label, _ in PERSON] == [cell.value for cell in sheet["A"] if cell.value in dict(PERSON)]
    assert texts.count("=1+1") == 40
    assert "Asplenium scolopendrium" in texts
    assert "2 mg" in texts


@pytest.mark.parametrize(
    ("alternatives", "titles"),
    [
        (Alternatives.NONE, [WANTED, RANK]),
        (Alternatives.LIST, [WANTED, RANK, ALTERNATIVE]),
        (Alternatives.RANKED, [WANTED, RANK, ALTERNATIVE]),
        (Alternatives.PER_LINE, [WANTED, RANK, INSTEAD]),
    ],
)
def test_there_is_a_column_for_all_that_the_rules_let_one_say(alternatives, titles):
    sheet = opened(write_form(replace(FORM, rules=Rules(alternatives=alternatives)))).active
    (head,) = [row for row in sheet.iter_rows(values_only=True) if row[0] == NUMBER]
    assert [title for title in head[4:] if title] == titles


def test_a_form_comes_back_as_the_order_that_was_filled_in():
    ranked = replace(PLENTY, rules=Rules(alternatives=Alternatives.RANKED))
    person = {
        "Name": "Ida Falk", "Address": "Lane 1\nVillage", "Country, two letters": "SE", "E-mail": "ida@example.org",
        "Helper, yes or no": "yes",
    }  # fmt: skip
    wishes = {
        3: {WANTED: 2, RANK: 2}, 5: {RANK: 1}, 7: {WANTED: "x"}, 9: {WANTED: 0}, 20: {ALTERNATIVE: 2},
        21: {ALTERNATIVE: 1}, 22: {ALTERNATIVE: "x"},
    }  # fmt: skip
    head, row, order = asked(filled(ranked, person, wishes))
    assert order == Asked((Wish(5), Wish(3, 2), Wish(7)), (21, 20, 22))
    assert head.cell(row, Meaning.NAME) == "Ida Falk"
    assert head.cell(row, Meaning.ADDRESS) == "Lane 1\nVillage"
    assert head.cell(row, Meaning.COUNTRY) == "SE"
    assert head.cell(row, Meaning.EMAIL) == "ida@example.org"
    assert head.cell(row, Meaning.HELPER) == "yes"


def test_a_filled_form_tells_of_which_list_it_is_and_the_names_beside_its_numbers():
    form = read_table(filled(FORM, {"Name": "Ida"}, {1: {WANTED: 1}})).form
    assert form.exchange == FORM.exchange
    assert form.taxa == {line.number: names.text(line.name) for line in FORM.lines}


def test_an_alternative_beside_a_line_comes_back_with_it():
    beside = replace(PLENTY, rules=Rules(alternatives=Alternatives.PER_LINE))
    _, _, order = asked(filled(beside, {"Name": "Ida"}, {3: {WANTED: 2, INSTEAD: 4}, 5: {WANTED: 1}}))
    assert order == Asked((Wish(3, 2, 4), Wish(5)))


def test_what_is_filled_in_and_cannot_be_read_is_told():
    _, _, order = asked(filled(PLENTY, {"Name": "Ida"}, {3: {WANTED: "two"}, 5: {WANTED: 1}}))
    assert order == Asked((Wish(5),), (), ("3xtwo",))


def test_a_form_that_comes_back_empty_is_refused():
    with pytest.raises(Refusal, match="Nothing is filled in"):
        read_table(write_form(PLENTY))
