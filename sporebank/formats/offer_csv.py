"""The list of an exchange as CSV, for a web page or a spreadsheet: UTF-8 with a byte order mark, a row a line."""

from __future__ import annotations

import csv
import io

from sporebank.core import names
from sporebank.core.offer_list import OfferLine, OfferList
from sporebank.formats.manifest_csv import ENCODING, guarded

COLUMNS = (
    "number", "taxon", "old_name", "note", "origin", "collected", "alive", "donors", "packet", "packets", "marks",
)  # fmt: skip


def write_offer_list(offered: OfferList) -> bytes:
    """Return the list as CSV."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([guarded(cell) for cell in _cells(line)] for line in offered.lines)
    return out.getvalue().encode(ENCODING)


def _cells(line: OfferLine) -> tuple[str, ...]:
    return (
        str(line.number),
        names.text(line.name),
        line.old_name,
        line.note,
        line.origin,
        line.collected,
        line.alive,
        line.donors,
        line.packet,
        str(line.packets),
        "; ".join(line.marks),
    )
