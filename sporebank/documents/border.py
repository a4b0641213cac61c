"""The packing list that lies in a parcel abroad: every packet with its number, its name and its country of origin."""

from __future__ import annotations

from typing import Any

from reportlab.platypus import PageBreak, Paragraph, Spacer

from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.papers import Declaration, Declared, PackingList
from sporebank.documents import style
from sporebank.documents.style import BODY, HEAD, HEAD_RIGHT, NUMBER, SECTION, SMALL, Content, plain

_WIDTHS = (14, 34, 66, 20, 40)


def pages(packing: PackingList, border: Declaration) -> Content:
    """Return the pages that go into the parcel, beginning with a new one."""
    facts = [
        ("Exporter", plain(border.exporter)),
        ("To", style.lines(packing.recipient)),
        ("Country", plain(border.destination)),
        ("Date", day_label(packing.on)),
        ("In it", counted(len(border.packets), "packet of fern spore", "packets of fern spore")),
    ]
    head = [
        Paragraph("Number", HEAD),
        Paragraph("Code", HEAD),
        Paragraph("Scientific name", HEAD),
        Paragraph("Amount", HEAD_RIGHT),
        Paragraph("Country of origin", HEAD),
    ]
    content: Content = [PageBreak(), *style.heading(packing.bank, "Packing list, in the parcel", facts, packing.parcel)]
    content.append(style.grid(head, [_row(one) for one in border.packets], _WIDTHS))
    for title, sentences in (("Papers of who gets it", border.permits), ("Acknowledged", border.answers)):
        if sentences:
            content.append(Paragraph(title, SECTION))
            content += [Paragraph(plain(one), style.LISTED, bulletText="–") for one in sentences]
    content += [Spacer(0, 12), Paragraph(plain(border.caution), SMALL)]
    return content


def _row(one: Declared) -> list[Any]:
    return [
        Paragraph(str(one.number), BODY),
        Paragraph(codes.grouped(one.code), BODY),
        Paragraph(style.taxon(one.name), BODY),
        Paragraph(plain(amounts.show(one.micrograms)), NUMBER),
        Paragraph(plain(one.country), BODY),
    ]
