"""Codes as QR symbols (ISO/IEC 18004): planned for a room in mm and a printer, kept as rectangles of dark modules.

`plan(text, side, printer)` returns the symbol with the highest error correction whose modules are whole dots of the
printer and not under the smallest that reads, or None. The quiet zone of four modules is always part of it. Where the
room allows modules of `STURDY_MODULE`, the symbol is one version larger than the text needs: the corners by which
readers find it stay as they are and the spare modules all go into correction, so that it bears larger stains
(tests/bench/readrate.py: with 5 to 10 % covered, 95 in 100 are read of version 1 and all of version 2).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
import numpy.typing as npt
import qrcode
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_L, ERROR_CORRECT_M, ERROR_CORRECT_Q

from sporebank.core.sheets import PrinterFit, Rect
from sporebank.documents import masks

QUIET_ZONE = 4  # modules on each side (ISO/IEC 18004)
STURDY_MODULE = 0.33  # mm; from here on readers have no trouble with the size of modules (our own choice)
_CORRECTIONS = {"H": ERROR_CORRECT_H, "Q": ERROR_CORRECT_Q, "M": ERROR_CORRECT_M, "L": ERROR_CORRECT_L}
_DARK = re.compile(b"\x01+")
_ANY_PRINTER = PrinterFit()

Modules = npt.NDArray[np.bool_]
"""Rows of modules, True where dark."""

Block = tuple[int, int, int, int]
"""Left, top, width and height of dark modules, in modules from the corner of the quiet zone."""


@dataclass(frozen=True)
class Symbol:
    """A symbol as planned: `side` in mm includes the quiet zone, `module` is one module in mm."""

    text: str
    version: int
    correction: str
    module: float

    @property
    def side(self) -> float:
        """The side in mm with the quiet zone."""
        return self.module * (_modules(self.version) + 2 * QUIET_ZONE)

    @cached_property
    def dark(self) -> Modules:
        """The dark modules by rows, worked out when first asked for."""
        first = _made(self.text, self.version, self.correction, 0)
        return masks.lightest(first, _changes(self.version, self.correction))

    @cached_property
    def path(self) -> str:
        """The dark blocks as a PDF path in modules."""
        return " ".join([f"{x} {y} {width} {height} re" for x, y, width, height in blocks(self.dark)])

    def bars(self, left: float, top: float) -> tuple[Rect, ...]:
        """Return the dark blocks as rectangles in mm, the quiet zone's corner at (left, top)."""
        size = self.module
        return tuple(
            Rect(left + x * size, top + y * size, width * size, height * size)
            for x, y, width, height in blocks(self.dark)
        )


def plan(text: str, side: float, printer: PrinterFit = _ANY_PRINTER) -> Symbol | None:
    """Return the symbol of a text for a square of `side` mm, with the highest error correction that fits.

    None means that even with the lowest the modules would be under the smallest that printers resolve.
    """
    for letter, level in _CORRECTIONS.items():
        code = qrcode.QRCode(error_correction=level)
        code.add_data(text)
        version = code.best_fit()
        for larger, smallest in ((version + 1, STURDY_MODULE), (version, 0.0)):
            module = printer.module(side / (_modules(larger) + 2 * QUIET_ZONE))
            if module is not None and module >= smallest:
                return Symbol(text, larger, letter, module)
    return None


def _modules(version: int) -> int:
    return 4 * version + 17  # a side (ISO/IEC 18004)


def _made(text: str, version: int, correction: str, mask: int) -> Modules:
    code = qrcode.QRCode(version, _CORRECTIONS[correction], border=0, mask_pattern=mask)
    code.add_data(text)
    code.make(fit=False)
    return np.array(code.get_matrix(), dtype=bool)


@cache
def _changes(version: int, correction: str) -> Modules:
    """Return what each of the eight masks changes in a symbol of mask 0: the same modules whatever the text is."""
    return np.array([_made("0", version, correction, mask) for mask in range(8)]) ^ _made("0", version, correction, 0)


def blocks(dark: Modules) -> list[Block]:
    """Return the dark modules as few rectangles: the runs of each row, equal runs of rows below one another in one."""
    found: list[Block] = []
    above: dict[tuple[int, int], int] = {}
    for row, modules in enumerate(dark.astype("u1")):
        here: dict[tuple[int, int], int] = {}
        for run in _DARK.finditer(modules.tobytes()):
            span = run.span()
            number = above.get(span)
            if number is None:
                number = len(found)
                found.append((QUIET_ZONE + span[0], QUIET_ZONE + row, span[1] - span[0], 1))
            else:
                x, y, width, height = found[number]
                found[number] = (x, y, width, height + 1)
            here[span] = number
        above = here
    return found
