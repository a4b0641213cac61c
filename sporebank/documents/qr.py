"""Codes as QR symbols (ISO/IEC 18004), planned in mm as rectangles, one for each run of dark modules."""

from __future__ import annotations

from dataclasses import dataclass

import qrcode
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_L, ERROR_CORRECT_M, ERROR_CORRECT_Q

from sporebank.core.sheets import Rect

QUIET_ZONE = 4  # modules on each side (ISO/IEC 18004)
SMALLEST_MODULE = 0.25  # mm; two dots at 203 dpi, three at 300 dpi
LARGEST_MODULE = 0.5  # mm; more helps no reader and takes room from the text (our own choice)
_CORRECTIONS = {"H": ERROR_CORRECT_H, "Q": ERROR_CORRECT_Q, "M": ERROR_CORRECT_M, "L": ERROR_CORRECT_L}


@dataclass(frozen=True)
class Symbol:
    """A symbol as planned: `side` in mm includes the quiet zone, `module` is one module in mm."""

    text: str
    version: int
    correction: str
    module: float
    dark: tuple[tuple[bool, ...], ...]

    @property
    def side(self) -> float:
        """The side in mm with the quiet zone."""
        return self.module * (len(self.dark) + 2 * QUIET_ZONE)

    def bars(self, left: float, top: float) -> tuple[Rect, ...]:
        """Return the dark runs of each row as rectangles in mm, the quiet zone's corner at (left, top)."""
        return tuple(
            Rect(
                left + (QUIET_ZONE + start) * self.module,
                top + (QUIET_ZONE + row) * self.module,
                (end - start) * self.module,
                self.module,
            )
            for row, modules in enumerate(self.dark)
            for start, end in _runs(modules)
        )


def plan(text: str, side: float) -> Symbol | None:
    """Return the symbol of a text for a square of `side` mm, with the highest error correction that fits.

    None means that even the lowest would have modules under the smallest that printers resolve.
    """
    for letter, level in _CORRECTIONS.items():
        code = qrcode.QRCode(error_correction=level, border=0)
        code.add_data(text)
        code.make(fit=True)
        dark = tuple(tuple(bool(module) for module in row) for row in code.get_matrix())
        module = min(LARGEST_MODULE, side / (len(dark) + 2 * QUIET_ZONE))
        if module >= SMALLEST_MODULE:
            return Symbol(text, code.version, letter, module, dark)
    return None


def _runs(modules: tuple[bool, ...]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    start: int | None = None
    for position, dark in enumerate((*modules, False)):
        if dark and start is None:
            start = position
        elif not dark and start is not None:
            runs.append((start, position))
            start = None
    return runs
