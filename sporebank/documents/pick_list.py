"""The pick list: what to take out of which vials for many parcels, in the order in which one walks."""

from __future__ import annotations

from typing import Any

from reportlab.platypus import Paragraph

from sporebank.core import amounts, codes
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.papers import PickItem, PickList
from sporebank.documents import style
from sporebank.documents.figures import TickBox
from sporebank.documents.style import BODY, HEAD, HEAD_RIGHT, NOTE, NUMBER, plain

_WIDTHS = (9, 29, 26, 34, 15, 18, 43)
_HEAD = ("", "Place", "Vial", "Taxon and clone", "Take", "Remains", "Packets")
_RIGHT = ("Take", "Remains")


def render(picks: PickList) -> bytes:
    """Return a pick list as PDF."""
    total = amounts.show(sum(item.take for item in picks.items))
    vials = counted(len(picks.items), "vial")
    packets, parcels = (
        counted(picks.packets, "packet"),
        counted(picks.parcels, "parcel"),
    )
    day = day_label(picks.on)
    facts = [
        ("For", plain(picks.title)),
        ("On", day),
        ("Take", f"{total} from {vials}"),
        ("Fill", f"{packets} for {parcels}"),
    ]
    content = style.heading(picks.bank, "Pick list", facts)
    head = [Paragraph(word, HEAD_RIGHT if word in _RIGHT else HEAD) for word in _HEAD]
    content.append(style.grid(head, [_row(item) for item in picks.walk()], _WIDTHS))
    return style.build(
        f"Pick list {picks.title}", picks.bank, f"{picks.bank} · pick list {picks.title}, {day}", content
    )


def _row(item: PickItem) -> list[Any]:
    return [
        TickBox(),
        Paragraph(plain(item.place), BODY),
        Paragraph(codes.grouped(item.vial), BODY),
        style.named(item.name, item.clone),
        Paragraph(f"<b>{plain(amounts.show(item.take))}</b>", NUMBER),
        Paragraph(plain(amounts.show(item.remains)), NUMBER),
        [Paragraph(plain(told), NOTE) for told in item.packets],
    ]
