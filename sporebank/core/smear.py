"""A normal smeared by a flat doubt: X - U, with X normal and U even from 0 to a width.

It is log-concave, and so is what a likelihood makes of it.
"""

from __future__ import annotations

import numpy as np

from sporebank.core.lookup import Floats

_SMALL = 0.05  # of the spread: below, a normal of the same mean and variance cannot be told apart


def log_density(x: Floats, mean: float, spread: float, width: Floats) -> Floats:
    """Return the log density at x, but for a constant; `width` is 0 or more."""
    middle, variance = _normal(mean, spread, width)
    found: Floats = -((x - middle) ** 2) / variance / 2 - np.log(variance * 2 * np.pi) / 2
    flat = np.broadcast_to(width > _SMALL * spread, found.shape)
    if flat.any():
        wide = np.broadcast_to(width, found.shape)[flat]
        found[flat] = _log_between(*_ends(np.broadcast_to(x, found.shape)[flat], mean, spread, wide)) - np.log(wide)
    return found


def log_mass_below(x: Floats, mean: float, spread: float, width: Floats) -> Floats:
    """Return the log of the chance that X - U lies below x; hardly anything where there is no smear to speak of."""
    from scipy.special import ndtr  # heavy, needed only here

    flat = width > _SMALL * spread
    if not flat.any():
        return np.full(np.broadcast_shapes(x.shape, width.shape), -600.0)
    low, high = _ends(x, mean, spread, width)
    met = _partial(high, ndtr) - _partial(low, ndtr)
    mass: Floats = np.log(np.maximum(met * spread / np.where(flat, width, np.inf), 1e-260))
    return mass


def _partial(x: Floats, ndtr: np.ufunc) -> Floats:
    """Return the integral of the normal distribution up to x."""
    integral: Floats = x * ndtr(x) + np.exp(-(x**2) / 2) / np.sqrt(2 * np.pi)
    return integral


def slope_and_bend(x: Floats, mean: float, spread: float, width: Floats) -> tuple[Floats, Floats]:
    """Return the first and the negative second derivative of the log density.

    On its flat top the bend is held at that of a normal of the same variance, so that Newton steps stay short.
    """
    middle, variance = _normal(mean, spread, width)
    slope: Floats = (middle - x) / variance
    bend = np.broadcast_to(1 / variance, slope.shape).copy()
    flat = np.broadcast_to(width > _SMALL * spread, slope.shape)
    if flat.any():
        wide = np.broadcast_to(width, slope.shape)[flat]
        low, high = _ends(np.broadcast_to(x, slope.shape)[flat], mean, spread, wide)
        between = _log_between(low, high)
        at_low, at_high = (np.exp(-(end**2) / 2 - np.log(2 * np.pi) / 2 - between) for end in (low, high))
        slope[flat] = (at_high - at_low) / spread
        steep = (high * at_high - low * at_low) / spread**2 + slope[flat] ** 2
        bend[flat] = np.clip(steep, bend[flat], 1 / spread**2)
    return slope, bend


def _normal(mean: float, spread: float, width: Floats) -> tuple[Floats, Floats]:
    """Return mean and variance."""
    return mean - width / 2, spread**2 + width**2 / 12


def _ends(x: Floats, mean: float, spread: float, width: Floats) -> tuple[Floats, Floats]:
    """Return, in units of the spread, the two ends between which X must lie; never quite the same."""
    low = (x - mean) / spread
    return low, low + np.maximum(width / spread, _SMALL)


def _log_between(low: Floats, high: Floats) -> Floats:
    """Return log(Phi(high) - Phi(low)), worked out in the lower tail, where it is precise; never below -600."""
    from scipy.special import ndtr  # heavy, needed only here

    upper = low + high > 0
    between: Floats = np.log(np.maximum(ndtr(np.where(upper, -low, high)) - ndtr(np.where(upper, -high, low)), 1e-260))
    return between
