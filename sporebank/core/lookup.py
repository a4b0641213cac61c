"""Functions tabled on even steps, many side by side, read between the steps by cubic interpolation."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Tables:
    """R functions of one variable at `start`, `start + step`, ...; beyond the ends the last value holds.

    Between the steps the cubic through the four nearest values is read (Lagrange), exact for any cubic.
    """

    def __init__(self, cubics: Floats, start: float, step: float) -> None:
        """Take the functions as `cubics` has them, (R, W, 4); a sum of functions is the sum of their cubics."""
        self._start, self._step, self._width = start, step, cubics.shape[1]
        self._cubics = cubics.reshape(-1, 4)

    def at(self, x: Floats) -> Floats:
        """Return each function at its own places, (R, ...)."""
        t, place = self._place(x)
        cubic = self._cubics.take(place, axis=0)
        found: Floats = cubic[..., 3] * t
        for power in (2, 1):
            found += cubic[..., power]
            found *= t
        found += cubic[..., 0]
        return found

    def _place(self, x: Floats) -> tuple[Floats, NDArray[np.int32]]:
        """Return the way from the step before, in steps, and where that step's cubic lies."""
        t = x - self._start
        t /= self._step
        np.clip(t, 0.0, self._width - 1.0, out=t)
        whole = t.astype(np.int32)
        np.clip(whole, 1, self._width - 3, out=whole)
        t -= whole
        whole += (np.arange(len(x), dtype=np.int32) * self._width).reshape(-1, *(1,) * (x.ndim - 1))
        return t, whole

    def slope_and_bend(self, x: Floats) -> tuple[Floats, Floats]:
        """Return the first and the negative second derivative; beyond the ends those at the end."""
        t, place = self._place(x)
        _, linear, square, cube = np.moveaxis(self._cubics.take(place, axis=0), -1, 0)
        slope: Floats = (linear + t * (2 * square + t * 3 * cube)) / self._step
        return slope, (-2 * square - t * 6 * cube) / self._step**2


def tabled(values: Floats, start: float, step: float) -> Tables:
    """Return functions from their values, (R, W)."""
    return Tables(cubics(values), start, step)


def cubics(values: Floats) -> Floats:
    """Return, for each step, the coefficients of the cubic through the values around it, (R, W, 4)."""
    back, here, on, further = (np.roll(values, -shift, axis=1) for shift in (-1, 0, 1, 2))
    return np.stack(
        [
            here,
            on - here / 2 - back / 3 - further / 6,
            (back + on) / 2 - here,
            (here - on) / 2 + (further - back) / 6,
        ],
        axis=-1,
    )
