"""What stands on a label: its rows of text, each from the full wording to the shortest one allowed."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sporebank.core import codes, names
from sporebank.core.dates import PartDate
from sporebank.core.papers import Label, PacketLabel, PotLabel, VialLabel
from sporebank.core.records import Run
from sporebank.core.sheets import SEPARATOR, Line
from sporebank.documents import fonts

_AMOUNT_FROM = 10.0  # mm of height for text: on lower labels an amount would crowd out the name
_PLACE_FROM = 14.0
_ONE_ROW_FROM = 55.0  # mm of width for text, from which a tag says all about its sowing in one row
_WORDS_FROM = 40.0  # mm of width for text, from which dates say what they are the dates of


NO_BREAK = "\N{NO-BREAK SPACE}"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=%|mg\b|µg\b)")


@dataclass(frozen=True)
class Row:
    """One text of a label: the wordings from full to shortest, and in how many lines it may break.

    A row that is `whole` breaks only in a pinch. An optional row is printed where there is room and missed
    by nobody where there is none.
    """

    what: str
    wordings: tuple[Line, ...]
    lines: int = 1
    strong: bool = False
    whole: bool = True
    optional: bool = False


def rows_of(label: Label, width: float, height: float) -> tuple[Row, ...]:
    """Return the rows of a label from the name to the code, for `width` by `height` mm of text."""
    name = Row("name", tuple(_clean(line) for line in names.abbreviations(label.name)), lines=3, whole=False)
    code = _plain("code", codes.grouped(label.code), strong=True)
    return (name, *_rows(label, width, height), code)


def _rows(label: Label, width: float, height: float) -> tuple[Row, ...]:
    if isinstance(label, VialLabel):
        return _vial_rows(label, height)
    if isinstance(label, PotLabel):
        return _pot_rows(label, width)
    return _packet_rows(label, width)


def _vial_rows(label: VialLabel, height: float) -> tuple[Row, ...]:
    rows = [_dated(label.clone, label.collected)]
    if height >= _AMOUNT_FROM and label.amount:
        rows.append(_plain("amount", label.amount))
    if height >= _PLACE_FROM and label.place:
        rows.append(_plain("place", label.place, lines=2, optional=True))
    return tuple(rows)


def _pot_rows(label: PotLabel, width: float) -> tuple[Row, ...]:
    sown = _dated(label.clone, PartDate.of(label.sown), "sown ")
    batch = codes.grouped(label.batch)
    if width < _ONE_ROW_FROM:
        return (sown, _plain("batch", f"from {batch}", batch))
    joined = (f"{line[0].text} {SEPARATOR} from {batch}" for line in sown.wordings)
    return (_plain("sowing", *joined, lines=2),)


def _packet_rows(label: PacketLabel, width: float) -> tuple[Row, ...]:
    rows = [
        _dated(label.clone, label.collected, "collected " if width >= _WORDS_FROM else ""),
        _plain("amount", f"{label.amount} {SEPARATOR} {label.alive}" if label.alive else label.amount, lines=2),
        _plain("parcel", f"{codes.grouped(label.parcel)}, {_unbroken(f'line {label.line}')}"),
    ]
    rows += [_plain("caution", caution, lines=3, whole=False) for caution in label.cautions]
    return tuple(rows)


def _dated(clone: str, day: PartDate, word: str = "") -> Row:
    dates = [day, PartDate(day.year, day.month), PartDate(day.year)]
    wordings = (f"{clone} {SEPARATOR} {_unbroken(word + shorter.label())}" for shorter in dates)
    return _plain("clone and date", *dict.fromkeys(wordings), lines=2)


def _unbroken(text: str) -> str:
    return text.replace(" ", NO_BREAK)


def _plain(
    what: str,
    *texts: str,
    lines: int = 1,
    strong: bool = False,
    whole: bool = True,
    optional: bool = False,
) -> Row:
    return Row(what, tuple((Run(_kept(text)),) for text in texts), lines, strong, whole, optional)


def _kept(text: str) -> str:
    """Clean a text but for the spaces at which it must not break: those given, and between number and unit."""
    cleaned = NO_BREAK.join(fonts.clean(part) for part in text.split(NO_BREAK))
    return _BEFORE_UNIT.sub(NO_BREAK, cleaned)


def _clean(line: Line) -> Line:
    """Compose each run; spaces at its ends hold the runs apart and stay."""
    return tuple(Run(fonts.composed(run.text), run.italic) for run in line)
