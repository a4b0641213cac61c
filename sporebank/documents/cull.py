"""The cull sheet: which dead vials leave the bank, why, and who took them out."""

from __future__ import annotations

from typing import Any

from reportlab.platypus import Paragraph

from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.papers import CullItem, CullSheet
from sporebank.documents import style
from sporebank.documents.figures import TickBox
from sporebank.documents.style import BODY, CAUTION, HEAD, HEAD_RIGHT, NOTE, NUMBER, plain

_WIDTHS = (9, 35, 32, 42, 17, 39)


def render(cull: CullSheet) -> bytes:
    """Return a cull sheet as PDF."""
    day = day_label(cull.on)
    facts = [("On", day), ("To cull", counted(len(cull.items), "vial"))]
    if last := sum(item.last_of_clone for item in cull.items):
        facts.append(("Look twice", f"{counted(last, 'vial is', 'vials are')} the last of the clone"))
    content = style.heading(cull.bank, "Cull sheet", facts)
    if cull.items:
        content.append(style.grid(_head(), [_row(item) for item in cull.walk()], _WIDTHS))
        content.append(style.signature("Tick each vial as it leaves its slot. Taken out by:", cull.signed_by))
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
