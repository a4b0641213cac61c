"""The typefaces of all documents: embedded, with their coverage known before anything is printed."""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from sporebank.core.errors import Refusal
from sporebank.core.fit import MM_PER_POINT, Line
from sporebank.paths import resources

REGULAR = "NotoSans-Regular"
ITALIC = "NotoSans-Italic"
STRONG = "NotoSans-SemiBold"
STRONG_ITALIC = "NotoSans-SemiBoldItalic"
CONDENSED = "NotoSans-Condensed"
CONDENSED_ITALIC = "NotoSans-CondensedItalic"
CONDENSED_STRONG = "NotoSans-CondensedSemiBold"
CONDENSED_STRONG_ITALIC = "NotoSans-CondensedSemiBoldItalic"
_FACES = {  # by condensed and strong: upright, italic
    (False, False): (REGULAR, ITALIC),
    (False, True): (STRONG, STRONG_ITALIC),
    (True, False): (CONDENSED, CONDENSED_ITALIC),
    (True, True): (CONDENSED_STRONG, CONDENSED_STRONG_ITALIC),
}
FACES = tuple(name for pair in _FACES.values() for name in pair)


def font_file(face: str) -> Path:
    """Return the TrueType file of a face, for a preview that draws with the same outlines."""
    return resources() / "fonts" / f"{face}.ttf"


@cache
def register() -> dict[str, TTFont]:
    """Make all faces known to ReportLab, once, and return them by name."""
    fonts = {face: TTFont(face, str(font_file(face))) for face in FACES}
    for font in fonts.values():
        pdfmetrics.registerFont(font)
    pdfmetrics.registerFontFamily(REGULAR, REGULAR, STRONG, ITALIC, STRONG_ITALIC)
    pdfmetrics.registerFontFamily(STRONG, STRONG, STRONG, STRONG_ITALIC, STRONG_ITALIC)
    return fonts


def face(*, italic: bool = False, condensed: bool = False, strong: bool = False) -> str:
    """Return the face of a run."""
    return _FACES[condensed, strong][italic]


def text_width(text: str, in_face: str, size: float) -> float:
    """Return the width of a text in mm, its size in points."""
    return float(register()[in_face].stringWidth(text, size)) * MM_PER_POINT


def measure(line: Line, condensed: bool) -> float:
    """Return the width of a line in mm for each point of its size."""
    return sum(text_width(run.text, face(italic=run.italic, condensed=condensed), 1) for run in line)


def measure_strong(line: Line, condensed: bool) -> float:
    """Return the same for a strong line."""
    return sum(text_width(run.text, face(italic=run.italic, condensed=condensed, strong=True), 1) for run in line)


def composed(text: str) -> str:
    """Return a text composed (Unicode NFC), without invisible signs, every kind of space a plain one.

    A minus becomes an en dash, which is as long and which all faces have.
    """
    whole = unicodedata.normalize("NFC", text).replace("\N{MINUS SIGN}", "\N{EN DASH}")
    seen = (sign for sign in whole if unicodedata.category(sign) != "Cf")
    return "".join(" " if sign.isspace() else sign for sign in seen)


def clean(text: str) -> str:
    """Return a text composed and on one line, without spaces at its ends or in a row."""
    return " ".join(composed(text).split())


@cache
def _covered() -> frozenset[str]:
    """Return the characters that every face has a glyph for."""
    return frozenset(
        map(chr, frozenset.intersection(*(frozenset(font.face.charToGlyph) for font in register().values())))
    )


def missing(text: str) -> tuple[str, ...]:
    """Return the characters of a cleaned text that some face has no glyph for, each once."""
    covered = _covered()
    return tuple(dict.fromkeys(sign for sign in text if sign not in covered))


def missing_sentence(text: str) -> str:
    """Return why a text cannot be printed, or nothing when it can."""
    absent = missing(text)
    if not absent:
        return ""
    named = ", ".join(f"{sign} (U+{ord(sign):04X})" for sign in absent)
    return f"“{text}” has characters that the fonts lack: {named}. Write it in Latin, Greek or Cyrillic letters."


def printable(text: str) -> str:
    """Return the cleaned text.

    Raises:
        Refusal: it has a character without a glyph, which would come out as an empty box.
    """
    cleaned = clean(text)
    if sentence := missing_sentence(cleaned):
        raise Refusal(sentence)
    return cleaned
