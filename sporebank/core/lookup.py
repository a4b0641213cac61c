"""Functions tabled on even steps, many side by side, read between the steps by cubic interpolation."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Tables:
    """R functions of one variable at `start`, `start + step`, ...; beyond the ends the last value holds.

    Between the steps the cubic through the four nearest values is read (Lagrange), exact for any cubic.
    """

    def __init__(self, values: Floats, start: float, step: float) -> None:
        self._start, self._step, self._width = start, step, values.shape[1]
        self._cubics = [part.ravel() for part in _cubics(values)]

    def at(self, x: Floats) -> Floats:
        """Return each function at its own places, (R, ...)."""
        steps = np.clip((x - self._start) / self._step, 0.0, self._width - 1.0)
        whole = np.clip(steps.astype(np.int32), 1, self._width - 3)
        t = steps - whole
        whole += (np.arange(len(x), dtype=np.int32) * self._width).reshape(-1, *(1,) * (x.ndim - 1))
        constant, linear, square, cube = (part.take(whole) for part in self._cubics)
        found: Floats = constant + t * (linear + t * (square + t * cube))
        return found

    def slope_and_bend(self, x: Floats) -> tuple[Floats, Floats]:
        """Return the first and the negative second derivative, from differences over two steps."""
        wide = 2 * self._step
        before, here, after = self.at(x - wide), self.at(x), self.at(x + wide)
        return (after - before) / (2 * wide), (2 * here - before - after) / wide**2


def _cubics(values: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return, for each step, the coefficients of the cubic through the values around it, in steps from it."""
    back, here, on, further = (np.roll(values, -shift, axis=1) for shift in (-1, 0, 1, 2))
    return (
        here,
        on - here / 2 - back / 3 - further / 6,
        (back + on) / 2 - here,
        (here - on) / 2 + (further - back) / 6,
    )
