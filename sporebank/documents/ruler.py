"""The test page of a printer: rulers, crosses at known places, and how to measure them.

`render(width, height, printer)` draws it as a label sheet would be drawn with this printer's fit, so that a second
page, printed with the fit put right by `PrinterFit.measured`, proves it.
"""

from __future__ import annotations

from sporebank.core.sheets import CROSS, RULER, PrinterFit, Rect
from sporebank.documents import fonts
from sporebank.documents.drawing import Drawing, Text

START = (50.0, 60.0)  # mm; where both rulers begin
_ARM = 5.0  # mm, of a cross
_TICKS = {10: 4.5, 5: 3.0, 1: 1.8}  # mm long, every 10, 5 and 1 mm
_TITLE, _SIZE = 15.0, 9.0  # points
_TEXT_LEFT = 30.0  # mm
_STEP = 5.2  # mm from line to line
_LINES = (
    "Print this page at 100 % (“actual size”). With “fit to page” or “shrink to margins” every label drifts:",
    "turn that off in the print window first.",
    "",
    "1.  Measure both rulers from 0 to 100 with a steel rule, to a tenth of a millimetre.",
    "2.  Measure from the left and the upper edge of the paper to the middle of the upper left cross.",
    "3.  Write the four lengths down in the program, under “Labels and printers”, “Printers”, “Measured…”.",
    "     It works out how far the print is to be moved and stretched.",
    "4.  Print the page once more. Both rulers now measure 100.0 mm, and each cross lies 15.0 mm from its",
    "     two edges; the paper may have slipped where one alone does not.",
)


def render(width: float, height: float, printer: PrinterFit) -> bytes:
    """Return the test page for paper of `width` by `height` mm, moved and stretched for a printer."""
    drawing = Drawing("Printer test page")
    drawing.page(width, height)
    for x in (CROSS, width - CROSS):
        for y in (CROSS, height - CROSS):
            _line(drawing, printer, x - _ARM, y, x + _ARM, y)
            _line(drawing, printer, x, y - _ARM, x, y + _ARM)
    _ruler(drawing, printer, upright=False)
    _ruler(drawing, printer, upright=True)
    _words(drawing, printer)
    return drawing.finish()


def _line(drawing: Drawing, printer: PrinterFit, x1: float, y1: float, x2: float, y2: float) -> None:
    a, b = printer.placed(Rect(x1, y1, 0, 0)), printer.placed(Rect(x2, y2, 0, 0))
    drawing.line(a.left, a.top, b.left, b.top)


def _ruler(drawing: Drawing, printer: PrinterFit, *, upright: bool) -> None:
    """Draw a ruler with its ticks away from the other one, and a number every 10 mm."""
    x, y = START
    end = (x, y + RULER) if upright else (x + RULER, y)
    _line(drawing, printer, x, y, *end)
    for mm in range(int(RULER) + 1):
        long = next(length for every, length in _TICKS.items() if mm % every == 0)
        if upright:
            _line(drawing, printer, x - long, y + mm, x, y + mm)
        else:
            _line(drawing, printer, x + mm, y - long, x + mm, y)
        if mm % 10 == 0:
            place = (x - 10.5, y + mm + 1) if upright else (x + mm - 1.2, y - 6)
            drawing.put(_text(printer, *place, str(mm), 7.5))


def _words(drawing: Drawing, printer: PrinterFit) -> None:
    drawing.put(_text(printer, _TEXT_LEFT, 30, "Printer test page", _TITLE, strong=True))
    drawing.put(_text(printer, _TEXT_LEFT, 37, f"Printed with: {printer.said}.", _SIZE))
    for number, line in enumerate(_LINES):
        y = START[1] + RULER + 16 + number * _STEP
        drawing.put(_text(printer, _TEXT_LEFT, y, line, _SIZE, strong=number < 2))


def _text(printer: PrinterFit, x: float, y: float, text: str, size: float, *, strong: bool = False) -> Text:
    place = printer.placed(Rect(x, y, 0, 0))
    return Text(place.left, place.top, size, fonts.face(strong=strong), text)
