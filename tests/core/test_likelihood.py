"""The likelihood of counts against scipy's own distributions, and the tables against the functions tabled."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import betabinom, binom, norm

from sporebank.core.likelihood import tables
from sporebank.core.lookup import tabled

V = np.linspace(-4.0, 4.0, 57)[None, :]


def relative(values):
    return values - values.max()


@settings(deadline=None, max_examples=60)
@given(
    st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.sampled_from([0.005, 0.02, 0.2])
)
def test_counts_are_beta_binomial(counts, rho):
    """Skellam 1948 as scipy.stats.betabinom has it: mean p, correlation rho = 1 / (a + b + 1)."""
    germinated, sown = counts
    spread = (1 - rho) / rho
    expected = betabinom.logpmf(germinated, sown, norm.cdf(V[0]) * spread, norm.sf(V[0]) * spread)
    ours = tables([(counts,)], rho).at(V)[0]
    assert relative(ours) == pytest.approx(relative(expected), abs=1e-5)


@pytest.mark.parametrize("counts", [((0, 50),), ((50, 50),), ((30, 100), (38, 100), (1, 3))])
def test_without_correlation_they_are_binomial(counts):
    expected = sum(binom.logpmf(x, n, norm.cdf(V[0])) for x, n in counts)
    assert relative(tables([counts], 0.0).at(V)[0]) == pytest.approx(relative(expected), abs=1e-5)


def test_correlation_makes_a_replicate_tell_less_and_a_single_spore_the_same():
    def bend(counts, rho):
        return float(tables([counts], rho).slope_and_bend(np.zeros((1, 1)))[1][0, 0])

    assert bend(((50, 100),), 0.02) < bend(((50, 100),), 0.0) / 2
    assert bend(((1, 1),), 0.02) == pytest.approx(bend(((1, 1),), 0.0))
    assert bend(((25, 50), (25, 50)), 0.02) > bend(((50, 100),), 0.02)


@pytest.mark.parametrize("counts", [(11, 10), (-1, 10), (0, -1)])
def test_what_is_no_count_is_refused(counts):
    with pytest.raises(ValueError, match="no count"):
        tables([(counts,)], 0.01)


def test_no_counts_say_nothing():
    assert not tables([()], 0.01).at(V).any()


@given(st.tuples(*[st.floats(-3, 3)] * 4), st.lists(st.floats(-1.0, 5.0), min_size=1, max_size=20))
def test_a_table_of_a_cubic_is_that_cubic_and_holds_its_last_value(parts, places):
    nodes = np.arange(-1.0, 5.01, 0.5)
    cubic = np.polynomial.Polynomial(parts)
    table = tabled(np.stack([cubic(nodes), -cubic(nodes)]), -1.0, 0.5)
    x = np.array([places, places])
    assert table.at(x)[0] == pytest.approx(cubic(x[0]), abs=1e-8)
    assert table.at(x)[1] == pytest.approx(-cubic(x[0]), abs=1e-8)
    assert table.at(np.array([[99.0], [-99.0]])).ravel() == pytest.approx([cubic(5.0), -cubic(-1.0)], abs=1e-8)
