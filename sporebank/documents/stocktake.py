"""The protocol of a stocktake: what was right, and line by line what was not and what was written about it."""

from __future__ import annotations

from typing import Any

from reportlab.platypus import Paragraph

from sporebank.core import codes
from sporebank.core.counted import counted
from sporebank.core.dates import day_label
from sporebank.core.stocktake import Group, Protocol, ProtocolLine
from sporebank.documents import style
from sporebank.documents.style import BODY, HEAD, NOTE, SECTION, plain

_WIDTHS = (30, 38, 32, 32, 42)
_TITLES = {Group.WRONG: "In the wrong slot", Group.STRANGER: "Strangers", Group.MISSING: "Missing"}


def render(protocol: Protocol) -> bytes:
    """Return the protocol as PDF."""
    day = day_label(protocol.on)
    expected = sum(line.group is not Group.STRANGER for line in protocol.lines)
    facts = [
        ("Of", plain(protocol.title)),
        ("On", day),
        ("Gone through", plain(protocol.way.value)),
        ("Right", f"{protocol.count(Group.RIGHT):,} of {counted(expected, 'vial')}"),
    ]
    content = style.heading(protocol.bank, "Stocktake", facts)
    for group, title in _TITLES.items():
        lines = [line for line in protocol.lines if line.group is group]
        if lines:
            content.append(Paragraph(f"{title}: {len(lines):,}", SECTION))
            content.append(style.grid(_head(), [_row(line) for line in lines], _WIDTHS))
    if protocol.count(Group.RIGHT) == len(protocol.lines):
        content.append(Paragraph("Everything was where it should be.", BODY))
    content.append(style.signature("Gone through by:", protocol.signed_by))
    return style.build(f"Stocktake {day}", protocol.bank, f"{protocol.bank} · stocktake {day}", content)


def _head() -> list[Paragraph | str]:
    return [Paragraph(word, HEAD) for word in ("Vial", "Taxon and clone", "Should be in", "Found in", "What was done")]


def _row(line: ProtocolLine) -> list[Any]:
    code = codes.grouped(line.code) if len(line.code) == codes.LENGTH else line.code
    return [
        Paragraph(plain(code), BODY),
        style.named(line.name, line.clone) if line.name is not None else "",
        Paragraph(plain(line.expected), BODY),
        Paragraph(plain(line.found), BODY),
        Paragraph(plain(line.done), NOTE),
    ]
