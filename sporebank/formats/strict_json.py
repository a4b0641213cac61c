"""JSON that somebody else made, read strictly (RFC 8259): each value only as what it should be, within limits.

Whatever is wrong is said in a sentence with where it stands.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from enum import StrEnum
from typing import Any, NoReturn, TypeVar

from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal

MOST_BYTES = 5_000_000
MOST_TEXT = 2_000
MOST_DIGITS = 15
"""Characters of a text, and digits of a number; all limits are ours, far beyond any parcel."""
_TOO_LARGE = "A number in this file is far too large for any parcel. Ask the sender for the file again."
_NO_DAY = "a day such as 2026-03-03 should stand here."
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_PART_DATE = re.compile(r"\d{4}(-\d{2}(-\d{2})?)?")
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Marks that turn the direction of writing: what is read on the screen is then not what stands there."""

E = TypeVar("E", bound=StrEnum)
T = TypeVar("T")


def load(data: bytes) -> Part:
    """Return the whole of a JSON file.

    Raises:
        Refusal: it is too large, cut short, damaged, or no JSON in UTF-8.
    """
    text = text_of(data)
    try:
        found = json.loads(
            text, object_pairs_hook=_once, parse_constant=_no_number, parse_int=_whole, parse_float=_decimal
        )
    except json.JSONDecodeError as error:
        raise Refusal(_broken(text, error)) from error
    except RecursionError as error:
        raise Refusal("This file is nested far deeper than any manifest. It is not read.") from error
    return Part(found, "")


def text_of(data: bytes) -> str:
    """Return the text of a file in UTF-8, with or without a byte order mark.

    Raises:
        Refusal: it is too large, empty, or no such text.
    """
    if len(data) > MOST_BYTES:
        raise Refusal(
            f"This file is larger than {MOST_BYTES // 1_000_000} MB, far more than any manifest. It is not read."
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refusal("This file is damaged, or no text in UTF-8. Ask the sender for it again.") from error
    if not text.strip():
        raise Refusal("This file is empty. Ask the sender for it again.")
    return text


def _broken(text: str, error: json.JSONDecodeError) -> str:
    rest = text[error.pos :].strip()
    if not rest or error.msg.startswith("Unterminated string"):
        return "This file ends too early: a part of it is missing. Ask the sender for it again."
    return f"This file is damaged, or no JSON: line {error.lineno} cannot be read. Ask the sender for it again."


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        counted = Counter(name for name, _ in pairs)
        twice = next(name for name, count in counted.items() if count > 1)
        raise Refusal(f"“{_short(twice)}” stands twice in one place of this file, so that it can be read in two ways.")
    return found


def _no_number(word: str) -> NoReturn:
    raise Refusal(f"“{word}” stands in this file where a number should be. Ask the sender for it again.")


def _whole(digits: str) -> int:
    if len(digits.lstrip("-")) > MOST_DIGITS:
        raise Refusal(_TOO_LARGE)
    return int(digits)


def _decimal(digits: str) -> float:
    number = float(digits)
    if abs(number) >= 10.0**MOST_DIGITS:
        raise Refusal(_TOO_LARGE)
    return number


def _short(text: str) -> str:
    plain = "".join(one if one.isprintable() else "?" for one in text)
    return plain if len(plain) <= 40 else f"{plain[:40]}…"


class Part:
    """A value of the file; `where` says where it stands, for people. What is wrong is refused."""

    def __init__(self, value: object, where: str) -> None:
        self._value, self._where = value, where

    def refuse(self, what: str) -> NoReturn:
        """Refuse this value with what it should be."""
        raise Refusal(f"{self._where or 'This file'}: {what} Ask the sender for the file again.")

    def has(self, name: str, value: object) -> bool:
        """Return whether this is an object with this value under a name."""
        return isinstance(self._value, dict) and self._value.get(name) == value

    def fields(self, *expected: str) -> dict[str, Part]:
        """Return the values of an object that must have just these names."""
        if not isinstance(self._value, dict):
            self.refuse("something else stands where several things should.")
        if missing := [name for name in expected if name not in self._value]:
            self.refuse(f"“{missing[0]}” is missing.")
        if unknown := [name for name in self._value if name not in expected]:
            self.refuse(f"“{_short(unknown[0])}” is not known here.")
        return {name: Part(value, self._under(name)) for name, value in self._value.items()}

    def get(self, name: str) -> Part:
        """Return one value of an object."""
        if not isinstance(self._value, dict) or name not in self._value:
            self.refuse(f"“{name}” is missing.")
        return Part(self._value[name], self._under(name))

    def _under(self, name: str) -> str:
        return f"{self._where}, {name}" if self._where else name

    def rows(self, most: int, each: str = "") -> Iterator[Part]:
        """Yield the values of a list that is not too long; `each` says what one is called."""
        if not isinstance(self._value, list):
            self.refuse("a list should stand here.")
        if len(self._value) > most:
            self.refuse(f"there are {len(self._value):,} of them, more than the {most:,} that are read.")
        for number, value in enumerate(self._value, start=1):
            yield Part(value, f"{each or self._where} {number}")

    def nothing(self) -> bool:
        """Return whether it is null."""
        return self._value is None

    def text(self, *, lines: bool = False) -> str:
        """Return a text without control characters; `lines` lets line ends and tabs stand."""
        value = self._value
        if not isinstance(value, str):
            self.refuse("a text should stand here.")
        if len(value) > MOST_TEXT:
            self.refuse(f"the text is longer than {MOST_TEXT:,} characters.")
        allowed = "\n\t" if lines else ""
        if any(_hidden(one) and one not in allowed for one in value):
            self.refuse("the text holds control characters, which cannot be seen.")
        return value

    def whole(self, least: int, most: int) -> int:
        """Return a whole number within limits."""
        value = self._value
        if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
            self.refuse(f"a whole number from {least:,} to {most:,} should stand here.")
        return value

    def number(self, least: float, most: float) -> float:
        """Return a number within limits."""
        value = self._value
        if not isinstance(value, int | float) or isinstance(value, bool) or not least <= value <= most:
            self.refuse(f"a number from {least:g} to {most:g} should stand here.")
        return value

    def day(self) -> date:
        """Return a day."""
        value = self.text()
        if not _DAY.fullmatch(value):
            self.refuse(_NO_DAY)
        try:
            return date.fromisoformat(value)
        except ValueError:
            self.refuse(_NO_DAY)

    def part_date(self) -> PartDate:
        """Return a partly known date."""
        value = self.text()
        if not _PART_DATE.fullmatch(value):
            self.refuse("a date such as 2019, 2019-08 or 2019-08-14 should stand here.")
        return self.read(PartDate.parse)

    def one_of(self, kind: type[E]) -> E:
        """Return one of several words."""
        value = self.text()
        if value not in {each.value for each in kind}:
            self.refuse(f"one of {_listed([each.value for each in kind])} should stand here.")
        return kind(value)

    def read(self, reader: Callable[[str], T]) -> T:
        """Return what `reader` makes of a text; what it refuses is refused with its place."""
        try:
            return reader(self.text())
        except Refusal as refusal:
            raise Refusal(f"{self._where}: {refusal}") from refusal


def _hidden(one: str) -> bool:
    return unicodedata.category(one) in ("Cc", "Cs") or one in _TURNING


def _listed(words: Sequence[str]) -> str:
    return ", ".join(words[:-1]) + f" or {words[-1]}"
