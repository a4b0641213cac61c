"""Codes on labels: a kind letter, a bank tag of 3, a serial of 5 and one check character.

Tag and serial are in Crockford's base32, the check character is ISO/IEC 7064 MOD 37,36. Ten upper-case
characters keep a QR symbol at version 1 even with error correction H.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass

from sporebank.core.errors import Refusal

KINDS = {
    "B": "batch",
    "C": "clone",
    "K": "packet",
    "L": "place",
    "P": "pot",
    "R": "parcel",
    "S": "sowing",
    "T": "test",
    "V": "vial",
}

LENGTH = 10
"""Characters of a code, without hyphens."""

_TAG_ENDS = 4

_BASE32 = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_BASE36 = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_LOOKALIKES = str.maketrans("OIL", "011")
_SHAPE = re.compile(rf"[A-Z][{_BASE32}]{{8}}[0-9A-Z]")
_LARGEST = 32**5 - 1


@dataclass(frozen=True)
class Code:
    """A code taken apart; `text` is the ten characters without hyphens."""

    kind: str
    tag: str
    serial: int
    text: str


def crockford(n: int, width: int) -> str:
    """Return a whole number in Crockford's base32, filled with zeros to the width.

    Raises:
        ValueError: the number is negative or needs more places.
    """
    if not 0 <= n < 32**width:
        raise ValueError(f"{n} does not fit in {width} places of base32")
    return "".join(_BASE32[n >> 5 * place & 31] for place in reversed(range(width)))


def check_character(text: str) -> str:
    """Return the ISO/IEC 7064 MOD 37,36 check character of a string of 0-9 and A-Z."""
    product = 36
    for character in text:
        product = ((product + _BASE36.index(character)) % 36 or 36) * 2 % 37
    return _BASE36[(1 - product) % 36]


def make(kind: str, tag: str, serial: int) -> str:
    """Return the code of a thing.

    Raises:
        ValueError: the kind letter is not one of `KINDS`, or the tag is not three base32 characters.
        Refusal: the serials are used up.
    """
    if kind not in KINDS or not re.fullmatch(rf"[{_BASE32}]{{3}}", tag):
        raise ValueError(f"{kind!r} with tag {tag!r} makes no code")
    if serial > _LARGEST:
        raise Refusal(f"This bank has used all {_LARGEST:,} codes for a {KINDS[kind]}. Open a new bank.")
    body = f"{kind}{tag}{crockford(serial, 5)}"
    return body + check_character(body)


def steady(text: str) -> bool:
    """Return whether no swap of two neighbours in the serial makes another right code of a code.

    MOD 37,36 lets a few swaps in a thousand pass; serials with such a swap are passed over when codes are given out.
    A swap that reaches into the tag makes another bank's code, which is refused whatever its check character; it may
    pass for every serial, so that none would be left.
    """
    for place in range(_TAG_ENDS, LENGTH - 1):
        swapped = text[:place] + text[place + 1] + text[place] + text[place + 2 :]
        if swapped != text and _SHAPE.fullmatch(swapped) and check_character(swapped[:-1]) == swapped[-1]:
            return False
    return True


def parse(text: str, tag: str) -> Code:
    """Read a typed or scanned code of the bank with this tag.

    Hyphens, spaces and case do not matter. O, I and L stand for 0 and 1 inside the tag and the serial, as
    Crockford wrote; the kind letter and the check character are letters in their own right.

    Raises:
        Refusal: it has the wrong shape, a wrong check character, an unknown kind, or another bank's tag.
    """
    code = _normalised(text)
    if not _SHAPE.fullmatch(code):
        raise Refusal(f"“{text.strip()}” is not a code. A code has ten letters and digits, as V-ABC-00001-X.")
    if check_character(code[:-1]) != code[-1]:
        raise Refusal(f"{grouped(code)} has a mistake in it: its last character does not fit. Read it again.")
    if code[0] not in KINDS:
        raise Refusal(f"{grouped(code)} is a code of a kind this version does not know.")
    if code[1:4] != tag:
        raise Refusal(f"{grouped(code)} is a {KINDS[code[0]]} of another bank: its tag is {code[1:4]}, not {tag}.")
    return Code(code[0], code[1:4], int(code[4:9].translate(_TO_INT), 32), code)


def grouped(code: str) -> str:
    """Return a code as people read it: `V-ABC-00001-X`."""
    return f"{code[0]}-{code[1:4]}-{code[4:9]}-{code[9:]}"


def tag_from(seed_text: str) -> str:
    """Return a tag of three characters for a bank; the same text always gives the same tag."""
    digest = hashlib.sha256(seed_text.encode()).digest()
    return crockford(int.from_bytes(digest[:8], "big") % 32**3, 3)


def _normalised(text: str) -> str:
    plain = re.sub(r"[\s\-\u2010-\u2015]", "", text).upper()
    return plain[:1] + plain[1:-1].translate(_LOOKALIKES) + plain[1:][-1:]


_TO_INT = str.maketrans(_BASE32, "0123456789abcdefghijklmnopqrstuv")
