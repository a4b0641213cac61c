"""The order form of an exchange: numbered boxes on two pages at most, to be filled in by hand."""

from __future__ import annotations

from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, Spacer, Table, TableStyle

from sporebank.core.dates import day_label
from sporebank.core.order_paper import EmptyForm
from sporebank.core.orders import Alternatives
from sporebank.documents import style
from sporebank.documents.figures import INK, LINE, TickBox
from sporebank.documents.style import BODY, MUTE, SECTION, SMALL, plain

_A_ROW = 6
_BOX = 9.5 * mm
_FIELDS = (("Name", 1), ("Organisation", 1), ("Address", 2), ("Country", 1), ("E-mail", 1))
_CORNER = ParagraphStyle("corner", SMALL, fontSize=6.4, leading=7, textColor=MUTE)
_FIRST_TITLE = "First choices"


def render(form: EmptyForm) -> bytes:
    """Return an order form as PDF."""
    closes = "Open all year" if form.closes is None else f"It must be here by {day_label(form.closes)}"
    facts = [("List", f"Out from {day_label(form.opens)}. {closes}.")]
    if form.send_to.strip():
        facts.append(("Send it to", style.lines(form.send_to)))
    content = style.heading(form.bank, f"Order form · {form.exchange}", facts)
    content += [_person(), Spacer(0, 3 * mm), _ticks()]
    content += [Paragraph(_FIRST_TITLE, SECTION), Paragraph(plain(" ".join(form.says())), BODY), Spacer(0, 2 * mm)]
    content.append(_boxes([str(number) for number in range(1, form.boxes + 1)], beside=form.beside))
    if form.extra_boxes:
        numbers = range(form.boxes + 1, form.boxes + form.extra_boxes + 1)
        content += [Spacer(0, 2.5 * mm), Paragraph("For donors and helpers only", BODY), Spacer(0, 1 * mm)]
        content.append(_boxes([str(number) for number in numbers], beside=form.beside))
    if form.alternative_boxes:
        ranked = form.rules.alternatives is Alternatives.RANKED
        how = "In the order in which you would like them." if ranked else "In any order."
        content += [Paragraph("Alternatives", SECTION)]
        content += [Paragraph(f"What may come instead where a first choice is gone. {how}", BODY), Spacer(0, 2 * mm)]
        titles = [chr(ord("a") + place) for place in range(form.alternative_boxes)]
        content.append(_boxes(titles, beside=False))
    title = f"Order form {form.exchange}"
    return style.build(title, form.bank, f"{form.bank} · order form · {form.exchange}", content)


def _person() -> Flowable:
    """Return lines to write a person's name, address and so on."""
    rows = [[Paragraph(name, SMALL) if not line else "", ""] for name, lines in _FIELDS for line in range(lines)]
    table = Table(rows, colWidths=[26 * mm, style.ON_A4.width - 26 * mm], rowHeights=[8 * mm] * len(rows))
    table.setStyle(
        TableStyle(
            [
                style.FACE,
                ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
                ("LINEBELOW", (1, 0), (1, -1), 0.6, INK),
            ]
        )
    )
    return table


def _ticks() -> Flowable:
    said = ("I gave spore to this exchange", "I helped with it")
    row = [cell for text in said for cell in (TickBox(), Paragraph(text, BODY))]
    table = Table([row], colWidths=[6 * mm, 60 * mm] * len(said), hAlign="LEFT")
    table.setStyle(
        TableStyle([style.FACE, ("LEFTPADDING", (0, 0), (-1, -1), 0), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")])
    )
    return table


def _boxes(titles: list[str], *, beside: bool) -> Flowable:
    """Return boxes with a small title in the corner of each, and where wished with a narrower one beside each."""
    width = style.ON_A4.width / _A_ROW
    cells: list[Any] = [cell for title in titles for cell in _cells(title, beside=beside)]
    columns = _A_ROW * (2 if beside else 1)
    rows = [cells[start : start + columns] for start in range(0, len(cells), columns)]
    rows[-1] += [""] * (columns - len(rows[-1]))
    widths = [width * 0.55, width * 0.45] * _A_ROW if beside else [width] * _A_ROW
    table = Table(rows, colWidths=widths, rowHeights=[_BOX] * len(rows))
    filled = [(place % columns, place // columns) for place in range(len(cells))]
    table.setStyle(
        TableStyle(
            [
                style.FACE,
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 0.5),
                *(("BOX", at, at, 0.6, LINE if beside and at[0] % 2 else INK) for at in filled),
            ]
        )
    )
    return table


def _cells(title: str, *, beside: bool) -> list[Any]:
    return [Paragraph(title, _CORNER), *([Paragraph("or", _CORNER)] if beside else [])]
