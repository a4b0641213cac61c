"""What a test would tell, against sums over everything it may say."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta, betabinom

from sporebank.core.records import Share
from sporebank.core.worth import width_after


@pytest.mark.parametrize(("a", "b"), [(2, 2), (5, 3), (30, 20), (8, 30)])
@pytest.mark.parametrize("count", [10, 100, 400])
def test_the_band_expected_is_that_of_all_outcomes_weighed(a, b, count):
    """The root of the mean variance over every count that may come, by scipy's beta and beta-binomial (computed)."""
    seen = np.arange(count + 1)
    chance = betabinom.pmf(seen, count, a, b)
    after = np.sqrt((chance * beta.var(a + seen, b + count - seen)).sum() / beta.var(a, b))
    before = Share(*beta.ppf([0.05, 0.5, 0.95], a, b))
    assert width_after(before, count) / (before.high - before.low) == pytest.approx(after, rel=0.05)


@given(
    st.tuples(*[st.floats(0, 1)] * 3).map(lambda three: Share(*sorted(three))),
    st.integers(1, 1000),
    st.sampled_from([0.0, 0.01, 0.1]),
)
def test_more_spores_tell_more_and_like_ones_less(share, count, correlation):
    now = share.high - share.low
    after = width_after(share, count, correlation)
    assert 0 <= after <= now
    assert width_after(share, count + 50, correlation) <= after
    assert width_after(share, count, correlation) >= width_after(share, count)
