"""The list of an exchange as a booklet: what it asks of people first, then a line for every number."""

from __future__ import annotations

from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, Paragraph, Spacer

from sporebank.core.dates import day_label
from sporebank.core.offer_list import GREEN, INVASIVE, LIMITED, UNVERIFIED, OfferLine, OfferList
from sporebank.documents import fonts, style
from sporebank.documents.style import BODY, HEAD, LISTED, ON_A5, SECTION, SMALL, plain

_WIDTHS = (10, 64, 28, 22)
_NUMBER = ParagraphStyle("list number", BODY, fontName=fonts.STRONG)
_MARK = ParagraphStyle("mark", SMALL, fontName=fonts.STRONG)

_KEY = (
    (LIMITED, "soon gone; ask early and give alternatives"),
    (UNVERIFIED, "please make sure what it is before you pass it on"),
    (GREEN, "it lives for weeks; do not ask for it unless you can sow at once"),
    (INVASIVE, "somewhere; see the end of the list, and ask your own authority"),
)


def render(offered: OfferList) -> bytes:
    """Return the list as PDF, on A5, so that two pages fit side by side on a sheet of A4."""
    facts = [("Opens", day_label(offered.opens))]
    if offered.closes is not None:
        facts.append(("Wishes until", day_label(offered.closes)))
    if offered.ships is not None:
        facts.append(("Sent about", day_label(offered.ships)))
    facts.append(("Lines", str(len(offered.lines))))
    content = style.heading(offered.bank, offered.title, facts, page=ON_A5)
    content += [Paragraph(plain(rule), LISTED, bulletText="•") for rule in offered.rules]
    if offered.note:
        content += [Spacer(0, 2 * mm), *(Paragraph(plain(line), BODY) for line in offered.note.splitlines() if line)]
    content += [Spacer(0, 3 * mm), _table(offered.lines)]
    content += _key(offered)
    foot = f"{offered.bank} · {offered.title}, printed {day_label(offered.printed_on)}"
    return style.build(offered.title, offered.bank, foot, content, ON_A5)


def _table(lines: tuple[OfferLine, ...]) -> Flowable:
    head = [Paragraph(word, HEAD) for word in ("No.", "Name and origin", "Collected", "Alive")]
    return style.grid(head, [_row(line) for line in lines], _WIDTHS)


def _row(line: OfferLine) -> list[Any]:
    below = [Paragraph(plain(f"once {line.old_name}"), SMALL)] if line.old_name else []
    said = "; ".join(filter(None, (line.origin, line.note, f"given by {line.donors}" if line.donors else "")))
    if said:
        below.append(Paragraph(plain(said), SMALL))
    if line.marks:
        below.append(Paragraph(plain(", ".join(line.marks)), _MARK))
    return [
        Paragraph(str(line.number), _NUMBER),
        [Paragraph(style.taxon(line.name), BODY), *below],
        Paragraph(plain(line.collected), BODY),
        Paragraph(plain(line.alive), BODY),
    ]


def _key(offered: OfferList) -> style.Content:
    """Return what the marks mean, of those that are used, and the warnings that go with them."""
    used = {mark for line in offered.lines for mark in line.marks}
    said = [f"<b>{plain(mark)}</b>: {plain(words)}." for mark, words in _KEY if mark in used]
    said.append("Alive: the share of spore that likely germinates, by tests and by how spore of its kind keeps.")
    content: style.Content = [
        KeepTogether([Paragraph("How to read the list", SECTION), *(Paragraph(one, LISTED) for one in said)])
    ]
    if offered.warnings:
        content.append(Paragraph("Before you ask for these", SECTION))
        content += [Paragraph(plain(one), LISTED) for one in offered.warnings]
    return content
