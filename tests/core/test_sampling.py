"""How many spores to count for a wanted closeness."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import betabinom
from statsmodels.stats.proportion import proportion_confint

from sporebank.core import sampling
from sporebank.core.errors import Refusal
from sporebank.core.sampling import DISH, MOST, half_width, needed, words, worth


@pytest.mark.parametrize(("wanted", "count"), [(0.10, 93), (0.05, 381), (0.03, 1064), (0.02, 2398)])
def test_at_one_half(wanted, count):
    """Wilson 1927 at one half solved for n: z^2 (1 / (4 w^2) - 1), computed; the textbook 385 for 5 % is 4 more."""
    assert needed(wanted, 0.5) == count


@given(st.integers(1, 3000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_half_the_width_agrees_with_statsmodels(count):
    x, n = count
    low, high = proportion_confint(x, n, method="wilson")
    assert half_width(n, x / n) == pytest.approx((high - low) / 2, abs=1e-9)


@given(st.floats(0.01, 0.49), st.floats(0, 1))
def test_it_is_the_least_that_does(wanted, share):
    count = needed(wanted, share)
    assert half_width(count, share) <= wanted
    assert count == 1 or half_width(count - 1, share) > wanted


@given(st.floats(0, 1), st.integers(1, MOST - 1))
def test_more_counted_is_known_more_closely(share, count):
    assert half_width(count + 1, share) < half_width(count, share)


def test_in_words():
    assert words(0.05, 0.5, 0.0) == "Count 381 in all, 100 to a dish: about 50 % is then known to 5 % either way."
    assert words(0.2, 0.5, 0.0) == "Count 21 in all: about 50 % is then known to 20 % either way."


def test_spores_of_a_dish_that_are_alike_tell_less():
    """Six dishes of beta-binomial counts (scipy.stats) spread as so many fewer spores do by chance alone."""
    rho, share, dishes = 0.02, 0.3, 6
    alpha, beta = share * (1 - rho) / rho, (1 - share) * (1 - rho) / rho
    variance = betabinom(DISH, alpha, beta).var() * dishes / (DISH * dishes) ** 2
    assert worth(DISH * dishes, rho) == pytest.approx(share * (1 - share) / variance)
    assert needed(0.05, 0.5, 0.01) == 757
    assert half_width(worth(381, 0.01), 0.5) == pytest.approx(0.07, abs=0.001)


@given(st.floats(0.02, 0.49), st.floats(0, 1), st.floats(0, 0.02))
def test_it_is_the_least_that_does_also_where_dishes_differ(wanted, share, correlation):
    count = needed(wanted, share, correlation)
    assert half_width(worth(count, correlation), share) <= wanted
    assert count == 1 or half_width(worth(count - 1, correlation), share) > wanted


@pytest.mark.parametrize(
    ("wanted", "share", "field"),
    [(0.0, 0.5, "wanted"), (0.5, 0.5, "wanted"), (0.0001, 0.5, "wanted"), (0.05, 1.2, "share"), (0.05, -0.1, "share")],
)
def test_what_no_count_can_give_is_refused(wanted, share, field):
    with pytest.raises(Refusal) as refused:
        sampling.needed(wanted, share)
    assert refused.value.field == field
