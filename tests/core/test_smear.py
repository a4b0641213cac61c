"""The normal smeared by a flat doubt, against numerical integration and differences."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from sporebank.core import smear

MEAN, SPREAD = 1.645, 0.5
WIDTHS = st.one_of(st.just(0.0), st.floats(0, 0.1), st.floats(0.03, 60))


def density(x, width):
    return float(smear.log_density(np.array([x]), MEAN, SPREAD, np.array([width]))[0])


@given(st.floats(-4, 4), WIDTHS)
def test_density_is_the_mean_over_the_doubt(place, width):
    """Reference: scipy.integrate.quad over scipy.stats.norm."""
    x = MEAN - width / 2 + place * np.hypot(SPREAD, width / 3.5)
    if width < 1e-6:
        expected = norm.pdf(x, MEAN, SPREAD)
    else:
        nearest = min(max(MEAN - x, 0), width)
        expected = quad(lambda u: norm.pdf(x + u, MEAN, SPREAD), 0, width, points=[nearest], limit=200)[0] / width
    assert np.exp(density(x, width)) == pytest.approx(expected, rel=2e-4, abs=1e-12)


@given(st.floats(-3, 3), WIDTHS)
def test_slope_and_bend_are_derivatives(place, width):
    """Central differences; the bend is never below that of a normal of the same variance."""
    x, step = MEAN - width / 2 + place * np.hypot(SPREAD, width / 3.5), 1e-3
    below, at, above = (density(x + move, width) for move in (-step, 0, step))
    slope, bend = (part[0] for part in smear.slope_and_bend(np.array([x]), MEAN, SPREAD, np.array([width])))
    assert slope == pytest.approx((above - below) / 2 / step, abs=1e-3 * (1 + abs(slope)))
    floor = 1 / (SPREAD**2 + width**2 / 12)
    assert bend == pytest.approx(max(floor, (2 * at - above - below) / step**2), abs=2e-2)
    assert floor * (1 - 1e-9) <= bend <= 1 / SPREAD**2 * (1 + 1e-9)


@given(st.floats(-9, 4), st.floats(0.03, 5_000))
def test_the_mass_below(x, width):
    """Reference: scipy.integrate.quad over the normal distribution function of scipy.stats."""
    nearest = min(max(MEAN - x, 0), width)
    points = sorted({nearest, min(nearest + 4, width), max(nearest - 4, 0.0)})
    expected = quad(lambda u: norm.cdf(x + u, MEAN, SPREAD), 0, width, points=points, limit=400)[0] / width
    ours = smear.log_mass_below(np.array([x]), MEAN, SPREAD, np.array([width]))
    assert np.exp(ours[0]) == pytest.approx(expected, rel=2e-3, abs=1e-9)


def test_without_doubt_hardly_anything_lies_below():
    """It is asked for where a prior ends anyhow."""
    assert np.exp(smear.log_mass_below(np.array([-9.0]), MEAN, SPREAD, np.array([0.0]))) == pytest.approx([0.0])


def test_a_mixed_array():
    """Doubt and none side by side give what each gives alone."""
    x, width = np.array([1.0, 1.0]), np.array([0.0, 3.0])
    together = smear.log_density(x, MEAN, SPREAD, width)
    assert together.tolist() == pytest.approx([density(1.0, 0.0), density(1.0, 3.0)])
    slopes, bends = smear.slope_and_bend(x, MEAN, SPREAD, width)
    for place in range(2):
        alone = smear.slope_and_bend(x[place : place + 1], MEAN, SPREAD, width[place : place + 1])
        assert (slopes[place], bends[place]) == pytest.approx((alone[0][0], alone[1][0]))
