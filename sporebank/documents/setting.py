"""Setting one label: its symbol and its texts into the fields of a layout, in mm from the label's own top left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from sporebank.core.fit import MM_PER_POINT, Fitted, Line, Wording, block_height, fit
from sporebank.core.layout import SYMBOL, Align, Field, Layout, Stand
from sporebank.core.papers import AddressLabel, Label
from sporebank.core.records import Run
from sporebank.core.sheets import SMALLEST_MODULE, PrinterFit
from sporebank.documents import fonts, qr
from sporebank.documents.drawing import Mark, Stamp, Text
from sporebank.documents.wording import NO_BREAK, joined, texts_of

_MIDDLE = 0.3  # from the middle of a line down to its baseline, in sizes
_AIR = 1.12  # how far lines may open over the tightest


@dataclass(frozen=True)
class Trouble:
    """Why a field is not printed as asked."""

    field: Field
    sentence: str


def set_label(label: Label, layout: Layout, printer: PrinterFit) -> Iterator[Mark | Trouble]:
    """Yield what is drawn and what cannot be; a text that does not fit is left out whole, never cut."""
    texts = texts_of(label)
    for field in layout.fields:
        if SYMBOL in field.show and not isinstance(label, AddressLabel):
            yield _symbol(label.code, field, printer)
            continue
        wordings = joined([texts[key] for key in field.show if texts.get(key)])
        yield from _text(wordings, field)


def _symbol(code: str, field: Field, printer: PrinterFit) -> Stamp | Trouble:
    side = min(field.width, field.height)
    symbol = qr.plan(code, side, printer)
    if symbol is None:
        return Trouble(
            field,
            f"A symbol within {side:.1f} mm has modules under {SMALLEST_MODULE:g} mm at {printer.dpi} dpi and will not "
            f"read. Choose a larger label, or a layout with a larger symbol.",
        )
    spare_x, spare_y = field.width - symbol.side, field.height - symbol.side
    return Stamp(field.x + spare_x * _ACROSS[field.align], field.y + spare_y * _DOWN[field.stand], symbol)


_ACROSS = {Align.LEFT: 0.0, Align.CENTRE: 0.5, Align.RIGHT: 1.0}
_DOWN = {Stand.TOP: 0.0, Stand.MIDDLE: 0.5, Stand.BOTTOM: 1.0}


@lru_cache(maxsize=1024)
def _text(wordings: tuple[Wording, ...], field: Field) -> tuple[Text | Trouble, ...]:
    if not wordings:
        return (Trouble(field, f"There is nothing for {field.called}, which this layout must have."),) * field.mandatory
    full = "; ".join(_written(line) for line in wordings[0])
    if absent := fonts.missing_sentence(full):
        return (Trouble(field, absent),)
    measure = fonts.measure_strong if field.strong else fonts.measure
    fitted = fit(tuple(map(_slanted, wordings)) if field.italic else wordings, field.box, measure)
    if fitted is None:
        return (Trouble(field, _too_long(full, field)),)
    return tuple(_placed(fitted, field))


def _written(line: Line) -> str:
    return "".join(run.text for run in line).replace(NO_BREAK, " ")


def _slanted(wording: Wording) -> Wording:
    return tuple(tuple(replace(run, italic=True) for run in line) for line in wording)


def _too_long(text: str, field: Field) -> str:
    box = field.box
    return (
        f"“{text}” does not fit, not even at {field.smallest:g} points in condensed type: {field.called} has "
        f"{box.width:.1f} × {box.height:.1f} mm. It is left out; choose a larger label."
    )


def _placed(fitted: Fitted, field: Field) -> Iterator[Text]:
    """Yield the runs of the lines where they stand; spare height opens the lines a little."""
    box, count = field.box, len(fitted.lines)
    tight = block_height(1, fitted.size)
    step = min(tight * _AIR, box.height / count) if count > 1 else tight
    top = (box.height - step * count) * _DOWN[field.stand]
    for number, line in enumerate(fitted.lines):
        down = top + step * (number + 0.5) + _MIDDLE * fitted.size * MM_PER_POINT
        yield from _runs(line, fitted, field, down)


def _runs(line: Line, fitted: Fitted, field: Field, down: float) -> Iterator[Text]:
    faces = [_face(run, fitted, field) for run in line]
    widths = [fonts.text_width(run.text, face, fitted.size) for run, face in zip(line, faces, strict=True)]
    along = (field.box.width - sum(widths)) * _ACROSS[field.align]
    for run, face, width in zip(line, faces, widths, strict=True):
        text = run.text.replace(NO_BREAK, " ")
        if field.turn:
            yield Text(field.x + down, field.y + field.height - along, fitted.size, face, text, field.turn)
        else:
            yield Text(field.x + along, field.y + down, fitted.size, face, text)
        along += width


def _face(run: Run, fitted: Fitted, field: Field) -> str:
    return fonts.face(italic=run.italic, condensed=fitted.condensed, strong=field.strong)
