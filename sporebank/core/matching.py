"""Rows of a table that somebody else made: what its columns mean, and which lines of a list its names mean.

What is spelt otherwise is only ever suggested: a suggestion counts once its key is among those that were accepted.
"""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from enum import StrEnum

from sporebank.core import names, naming
from sporebank.core.errors import Refusal
from sporebank.core.exchange import Listed

_CLOSE = 0.8
"""How alike two words must be for one to be suggested for the other, from 0 to 1. The choice is ours."""
_HEAD_WITHIN = 20
"""In so many first rows the names of the columns are looked for."""


class Meaning(StrEnum):
    """What a column of orders can hold."""

    NAME = "name"
    EMAIL = "e-mail"
    COUNTRY = "country"
    ADDRESS = "address"
    ORGANISATION = "organisation"
    FIRST = "first choices"
    ALTERNATIVES = "alternatives"
    HELPER = "helper"
    NOTE = "note"
    RECEIVED = "received on"
    NUMBER = "number"
    TAXON = "taxon"
    PACKETS = "packets"


WORDS: Mapping[Meaning, tuple[str, ...]] = {
    Meaning.NAME: (
        "name", "names", "who", "person", "member", "full name", "your name", "first name", "given name", "surname",
        "last name", "family name", "who asks", "asked by",
    ),
    Meaning.EMAIL: ("e mail", "email", "mail", "e mail address", "email address", "your e mail", "your email"),
    Meaning.COUNTRY: ("country", "country code", "your country"),
    Meaning.ADDRESS: (
        "address", "postal address", "your address", "street", "town", "city", "postcode", "post code", "zip",
    ),
    Meaning.ORGANISATION: ("organisation", "organization", "society", "garden", "institution"),
    Meaning.FIRST: (
        "first choices", "first choice", "choices", "choice", "numbers", "wishes", "wish", "order", "orders",
        "st choice", "wanted",
    ),
    Meaning.ALTERNATIVES: (
        "alternatives", "alternative", "alternates", "alternate", "second choices", "second choice", "substitutes",
        "substitute", "instead", "nd choice", "alt", "alts",
    ),
    Meaning.HELPER: ("helper", "helpers", "packer", "volunteer", "helps", "helped"),
    Meaning.NOTE: ("note", "notes", "remark", "remarks", "comment", "comments", "message"),
    Meaning.RECEIVED: ("received on", "received", "date", "arrived", "arrived on", "timestamp", "time", "sent on"),
    Meaning.NUMBER: ("number", "no", "nr", "line", "line number", "list number"),
    Meaning.TAXON: ("taxon", "fern", "plant", "species", "taxon name", "fern name", "name of fern", "plant name"),
    Meaning.PACKETS: ("packets", "packet", "quantity", "how many", "how many packets", "count"),
}  # fmt: skip
"""The words by which each meaning goes in the head of a table, in small letters without marks."""
_MEANINGS = {word: meaning for meaning, words in WORDS.items() for word in words}
_MANY = frozenset({Meaning.NAME, Meaning.ADDRESS, Meaning.FIRST, Meaning.ALTERNATIVES})
"""What may stand in several columns, which are then read one after the other."""


@dataclass(frozen=True)
class Row:
    """A row of a table as its program numbers it."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class FilledForm:
    """What an order form that was filled in says of its list: whose it is, and the names beside its numbers."""

    exchange: str
    taxa: Mapping[int, str]


@dataclass(frozen=True)
class Table:
    """The rows of a file, and `(row, sentence)` for each row that could not be read; `form` where it was a form."""

    rows: tuple[Row, ...]
    problems: tuple[tuple[int, str], ...] = ()
    form: FilledForm | None = None


@dataclass(frozen=True)
class Suggestion:
    """What something may be meant as; `key` is what is accepted."""

    key: str
    said: str
    meant: str


@dataclass(frozen=True)
class Question:
    """Something about a column or a name that the keeper should see: settled, or a suggestion to accept."""

    sentence: str
    suggestion: Suggestion | None = None
    column: int | None = None


@dataclass(frozen=True)
class Head:
    """What the columns of a table mean, each by its place from 0, and what is to be said about them."""

    row: Row
    columns: Mapping[Meaning, tuple[int, ...]]
    questions: tuple[Question, ...]

    def cell(self, row: Row, meaning: Meaning, between: str = " ") -> str:
        """Return what a row holds of a meaning, several columns joined; nothing where there is no such column."""
        found = (row.cells[place] for place in self.columns.get(meaning, ()) if place < len(row.cells))
        return between.join(text for text in map(str.strip, found) if text)


def letter(place: int) -> str:
    """Return the letters by which spreadsheets call a column: A for 0, AA for 26."""
    letters = ""
    place += 1
    while place:
        place, last = divmod(place - 1, 26)
        letters = chr(ord("A") + last) + letters
    return letters


def columns_known(cells: Iterable[str]) -> int:
    """Return how many cells say in words that are known what a column means."""
    return sum(plain_word(cell) in _MEANINGS for cell in cells)


def find_head(rows: Sequence[Row], accepted: Collection[str] = ()) -> Head:
    """Return what the columns of a table mean, from the first row that names at least two of them.

    Raises:
        Refusal: no row near the top does.
    """
    for row in rows[:_HEAD_WITHIN]:
        guesses = [_guess(cell) for cell in row.cells]
        if sum(guess is not None for guess in guesses) >= 2:
            return _head(row, guesses, accepted)
    raise Refusal(
        "No row names its columns. Write a first row with words such as Name, E-mail, Country, First choices and "
        "Alternatives, and take the file in again."
    )


def _guess(cell: str) -> tuple[str, Meaning] | None:
    """Return the word that the head of a column says, or comes close to, and what it means."""
    word = plain_word(cell)
    if not word or len(word) > 60:
        return None
    if word in _MEANINGS:
        return word, _MEANINGS[word]
    close = get_close_matches(word, _MEANINGS, 1, _CLOSE)
    return (close[0], _MEANINGS[close[0]]) if close else None


def _head(row: Row, guesses: Sequence[tuple[str, Meaning] | None], accepted: Collection[str]) -> Head:
    columns: dict[Meaning, list[int]] = defaultdict(list)
    questions = []
    for place, (cell, guess) in enumerate(zip(row.cells, guesses, strict=True)):
        word, said = plain_word(cell), cell.strip()
        if not said:
            continue
        if guess is None:
            questions.append(Question(f"The column “{_short(said)}” is not read.", None, place))
            continue
        meant, meaning = guess
        suggestion = Suggestion(f"column:{word}", said, meaning.value)
        if word != meant and suggestion.key not in accepted:
            sentence = f"Is the column “{_short(said)}” meant as {meaning.value}? Until you accept it, it is not read."
            questions.append(Question(sentence, suggestion, place))
        elif columns[meaning] and meaning not in _MANY:
            sentence = f"Two columns may hold {meaning.value}. The first is read, “{_short(said)}” is not."
            questions.append(Question(sentence, None, place))
        else:
            columns[meaning].append(place)
    return Head(row, {meaning: tuple(places) for meaning, places in columns.items()}, tuple(questions))


def plain_word(text: str) -> str:
    """Return words in small letters without accents, marks, and numbers at either end: `choice` for `Choice 12:`."""
    spread = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(character for character in spread if not unicodedata.combining(character))
    return re.sub(r"^[\d ]+|[\d ]+$", "", " ".join(re.findall(r"[^\W_]+", bare)))


@dataclass(frozen=True)
class Named:
    """The line that a name means, None where it means none for certain, and what is to be said about it."""

    line: int | None
    question: Question | None = None


@dataclass
class Names:
    """The names of a list, by which its lines are found: exact, by an old name, or as a suggestion."""

    exact: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    old: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    shown: dict[str, str] = field(default_factory=dict)
    _met: dict[tuple[str, bool], Named] = field(default_factory=dict)

    @classmethod
    def of(cls, listed: Iterable[Listed]) -> Names:
        """Return the names of a list."""
        found = cls()
        for line in listed:
            if line.number is None:
                continue
            name = names.text(line.taxon.name)
            found.exact[name.casefold()].append(line.number)
            found.shown[name.casefold()] = name
            if line.taxon.old_name:
                old = _canonical(line.taxon.old_name)
                found.old[old].append(line.number)
                found.shown.setdefault(old, name)
        return found

    def find(self, text: str, accepted: Collection[str] = ()) -> Named:
        """Return which line a name means."""
        wanted = _canonical(text)
        key = f"name:{wanted}"
        met = (wanted, key in accepted)
        if met not in self._met:
            self._met[met] = self._look_for(text.strip(), wanted, key, accepted=met[1])
        return self._met[met]

    def _look_for(self, said: str, wanted: str, key: str, *, accepted: bool) -> Named:
        if lines := self.exact.get(wanted):
            return _one_of(lines, said)
        if lines := self.old.get(wanted):
            return _one_of(lines, said, f"“{_short(said)}” is an old name of {self.shown[wanted]}, which is taken.")
        close = get_close_matches(wanted, [*self.exact, *self.old], 1, _CLOSE) if len(wanted) <= naming.MOST else []
        if not close:
            return Named(None, Question(f"“{_short(said)}” is not on the list."))
        meant = self.shown[close[0]]
        if accepted:
            return _one_of(self.exact.get(close[0]) or self.old[close[0]], meant)
        sentence = f"“{_short(said)}” is not on the list. Is {meant} meant? Until you accept it, it is left out."
        return Named(None, Question(sentence, Suggestion(key, said, meant)))


def _one_of(lines: Sequence[int], said: str, sentence: str = "") -> Named:
    if len(lines) > 1:
        several = " and ".join(map(str, lines))
        return Named(None, Question(f"“{_short(said)}” is on the list as {several}. Write the number."))
    return Named(lines[0], Question(sentence) if sentence else None)


def _canonical(text: str) -> str:
    try:
        return names.text(names.parse(text)).casefold()
    except Refusal:
        return " ".join(text.split()).casefold()


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:60]}…"
