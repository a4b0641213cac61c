"""The cull sheet: which dead vials leave the bank, why, and who took them out."""

from __future__ import annotations

from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, Paragraph, Spacer, Table, TableStyle

from sporebank.core import amounts, codes
from sporebank.core.dates import day_label
from sporebank.core.papers import CullItem, CullSheet
from sporebank.documents import style
from sporebank.documents.figures import INK, TickBox
from sporebank.documents.style import BODY, CAUTION, HEAD, HEAD_RIGHT, NOTE, NUMBER, SMALL, plain

_WIDTHS = (9, 35, 32, 42, 17, 39)


def render(cull: CullSheet) -> bytes:
    """Return a cull sheet as PDF."""
    day = day_label(cull.on)
    facts = [("On", day), ("To cull", style.counted(len(cull.items), "vial", "vials"))]
    if last := sum(item.last_of_clone for item in cull.items):
        facts.append(("Look twice", f"{style.counted(last, 'vial is', 'vials are')} the last of the clone"))
    content = style.heading(cull.bank, "Cull sheet", facts)
    if cull.items:
        content.append(style.grid(_head(), [_row(item) for item in cull.walk()], _WIDTHS))
        content.append(_signature(cull))
    else:
        content.append(Paragraph("There is nothing to cull.", BODY))
    return style.build(f"Cull sheet {day}", cull.bank, f"{cull.bank} · cull sheet {day}", content)


def _head() -> list[Paragraph | str]:
    words = ("", "Place", "Vial", "Taxon and clone", "Left", "Why")
    return [Paragraph(word, HEAD_RIGHT if word == "Left" else HEAD) for word in words]


def _row(item: CullItem) -> list[Any]:
    last = (Paragraph("Last vial of this clone", CAUTION),) if item.last_of_clone else ()
    disposal = [Paragraph(plain(item.disposal), CAUTION)] if item.disposal else []
    return [
        TickBox(),
        Paragraph(plain(item.place), BODY),
        Paragraph(codes.grouped(item.code), BODY),
        style.named(item.name, item.clone, *last),
        Paragraph(plain(amounts.show(item.left)), NUMBER),
        [Paragraph(plain(item.why), NOTE), *disposal],
    ]


def _signature(cull: CullSheet) -> KeepTogether:
    ask = Paragraph("Tick each vial as it leaves its slot. Taken out by:", BODY)
    row = [Paragraph(plain(cull.signed_by), BODY), "", ""]
    table = Table([row, [Paragraph(word, SMALL) for word in ("Name", "", "Date and signature")]],
                  colWidths=[70 * mm, 8 * mm, 80 * mm], hAlign="LEFT")  # fmt: skip
    table.setStyle(
        TableStyle(
            [
                style.FACE,
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, 0), 9 * mm),
                ("LINEBELOW", (0, 0), (0, 0), 0.6, INK),
                ("LINEBELOW", (2, 0), (2, 0), 0.6, INK),
            ]
        )
    )
    return KeepTogether([Spacer(0, 9 * mm), ask, table])
