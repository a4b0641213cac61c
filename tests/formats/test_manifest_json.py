"""A manifest as JSON keeps to its published schema and says all that the record holds."""

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, FormatChecker

from sporebank.core import naming
from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.papers import Counted, Kept, Manifest, ManifestItem
from sporebank.core.records import Permission, Share, Source, SporeClass, State
from sporebank.formats.manifest_json import write_manifest
from tests.documents.examples import manifest

SCHEMA = json.loads(
    (Path(__file__).resolve().parents[2] / "resources" / "manifest-2.schema.json").read_text(encoding="utf-8")
)
VALID = Draft202012Validator(SCHEMA, format_checker=FormatChecker())


def read(data):
    """Read a manifest back, as another bank would."""
    VALID.validate(whole := json.loads(data))
    items = tuple(_item(packet) for packet in whole["packets"])
    bank = whole["bank"]
    sent = date.fromisoformat(whole["sent_on"])
    made = Manifest(
        whole["parcel"],
        bank["name"],
        bank["tag"],
        sent,
        whole["recipient"],
        items,
        tuple(whole["cautions"]),
        tuple(whole["permits"]),
    )
    assert made.checksum() == whole["checksum"]
    return made


def _item(packet):
    day = date.fromisoformat
    return ManifestItem(
        line=packet["line"], code=packet["vial"], name=naming.parse(packet["taxon"]), clone=packet["clone"],
        source=Source(packet["source"]), origin=packet["origin"], collected=PartDate.parse(packet["collected"]),
        micrograms=packet["micrograms"], share=Share(**packet["alive"]) if packet["alive"] else None,
        state=State(packet["state"]), basis=packet["basis"], as_of=day(packet["as_of"]),
        spore_class=packet["spore_class"], permission=Permission(packet["permission"]), permit=packet["permit"],
        network_number=packet["network_number"], cautions=tuple(packet["cautions"]), batch=packet["batch"],
        kept=tuple(Kept(day(kept["since"]), kept["celsius"]) for kept in packet["kept"]),
        tests=tuple(
            Counted(
                day(test["sown_on"]), day(test["counted_on"]),
                tuple((count["germinated"], count["sown"]) for count in test["counts"]),
            )
            for test in packet["tests"]
        ),
        country=packet["country"],
    )  # fmt: skip


def test_the_schema_is_one():
    """The meta-schema of JSON Schema 2020-12, by jsonschema."""
    Draft202012Validator.check_schema(SCHEMA)


def test_a_manifest_reads_back_as_it_was_and_is_always_the_same_bytes():
    assert read(write_manifest(manifest(6))) == manifest(6)
    assert write_manifest(manifest(6)) == write_manifest(manifest(6))


words = st.text(st.characters(exclude_categories=("Cs",)), max_size=30)


@given(words, words, words)
def test_any_text_survives(origin, permit, recipient):
    whole = replace(manifest(1), recipient=recipient)
    whole = replace(whole, items=(replace(whole.items[0], origin=origin, permit=permit),))
    assert read(write_manifest(whole)) == whole


@pytest.mark.parametrize(
    ("kind", "field"), [(Source, "source"), (State, "state"), (SporeClass, "spore_class"), (Permission, "permission")]
)
def test_the_schema_knows_every_word_that_may_stand_there(kind, field):
    """Neither more nor fewer: a word that is new to the program needs a new version of the schema."""
    assert SCHEMA["$defs"]["packet"]["properties"][field]["enum"] == [each.value for each in kind]


def test_every_part_of_a_manifest_is_required_and_nothing_else_may_stand_there():
    for part in (SCHEMA, SCHEMA["$defs"]["packet"]):
        assert sorted(part["required"]) == sorted(part["properties"])
        assert part["additionalProperties"] is False


@pytest.mark.parametrize(
    ("wrong", "at"),
    [
        ({"version": 3}, "version"), ({"parcel": "V-K7F"}, "parcel"), ({"packets": []}, "packets"),
        ({"sent_on": "3 March"}, "sent_on"), ({"checksum": "x"}, "checksum"), ({"extra": 1}, None),
    ],
)  # fmt: skip
def test_what_is_no_manifest_is_not_valid(wrong, at):
    whole = json.loads(write_manifest(manifest(1))) | wrong
    (error,) = VALID.iter_errors(whole)
    assert not at or error.path[0] == at


def test_a_manifest_without_packets_is_refused():
    with pytest.raises(Refusal, match="Fill the request first"):
        write_manifest(replace(manifest(1), items=()))
