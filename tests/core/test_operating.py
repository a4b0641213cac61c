"""How sure a plan is, against the exact chances it is made of."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sporebank.core.operating import meaning, operating, wrongly_fails, wrongly_passes
from sporebank.core.sequential import chances, own, promise
from sporebank.formats.tables import load_sequential


@pytest.mark.parametrize("plan", [load_sequential(), own(0.5), own(0.15)])
def test_the_curves_are_the_exact_chances(plan):
    found = operating(plan, 21)
    assert found.shares == pytest.approx([n / 20 for n in range(21)])
    for share, passing, counted in zip(found.shares, found.passing, found.counted, strict=True):
        assert (passing, counted) == (chances(plan, share).alive, chances(plan, share).tested)
    assert (found.at_mark, found.at_better) == (chances(plan, plan.mark), chances(plan, plan.better))


@settings(deadline=None)  # a whole curve each time
@given(st.floats(0.05, 0.9))
def test_more_alive_passes_more_often_and_the_doubtful_is_counted_longest(mark):
    found = operating(own(mark), 41)
    assert all(later >= before - 1e-12 for before, later in pairwise(found.passing))
    assert (found.passing[0], found.passing[-1]) == pytest.approx((0, 1))
    longest = found.shares[found.counted.index(max(found.counted))]
    assert mark - 0.06 <= longest <= found.plan.better + 0.06


def test_what_it_means_agrees_with_the_promise():
    """The promise of the same plan: passes 8 times in 100 at the mark, 93 at the better share."""
    found = operating(load_sequential())
    assert "passes 8 times in 100" in promise(found.plan)
    assert meaning(found).startswith(
        "Of 100 batches that are 85 % alive, 8 would pass wrongly; of 100 that are 90 % alive, 7 would fail wrongly."
    )
    assert wrongly_passes(found) == "85 %: 8 % pass wrongly"
    assert wrongly_fails(found) == "90 %: 7 % fail wrongly"
