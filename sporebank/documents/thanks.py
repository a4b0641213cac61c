"""A letter of thanks to a donor."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Paragraph, Spacer

from sporebank.core import names
from sporebank.core.dates import day_label
from sporebank.core.donations import Donation
from sporebank.core.thanks import Thanks
from sporebank.documents import style
from sporebank.documents.style import BODY, HEAD, HEAD_RIGHT, NUMBER, SMALL, plain

_WIDTHS = (104, 40, 30)


def render(thanked: Thanks) -> bytes:
    """Return a letter of thanks as PDF."""
    to = thanked.to
    address = "\n".join(filter(None, (to.name, to.organisation, to.address)))
    content = style.heading(thanked.bank, "With thanks", [("To", style.lines(address)), ("On", day_label(thanked.on))])
    content += [
        Paragraph(plain(f"Dear {to.name},"), BODY),
        Spacer(0, 3 * mm),
        Paragraph(plain(f"thank you for what you gave to {thanked.exchange}:"), BODY),
        Spacer(0, 3 * mm),
        style.grid(
            [Paragraph("Name", HEAD), Paragraph("Received on", HEAD), Paragraph("Packets", HEAD_RIGHT)],
            [_row(one) for one in thanked.given],
            _WIDTHS,
        ),
        Spacer(0, 5 * mm),
    ]
    if thanked.privileges:
        content += [Paragraph(plain(thanked.privileges), BODY), Spacer(0, 3 * mm)]
    content += [
        Paragraph("Please tell us how it grew for those who got it, and if a name turns out to be another.", BODY),
        Spacer(0, 8 * mm),
        Paragraph("With good wishes,", BODY),
        Spacer(0, 12 * mm),
        Paragraph(plain(thanked.bank), BODY),
    ]
    return style.build("With thanks", thanked.bank, f"{thanked.bank} · {thanked.exchange}", content)


def _row(one: Donation) -> list[object]:
    name = Paragraph(style.taxon(one.name) if one.name is not None else plain(one.received_as), BODY)
    as_written = one.name is None or names.text(one.name) == one.received_as
    below = [] if as_written else [Paragraph(plain(f"received as {one.received_as}"), SMALL)]
    return [[name, *below], Paragraph(day_label(one.received_on), BODY), Paragraph(f"{one.packets:,}", NUMBER)]
