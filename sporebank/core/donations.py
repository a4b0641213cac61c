"""What somebody gives to an exchange, typed a line a packet or pasted from a spreadsheet."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from sporebank.core.dates import PartDate
from sporebank.core.errors import Refusal
from sporebank.core.records import Contact, Source, TaxonName

COLUMNS = "name; packets; collected; origin; country; note"
"""What stands in a line, in this order; a tab divides as well as a semicolon."""

MOST = 10_000
_RESEALED = re.compile(r"\bresealed\b[,;]?\s*", re.IGNORECASE)
_SOURCE = re.compile(r"(wild|garden|bought)\b[,:]?\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Gift:
    """A packet given: the name as it was written, what it is worth in packets, and what is known of it."""

    said: str
    packets: int = 1
    collected: PartDate | None = None
    source: Source = Source.UNKNOWN
    origin: str = ""
    country: str = ""
    resealed: bool = False
    note: str = ""


@dataclass(frozen=True)
class ReadLine:
    """A line as it was read: its number from 1, and the gift, or why it is none."""

    number: int
    gift: Gift | None
    problem: str = ""


@dataclass(frozen=True)
class Donation:
    """What was given to an exchange, by whom, and the batch that became of it."""

    id: int
    contact: Contact
    received_on: date
    received_as: str
    name: TaxonName | None
    batch: str
    packets: int
    resealed: bool
    note: str


def read_lines(text: str) -> tuple[ReadLine, ...]:
    """Read what was typed; empty lines count for nothing, and one bad line loses no other."""
    return tuple(_read_all(text))


def _read_all(text: str) -> Iterator[ReadLine]:
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            try:
                yield ReadLine(number, _read(line))
            except Refusal as refusal:
                yield ReadLine(number, None, str(refusal))


def _read(line: str) -> Gift:
    """Return the gift of a line.

    Raises:
        Refusal: a part of it cannot be read.
    """
    parts = [part.strip() for part in re.split(r"[;\t]", line)]
    if len(parts) > COLUMNS.count(";") + 1:
        raise Refusal(f"There is more in this line than {COLUMNS}. Take a semicolon out.")
    name, packets, collected, origin, country, note = parts + [""] * (6 - len(parts))
    if not name:
        raise Refusal("The name is missing; write what stands on the packet.")
    source = _SOURCE.match(origin)
    return Gift(
        said=name,
        packets=_packets(packets),
        collected=PartDate.parse(collected) if collected else None,
        source=Source(source[1].lower()) if source else Source.UNKNOWN,
        origin=origin[source.end() :] if source else origin,
        country=country.upper(),
        resealed=bool(_RESEALED.search(note)),
        note=_RESEALED.sub("", note).strip(),
    )


def _packets(text: str) -> int:
    if not text:
        return 1
    if not re.fullmatch(r"[0-9]{1,5}", text) or not 1 <= int(text) <= MOST:
        raise Refusal(f"“{text}” is no number of packets. Write a whole number, such as 3.")
    return int(text)


def write_line(gift: Gift) -> str:
    """Return a gift as the line it would be typed as."""
    source = "" if gift.source is Source.UNKNOWN else gift.source.value
    origin = ", ".join(filter(None, (source, gift.origin)))
    note = ", ".join(filter(None, ("resealed" if gift.resealed else "", gift.note)))
    collected = "" if gift.collected is None else gift.collected.iso()
    return "; ".join((gift.said, str(gift.packets), collected, origin, gift.country, note)).rstrip("; ")
