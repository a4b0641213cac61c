"""Choosing the mask of a QR symbol by the penalties of ISO/IEC 18004, for all eight masks at once.

Any mask may be read by any reader; the standard asks for the one with the fewest features that confuse them. The
library scores them one by one in plain Python, which takes most of the time of a label; the sums are the same.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

_N1, _N2, _N3, _N4 = 3, 3, 40, 10  # weights of the standard
_FINDER = "10111010000"  # 1:1:3:1:1 with four light modules beside it
_FINDERS = (int(_FINDER, 2), int(_FINDER[::-1], 2))

Modules = npt.NDArray[np.bool_]
Numbers = npt.NDArray[np.int64]


def lightest(symbol: Modules, changes: Modules) -> Modules:
    """Return the symbol with the mask of the lowest penalty.

    Args:
        symbol: rows of modules with some mask.
        changes: for each mask, the modules that are different with it.
    """
    candidates = symbol ^ changes
    best: Modules = candidates[np.argmin(penalties(candidates))]
    return best


def penalties(symbols: Modules) -> Numbers:
    """Return the penalty of each symbol; the first axis counts the symbols."""
    turned = np.concatenate([symbols, symbols.swapaxes(1, 2)])  # rows, then columns
    lines = (_runs(turned) + _finders(turned)).reshape(2, -1).sum(axis=0)
    total: Numbers = lines + _squares(symbols) + _balance(symbols)
    return total


def _runs(symbols: Modules) -> Numbers:
    """Score runs in rows: a run of five costs 3, each module more costs 1; so, 1 a window of five and 2 a run."""
    same = symbols[:, :, 1:] == symbols[:, :, :-1]
    windows = same[:, :, 3:] & same[:, :, 2:-1] & same[:, :, 1:-2] & same[:, :, :-3]
    begins = windows[:, :, 0].sum(axis=1) + (windows[:, :, 1:] & ~windows[:, :, :-1]).sum(axis=(1, 2))
    found: Numbers = windows.sum(axis=(1, 2)) + (_N1 - 1) * begins
    return found


def _finders(symbols: Modules) -> Numbers:
    """Score what looks like a finder pattern in rows."""
    width = symbols.shape[2] - len(_FINDER) + 1
    numbers = np.zeros((*symbols.shape[:2], width), dtype=np.int16)
    for place in range(len(_FINDER)):
        numbers = (numbers << 1) | symbols[:, :, place : place + width]
    found: Numbers = _N3 * ((numbers == _FINDERS[0]) | (numbers == _FINDERS[1])).sum(axis=(1, 2))
    return found


def _squares(symbols: Modules) -> Numbers:
    """Score squares of two by two modules of one colour."""
    across = symbols[:, :, 1:] == symbols[:, :, :-1]
    down = symbols[:, 1:, :-1] == symbols[:, :-1, :-1]
    found: Numbers = _N2 * (across[:, 1:] & across[:, :-1] & down).sum(axis=(1, 2))
    return found


def _balance(symbols: Modules) -> Numbers:
    """Score each full 5 % by which the share of dark modules is away from a half."""
    share = symbols.mean(axis=(1, 2)) * 100
    found: Numbers = _N4 * (np.abs(share - 50) / 5).astype(np.int64)
    return found
