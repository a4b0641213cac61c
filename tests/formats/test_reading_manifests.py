"""A manifest from another bank is read back as it was written; whatever else a file may be is refused in a sentence."""

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, FormatChecker

from sporebank.core.errors import Refusal
from sporebank.core.papers import Counted, Kept
from sporebank.core.records import Share
from sporebank.formats import manifest_csv
from sporebank.formats.manifest_json import read_manifest, write_manifest
from sporebank.formats.strict_json import MOST_BYTES
from tests.documents.examples import manifest

FOLDER = Path(__file__).parent
FIRST = (FOLDER / "manifest-1.json").read_bytes()
"""What the first release wrote of `manifest(4)`, which had no countries."""
DAYS = {"sown_on": "2021-01-04", "counted_on": "2021-02-08"}
WHOLE = write_manifest(manifest(4, permits=("Letter 12/2026",)))


def changed(**more):
    return json.dumps(json.loads(WHOLE) | more).encode()


def packet(**more):
    """Return a file whose second packet says something else."""
    whole = json.loads(WHOLE)
    whole["packets"][1] |= more
    return json.dumps(whole).encode()


def test_what_is_written_reads_back_the_same():
    assert read_manifest(WHOLE) == manifest(4, permits=("Letter 12/2026",))
    assert read_manifest(b"\xef\xbb\xbf" + WHOLE) == read_manifest(WHOLE)  # a byte order mark, as some editors set it


seen = st.text(st.characters(exclude_categories=("Cs", "Cc", "Cf")), max_size=30)


@given(seen, seen, seen, seen)
def test_any_text_that_can_be_seen_survives(origin, permit, network, recipient):
    whole = replace(manifest(1), recipient=recipient)
    item = replace(whole.items[0], origin=origin, permit=permit, network_number=network)
    whole = replace(whole, items=(item,))
    assert read_manifest(write_manifest(whole)) == whole


def test_a_manifest_of_the_first_version_is_read_with_its_own_checksum():
    schema = json.loads((FOLDER.parents[1] / "resources" / "manifest-1.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema, format_checker=FormatChecker()).validate(json.loads(FIRST))
    old = read_manifest(FIRST)
    assert (old.version, old.permits) == (1, ())
    assert [item.tests for item in old.items] == [item.tests for item in manifest(4).items]
    assert {item.country for item in old.items} == {""}


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b" \n", "is empty"),
        (b"\xff\xfe\x00", "no text in UTF-8"),
        (b"x" * (MOST_BYTES + 1), "larger than 5 MB"),
        (WHOLE[: len(WHOLE) // 2], "ends too early"),
        (WHOLE[:-3], "ends too early"),
        (b"Dear friend, here is your spore", "damaged, or no JSON: line 1"),
        (b"[" * 100_000, "nested far deeper"),
        (b'{"a":' * 100_000, "nested far deeper"),
        (b"[]", "not a manifest of fern spore"),
        (b'{"format": "something else"}', "not a manifest of fern spore"),
        (WHOLE.replace(b"5000", b"9" * 5_000), "far too large"),
        (WHOLE.replace(b"0.41", b"1e999"), "far too large"),
        (WHOLE.replace(b"0.41", b"NaN"), "“NaN”"),
        (WHOLE.replace(b"0.41", b"-Infinity"), "“-Infinity”"),
        (WHOLE.replace(b'"version"', b'"parcel": "x", "version"'), "“parcel” stands twice"),
        (changed(version=3), "of version 3; this program reads up to 2"),
        (changed(version="2"), "version: a whole number"),
        (changed(packets=[]), "no packets"),
        (changed(packets={}), "packets: a list"),
        (changed(sent_on="3 March"), "sent_on: a day"),
        (changed(sent_on="2026-02-30"), "sent_on: a day"),
        (changed(extra=1), "“extra” is not known here"),
        (changed(parcel="RK7F00001B"), "has a mistake in it"),
        (changed(parcel=json.loads(WHOLE)["packets"][0]["vial"]), "parcel: the code of a parcel"),
        (changed(recipient="Somebody else"), "The checksum differs"),
        (changed(checksum="0000-0000-0000-0000"), "The checksum differs"),
        (packet(micrograms=-1), "Packet 2, micrograms: a whole number"),
        (packet(micrograms=True), "Packet 2, micrograms: a whole number"),
        (packet(micrograms=1.5), "Packet 2, micrograms: a whole number"),
        (packet(taxon="Dryopteris\x07 affinis"), "Packet 2, taxon: the text holds control characters"),
        (packet(origin="a\u202ewall"), "Packet 2, origin: the text holds control characters"),
        (packet(origin="\ud800"), "Packet 2, origin: the text holds control characters"),
        (packet(clone="two\nlines"), "Packet 2, clone: the text holds control characters"),
        (packet(origin="x" * 2_001), "longer than 2,000 characters"),
        (packet(taxon="123"), "Packet 2, taxon: "),
        (packet(taxon="Dryopteris affinis (Lowe) Fraser-Jenk."), "not written in full as it should be"),
        (packet(source="stolen"), "one of garden, wild, received, bought or unknown"),
        (packet(country="Holland"), "two letters of a country"),
        (packet(country="XX"), "two letters of a country"),
        (packet(collected="2019-13"), "Packet 2, collected: "),
        (packet(alive={"low": 0.9, "middle": 0.5, "high": 0.95}), "low, middle and high should not fall"),
        (packet(alive={"low": 0.1, "middle": 0.5, "high": 1.5}), "a number from 0 to 1"),
        (packet(alive={"low": 0.1}), "“middle” is missing"),
        (packet(tests=[{**DAYS, "counts": []}]), "without a count"),
        (packet(tests=[{**DAYS, "counts": [{"germinated": 9, "sown": 8}]}]), "a whole number from 0 to 8"),
        (packet(kept=[{"since": "2021-01-04", "celsius": 400}]), "a number from -273.15 to 100"),
        (packet(cautions=["x"] * 501), "more than the 500"),
    ],
)  # fmt: skip
def test_what_is_no_manifest_is_refused_in_a_sentence(data, said):
    with pytest.raises(Refusal) as refused:
        read_manifest(data)
    assert said in str(refused.value)
    assert len(str(refused.value)) < 400
    assert str(refused.value).endswith((".", "”)."))


@given(st.binary(max_size=200))
def test_no_file_whatever_does_worse_than_be_refused(data):
    for read in (read_manifest, manifest_csv.read_manifest):
        with pytest.raises(Refusal):
            read(data)


@given(st.integers(0, len(WHOLE) - 1), st.sampled_from([b"", b"\x00", b'"', b"9", b"}", b"x"]))
def test_a_change_anywhere_is_refused_or_changes_nothing(place, with_what):
    data = WHOLE[:place] + with_what + WHOLE[place + 1 :]
    try:
        found = read_manifest(data)
    except Refusal:
        return
    assert found == read_manifest(WHOLE)


recursive = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)


@given(st.sampled_from(sorted(json.loads(WHOLE)["packets"][1])), recursive)
def test_anything_where_something_else_should_stand_is_refused(field, value):
    if value == json.loads(WHOLE)["packets"][1][field]:
        return
    with pytest.raises(Refusal):
        read_manifest(packet(**{field: value}))


# -- CSV

TABLE = manifest_csv.write_manifest(manifest(4, permits=("Letter 12/2026",)))


def rows_of(data):
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def table(rows, **how):
    out = io.StringIO(newline="")
    csv.writer(out, **how).writerows(rows)
    return out.getvalue().encode("utf-8-sig")


def cell(column, value, row=2):
    """Return a table whose second packet, or another row, says something else."""
    rows = rows_of(TABLE)
    rows[row][rows[0].index(column)] = value
    return table(rows)


def test_a_table_says_what_json_does():
    assert manifest_csv.read_manifest(TABLE) == read_manifest(WHOLE)
    assert manifest_csv.read_manifest(TABLE.replace(b"\r\n", b"\n")) == read_manifest(WHOLE)
    assert manifest_csv.read_manifest(TABLE.replace(b"\r\n", b"\n").replace(b"\n", b"\r\n")) == read_manifest(WHOLE)
    assert manifest_csv.read_manifest(TABLE + b"\r\n\n") == read_manifest(WHOLE)
    assert manifest_csv.read_manifest(TABLE.removeprefix(b"\xef\xbb\xbf")) == read_manifest(WHOLE)


def test_a_table_of_the_first_version_is_read_with_its_own_checksum():
    old = read_manifest(FIRST)
    whole = rows_of(manifest_csv.write_manifest(old))
    late = [whole[0].index(column) for column in ("permits", "country")]
    rows = [[cell for place, cell in enumerate(row) if place not in late] for row in whole]
    assert manifest_csv.read_manifest(table(rows)) == old


starts = st.sampled_from(["", "=", "+", "-", "@", "\t", "'", "''", ",", ";", '"'])
odd = st.builds(str.__add__, starts, st.text(st.characters(exclude_categories=("Cs", "Cc", "Cf")), max_size=30))
lists = st.lists(odd.filter(bool), max_size=3).map(tuple)
celsius = st.none() | st.floats(-273.15, 100) | st.integers(-80, 60)
days = st.dates()
counts = st.lists(st.integers(1, 100_000).map(lambda sown: (sown // 3, sown)), min_size=1, max_size=4).map(tuple)
kept = st.lists(st.builds(Kept, days, celsius), max_size=3).map(tuple)
tests = st.lists(st.builds(Counted, days, days, counts), max_size=3).map(tuple)
shares = st.none() | st.tuples(*[st.floats(0, 1)] * 3).map(lambda three: Share(*sorted(three)))


@given(odd, odd, lists, lists, lists, kept, tests, shares, st.integers(0, 10**9))
def test_any_manifest_reads_back_from_a_table_as_it_was(
    recipient, origin, cautions, permits, general, lay, counted, share, micrograms
):
    whole = manifest(2)
    item = replace(
        whole.items[0], origin=origin, cautions=cautions, kept=lay, tests=counted, share=share, micrograms=micrograms
    )
    whole = replace(whole, items=(item, whole.items[1]), recipient=recipient, cautions=general, permits=permits)
    data = manifest_csv.write_manifest(whole)
    assert manifest_csv.read_manifest(data) == whole == read_manifest(write_manifest(whole))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b"\xef\xbb\xbf", "is empty"),
        (b"\xff\xfe\x00", "no text in UTF-8"),
        (b"%PDF-1.7\n1 0 obj", "not a manifest of fern spore as it was written"),
        (b"x" * (MOST_BYTES + 1), "larger than 5 MB"),
        (WHOLE, "not a manifest of fern spore as it was written"),
        (b"name;e-mail\nIda;ida@example.org\n", "not a manifest of fern spore as it was written"),
        (table(rows_of(TABLE), delimiter=";"), "not one that a spreadsheet has saved anew"),
        (table([*rows_of(TABLE)[0:1]]), "no packets"),
        (table([*rows_of(TABLE), ["1", "2"]]), "Packet 5: a part of the row is missing"),
        (TABLE[: len(TABLE) // 2], "ends too early or is damaged"),
        (TABLE + b'"', "ends too early or is damaged"),
        (cell("recipient", "Somebody else"), "not of one parcel"),
        (cell("micrograms", "9000"), "The checksum differs"),
        (cell("micrograms", "5,000"), "Packet 2, micrograms: a whole number"),
        (cell("micrograms", "1e9"), "Packet 2, micrograms: a whole number"),
        (cell("micrograms", "9" * 5_000), "Packet 2, micrograms: a whole number"),
        (cell("line", ""), "Packet 2, line: a whole number"),
        (cell("alive_low", "0,41"), "Packet 2, alive, low: a number from 0 to 1"),
        (cell("alive_low", ""), "Packet 2, alive, low: a number from 0 to 1"),
        (cell("alive_high", "1e308"), "a number from 0 to 1"),
        (cell("collected", "14.08.2019"), "a date such as 2019"),
        (cell("as_of", "03.03.2026"), "a day such as 2026-03-03"),
        (cell("code", "VK7F00001"), "Packet 2, vial: "),
        (cell("kept", "2021-01-04"), "a number from -273.15 to 100"),
        (cell("kept", "4.0 2021-01-04"), "a day such as 2026-03-03"),
        (cell("tests", "2021-01-04"), "Packet 2, tests 1"),
        (cell("tests", "2021-01-04 2021-02-08 9/8"), "a whole number from 0 to 8"),
        (cell("tests", "2021-01-04 2021-02-08 nine/ten"), "a whole number"),
        (cell("origin", "a\u202ewall"), "control characters"),
        (cell("origin", "a\0wall"), "control characters"),
        (cell("origin", "x" * 200_000), "ends too early or is damaged"),
    ],
)  # fmt: skip
def test_what_is_no_manifest_as_a_table_is_refused_in_a_sentence(data, said):
    with pytest.raises(Refusal) as refused:
        manifest_csv.read_manifest(data)
    assert said in str(refused.value)
    assert len(str(refused.value)) < 400
    assert str(refused.value).endswith((".", "”)."))


@given(st.integers(0, len(TABLE) - 1), st.sampled_from([b"", b"\x00", b'"', b"9", b",", b"x"]))
def test_a_change_anywhere_in_a_table_is_refused_or_changes_nothing(place, with_what):
    data = TABLE[:place] + with_what + TABLE[place + 1 :]
    try:
        found = manifest_csv.read_manifest(data)
    except Refusal:
        return
    assert found == read_manifest(WHOLE)
