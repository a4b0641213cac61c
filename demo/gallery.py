"""One picture of a label of every kind, and one of a printer's test page, both drawn from the PDFs that are printed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from sporebank.core.label_examples import examples
from sporebank.core.layout import Kind, Layout
from sporebank.core.sheets import PrinterFit, roll
from sporebank.documents import ruler
from sporebank.documents.labels import LabelPrint, render
from sporebank.documents.picture import pictures
from sporebank.formats.label_layouts import load_label_layouts

DPI, PAGE_DPI = 300, 60
WIDTH, GAP, CAPTION = 2400, 48, 40
_GROUND, _INK, _EDGE = (247, 246, 241), (40, 48, 44), (190, 188, 178)
_FONT = Path(__file__).resolve().parent.parent / "resources" / "fonts" / "NotoSans-Regular.ttf"


def hang(out: Path) -> None:
    """Leave `labels.png` and `test-page.png` in a folder."""
    _sheet_of(list(_labels())).save(out / "labels.png")
    (page,) = _drawn(ruler.render(210.0, 297.0, PrinterFit()), PAGE_DPI)
    page.save(out / "test-page.png")


def _labels() -> Iterator[tuple[str, Image.Image]]:
    """Yield the first layout of every kind with a label of made-up things on it."""
    first: dict[Kind, Layout] = {}
    for layout in load_label_layouts():
        first.setdefault(layout.kind, layout)
    for kind, layout in first.items():
        paper = roll("", "", layout.width, layout.height, round=layout.round)
        (drawn,) = _drawn(render(LabelPrint(examples(kind)[1:], layout, paper), ""), DPI)
        yield layout.title, drawn


def _drawn(pdf: bytes, dpi: int) -> Iterator[Image.Image]:
    for page in pictures(pdf, dpi):
        yield Image.frombytes("RGB", (page.width, page.height), page.rgb, "raw", "RGB", page.stride)


def _sheet_of(labels: list[tuple[str, Image.Image]]) -> Image.Image:
    """Return labels side by side in true proportion, the tall ones turned, each with its title below."""
    lying = [(title, one.rotate(90, expand=True) if one.height > one.width * 3 else one) for title, one in labels]
    places, x, y, row = [], GAP, GAP, 0
    for title, one in sorted(lying, key=lambda each: each[1].height):
        if x + one.width + GAP > WIDTH:
            x, y, row = GAP, y + row + CAPTION + GAP, 0
        places.append((title, one, x, y))
        x, row = x + max(one.width, 12 * CAPTION) + GAP, max(row, one.height)
    picture = Image.new("RGB", (WIDTH, y + row + CAPTION + GAP), _GROUND)
    pen, font = ImageDraw.Draw(picture), ImageFont.truetype(str(_FONT), 28)
    for title, one, left, top in places:
        picture.paste(one, (left, top))
        pen.rectangle((left - 1, top - 1, left + one.width, top + one.height), outline=_EDGE)
        pen.text((left, top + one.height + 6), title, fill=_INK, font=font)
    return picture
