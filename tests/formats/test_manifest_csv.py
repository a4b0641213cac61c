import csv
import io
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core.errors import Refusal
from sporebank.core.papers import Manifest
from sporebank.formats.manifest_csv import COLUMNS, write_manifest
from tests.documents.examples import manifest
from tests.formats.manifest_reader import read_manifest


def test_a_manifest_reads_back_as_it_was():
    back = read_manifest(write_manifest(manifest(5)))
    assert back.manifest == manifest(5)
    assert back.problems == ()


words = st.text(st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from(",\"\n';="), max_size=30)


@given(words, words, words)
def test_any_text_survives(origin, permit, recipient):
    whole = replace(manifest(1), recipient=recipient)
    whole = replace(whole, items=(replace(whole.items[0], origin=origin, permit=permit),))
    back = read_manifest(write_manifest(whole))
    assert back.manifest == whole
    assert back.problems == ()


def test_spreadsheets_know_the_encoding_and_see_no_formula():
    data = write_manifest(manifest(4))
    assert data.startswith(b"\xef\xbb\xbf")  # the UTF-8 byte order mark (Unicode Standard, 23.8)
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    assert rows[0]["permit"] == "'=12/2019"
    assert rows[0]["collected"] == "2019-08"  # ISO 8601, reduced precision
    assert rows[0]["as_of"] == "2026-03-03"
    assert rows[0]["micrograms"] == "5000"
    assert rows[2]["alive_middle"] == ""
    assert tuple(rows[0]) == COLUMNS


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@x", "\t=1+1", "\r=1+1", "\n=1+1", "'=1"])
def test_nothing_a_spreadsheet_would_reckon_with_stands_at_the_start_of_a_cell(cell):
    """The list of the Open Worldwide Application Security Project, "CSV Injection" (from memory)."""
    whole = replace(manifest(1), recipient=cell)
    (row,) = csv.DictReader(io.StringIO(write_manifest(whole).decode("utf-8-sig"), newline=""))
    assert row["recipient"] == f"'{cell}"
    assert read_manifest(write_manifest(whole)).manifest == whole


def test_a_changed_copy_is_told():
    data = write_manifest(manifest(2)).replace(b"5000", b"9000", 1)
    back = read_manifest(data)
    assert back.manifest.items[0].micrograms == 9000
    assert [row for row, _ in back.problems] == [1]
    assert "changed" in back.problems[0][1]


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [
        ("micrograms", "-5", "less than nothing"),
        ("micrograms", "much", "invalid literal"),
        ("alive_low", "0.9", "rising order"),
        ("alive_low", "nan", "rising order"),
        ("alive_low", "", "could not convert"),
        ("collected", "03/04/2019", "not a date"),
        ("source", "moon", "moon"),
        ("taxon", "", "packet cannot be read"),
    ],
)
def test_one_bad_packet_never_loses_the_good_ones(column, value, says):
    rows = list(csv.DictReader(io.StringIO(write_manifest(manifest(3)).decode("utf-8-sig"), newline="")))
    rows[1][column] = value
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    writer.writerows(rows)
    back = read_manifest(out.getvalue().encode("utf-8-sig"))
    assert [item.line for item in back.manifest.items] == [1, 3]
    assert back.problems[0][0] == 3
    assert says in back.problems[0][1]


@pytest.mark.parametrize(
    "data", [b"", b"a,b\n1,2\n", b"\xff\xfe\x00", write_manifest(manifest(1)).splitlines(keepends=True)[0]]
)
def test_what_is_no_manifest_is_refused(data):
    with pytest.raises(Refusal, match="no manifest"):
        read_manifest(data)


def test_a_manifest_without_a_day_is_refused():
    with pytest.raises(Refusal, match="no day of sending"):
        read_manifest(write_manifest(manifest(1)).replace(b',2026-03-03,"Ol', b',someday,"Ol'))


def test_an_empty_manifest_is_not_written():
    with pytest.raises(Refusal, match="without packets"):
        write_manifest(Manifest("R", "B", "K7F", manifest(1).sent_on, "x", ()))
