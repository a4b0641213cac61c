"""The packing list: one parcel's vials in the order in which the packer walks."""

from __future__ import annotations

from typing import Any

from reportlab.platypus import Flowable, Paragraph

from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.papers import PackingItem, PackingList, Unfilled
from sporebank.documents import border, style
from sporebank.documents.figures import TickBox
from sporebank.documents.style import BODY, HEAD, HEAD_RIGHT, NUMBER, SECTION, SMALL, plain

_WIDTHS = (9, 35, 30, 65, 17, 18)


def render(packing: PackingList) -> bytes:
    """Return a packing list as PDF."""
    code = codes.grouped(packing.parcel)
    facts = [("For", style.lines(packing.recipient)), ("Packed on", day_label(packing.on)), ("Draw", _sum(packing))]
    facts += [(word, f"<b>{plain(amount)}</b>") for word, amount in packing.sums]
    content = style.heading(packing.bank, "Packing list", facts, packing.parcel)
    if packing.items:
        content.append(_table(packing))
    else:
        content.append(Paragraph("There is nothing to pack.", BODY))
    if packing.unfilled:
        content += [Paragraph("Could not be filled", SECTION), _unfilled(packing.unfilled)]
    if packing.border is not None:
        content += border.pages(packing, packing.border)
    return style.build(f"Packing list {code}", packing.bank, f"{packing.bank} · packing list {code}", content)


def _sum(packing: PackingList) -> str:
    words = counted(len({item.vial for item in packing.items}), "vial")
    total = amounts.show(sum(item.take for item in packing.items))
    return f"{total} from {words}" if packing.items else words


def _table(packing: PackingList) -> Flowable:
    head = [
        "",
        Paragraph("Place", HEAD),
        Paragraph("Vial", HEAD),
        Paragraph("Taxon and clone", HEAD),
        Paragraph("Take", HEAD_RIGHT),
        Paragraph("Remains", HEAD_RIGHT),
    ]
    return style.grid(head, [_row(item) for item in packing.walk()], _WIDTHS)


def _row(item: PackingItem) -> list[Any]:
    note = (Paragraph(plain(item.note), SMALL),) if item.note else ()
    return [
        TickBox(),
        Paragraph(plain(item.place), BODY),
        Paragraph(codes.grouped(item.vial), BODY),
        style.named(item.name, f"{item.clone} · line {item.line}", *note),
        Paragraph(f"<b>{plain(amounts.show(item.take))}</b>", NUMBER),
        Paragraph(plain(amounts.show(item.remains)), NUMBER),
    ]


def _unfilled(lines: tuple[Unfilled, ...]) -> Flowable:
    head = [Paragraph("Line", HEAD), Paragraph("Wish", HEAD), Paragraph("Why not", HEAD)]
    rows = [
        [Paragraph(str(line.line), BODY), Paragraph(plain(line.wish), BODY), Paragraph(plain(line.why), BODY)]
        for line in lines
    ]
    return style.grid(head, rows, (14, 70, 90))
