from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import names
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Listed
from sporebank.core.matching import WORDS, Meaning, Names, Row, find_head, letter, plain_word
from sporebank.core.people import People
from sporebank.core.records import Contact, SporeClass, Taxon


def head(*cells, accepted=(), before=()):
    rows = [*(Row(number, (text,)) for number, text in enumerate(before, 1)), Row(len(before) + 1, cells)]
    return find_head(rows, accepted)


def listed(*texts, old=()):
    taxa = [Taxon(n, names.parse(text), "", SporeClass.NON_GREEN, verified=True) for n, text in enumerate(texts, 1)]
    taxa = [replace(taxon, old_name=dict(old).get(taxon.id, "")) for taxon in taxa]
    return [Listed(taxon.id, taxon.id, taxon, 2000, 5, 5, False, "") for taxon in taxa]


def test_no_word_means_two_things():
    words = [word for group in WORDS.values() for word in group]
    assert len(set(words)) == len(words)
    assert all(plain_word(word) == word for word in words)


@pytest.mark.parametrize(
    ("cell", "meaning"),
    [
        ("Name", Meaning.NAME),
        ("  E-MAIL: ", Meaning.EMAIL),
        ("Choice 12", Meaning.FIRST),
        ("1st choice", Meaning.FIRST),
        ("2nd choice", Meaning.ALTERNATIVES),
        ("Alt 1", Meaning.ALTERNATIVES),
        ("Organisation", Meaning.ORGANISATION),
        ("No.", Meaning.NUMBER),
        ("Time-stamp", None),
    ],
)
def test_heads_are_known_whatever_their_case_marks_and_numbers(cell, meaning):
    found = head("Name", "Numbers", cell)
    assert (meaning is None) == (2 not in {place for places in found.columns.values() for place in places})
    if meaning is not None:
        assert 2 in found.columns[meaning]


def test_several_columns_of_names_addresses_and_choices_are_read_one_after_the_other():
    found = head("First name", "Surname", "Street", "Town", "Choice 1", "Choice 2")
    row = Row(2, ("Ida", " Falk ", "Lane 1", "", "12", "14"))
    assert found.cell(row, Meaning.NAME) == "Ida Falk"
    assert found.cell(row, Meaning.ADDRESS, "\n") == "Lane 1"
    assert found.cell(row, Meaning.FIRST) == "12 14"
    assert found.cell(row, Meaning.NOTE) == ""
    assert found.cell(Row(3, ("Ida",)), Meaning.FIRST) == ""


def test_a_column_spelt_otherwise_is_read_only_once_that_is_accepted():
    found = head("Name", "Numbers", "Adress", "Favourite colour", "", "E-mail", "Mail")
    assert Meaning.ADDRESS not in found.columns
    doubt, unread, second = found.questions
    assert doubt.suggestion.key == "column:adress"
    assert "meant as address" in doubt.sentence
    assert "Favourite colour" in unread.sentence
    assert unread.suggestion is None
    assert found.columns[Meaning.EMAIL] == (5,)
    assert "Two columns may hold e-mail" in second.sentence
    accepted = head("Name", "Numbers", "Adress", accepted={"column:adress"})
    assert accepted.columns[Meaning.ADDRESS] == (2,)
    assert accepted.questions == ()


def test_the_head_may_stand_under_a_title():
    found = head("Name", "Numbers", before=("Orders of 2026", "made by hand"))
    assert found.row.number == 3
    with pytest.raises(Refusal, match="No row names its columns"):
        head("Ida Falk", "12 14", "NL")


@given(st.lists(st.text(max_size=80), max_size=8))
def test_any_head_is_read_or_refused(cells):
    try:
        found = head(*cells)
    except Refusal:
        return
    places = [place for places in found.columns.values() for place in places]
    assert len(set(places)) == len(places)
    assert set(places) | {one.column for one in found.questions} == {n for n, c in enumerate(cells) if c.strip()}


def test_columns_are_called_as_spreadsheets_call_them():
    assert [letter(place) for place in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]


def test_names_of_the_list_are_found_as_written_by_old_names_and_only_suggested_by_spelling():
    found = Names.of(
        listed(
            "Polystichum setiferum", "Asplenium scolopendrium", "Dryopteris affinis", "Dryopteris affinis",
            old={2: "Phyllitis scolopendrium"}.items(),
        )
    )  # fmt: skip
    assert found.find("polystichum  SETIFERUM").line == 1
    assert found.find("Polystichum setiferum").question is None
    old = found.find("Phyllitis scolopendrium")
    assert old.line == 2
    assert "old name of Asplenium scolopendrium" in old.question.sentence
    doubt = found.find("Polystichum setifrum")
    assert doubt.line is None
    assert doubt.question.suggestion.meant == "Polystichum setiferum"
    accepted = {doubt.question.suggestion.key}
    assert found.find("Polystichum setifrum", accepted).line == 1
    by_old = found.find("Phylitis scolopendrium")
    assert by_old.question.suggestion.meant == "Asplenium scolopendrium"
    assert found.find("Phylitis scolopendrium", {by_old.question.suggestion.key}).line == 2
    assert "as 3 and 4" in found.find("Dryopteris affinis").question.sentence
    assert found.find("Osmunda regalis").line is None
    assert found.find("x" * 100_000).line is None


PEOPLE = (
    Contact(1, "Marit Olden", country="NL", email="marit@example.org"),
    Contact(2, "Ida Falk", country="SE"),
    Contact(3, "Jon Brandt", country="DE"),
    Contact(4, "Jon Brandt", country="DE"),
    Contact(5, "Pia Lund"),
)


@pytest.mark.parametrize(
    ("said", "known"),
    [
        (Contact(0, "", email="MARIT@example.org"), 1),
        (Contact(0, "M. Olden", "", "", "SE", "marit@example.org"), 1),
        (Contact(0, "Olden, Marit", email="marit@example.org"), 1),
        (Contact(0, "Olden", email="marit@example.org"), 1),
        (Contact(0, "marit  olden", country="nl"), 1),
        (Contact(0, "Ida Falk", "", "", "SE", "ida@example.org"), 2),
        (Contact(0, "Ida Falk", country="NO"), 0),
        (Contact(0, "New Person", country="SE"), 0),
    ],
)
def test_people_are_known_by_e_mail_else_by_name_and_country(said, known):
    found = People.of(PEOPLE).find(said)
    assert found.contact.id == known
    assert found.question is None


@pytest.mark.parametrize(
    ("said", "says"),
    [
        (Contact(0, "", country="NL"), "no name"),
        (Contact(0, "Jon Brandt", country="DE"), "several of the name"),
        (Contact(0, "Marit Olden", "", "", "NL", "other@example.org"), "Is Marit Olden, NL, other@example.org the"),
        (Contact(0, "Ida Falk"), "the same as Ida Falk, SE"),
        (Contact(0, "Pia Lund", country="DK"), "the same as Pia Lund"),
    ],
)  # fmt: skip
def test_who_cannot_be_told_is_asked_about(said, says):
    found = People.of(PEOPLE).find(said)
    assert found.contact is None
    assert says in found.question.sentence
    if found.question.suggestion is not None:
        accepted = People.of(PEOPLE).find(said, {found.question.suggestion.key})
        assert accepted.contact.name == said.name


def test_an_e_mail_with_the_name_of_somebody_else_is_asked_about():
    said = Contact(0, "Tom Olden", "", "", "NL", "marit@example.org")
    found = People.of(PEOPLE).find(said)
    assert found.contact is None
    assert "Is Tom Olden, NL, marit@example.org the same as Marit Olden" in found.question.sentence
    assert found.question.sentence.endswith("Somebody else needs another e-mail, or none.")
    assert People.of(PEOPLE).find(said, {found.question.suggestion.key}).contact.id == 1
    both = People.of([*PEOPLE, replace(said, id=6)])
    assert both.find(said).contact.id == 6
    assert both.find(replace(said, name="marit olden")).contact.id == 1


def test_whoever_is_like_several_is_told_to_write_more():
    several = People.of([Contact(1, "Ida Falk", country="SE"), Contact(2, "Ida Falk", country="NO")])
    found = several.find(Contact(0, "Ida Falk"))
    assert found.contact is None
    assert found.question.suggestion is None
    assert "several people like Ida Falk" in found.question.sentence


def test_an_e_mail_of_two_contacts_tells_neither():
    twice = People.of([PEOPLE[0], replace(PEOPLE[1], email="marit@example.org")])
    assert "several contacts" in twice.find(Contact(0, "x", email="marit@example.org")).question.sentence


def test_whom_a_table_brings_is_known_from_then_on():
    people = People.of(PEOPLE)
    first = people.add(Contact(0, "Ada Brock", country="GB", email="ada@example.org"))
    second = people.add(Contact(0, "Ole Holm", country="DK"))
    assert (first.id, second.id) == (-1, -2)
    assert people.find(Contact(0, "Ada Brock", country="GB")).contact is first
    assert people.find(Contact(0, "ole holm", country="DK")).contact is second
