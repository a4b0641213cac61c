"""Counting: worked examples, exact limits, and nonsense refused."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2

from sporebank.core import counting
from sporebank.core.counting import Chamber
from sporebank.core.errors import Refusal

LARGE = Chamber("Neubauer improved, large square", 0.1, 1.0, 9, "read")


@pytest.mark.parametrize(
    ("counts", "dilution", "per_millilitre"),
    [
        ((20, 30, 25, 28), 1, 257_500),  # printed worked example, homeworksource.com
        ((45,), 5, 2.25e6),  # printed worked example, protocol-online.org
        ((39,) + (0,) * 8, 1, 43_333.3),  # mean 4.33 printed, plus.maths.org; the rest computed
    ],
)
def test_worked_examples(counts, dilution, per_millilitre):
    """Published worked examples of cell counts in a large Neubauer square of 0.1 microlitre."""
    assert counting.per_microlitre(counts, LARGE, dilution) * 1000 == pytest.approx(per_millilitre)


def test_a_group_square():
    """187 in five squares of 0.2 mm: 9.35 million per millilitre (computed)."""
    group = Chamber("group", 0.1, 0.04, 25, "read")
    assert counting.per_microlitre((187, 0, 0, 0, 0), group) * 1000 == pytest.approx(9.35e6)


def test_ten_cells_in_a_small_volume():
    """10 cells in 0.000008 ml are 1,250,000 per ml (printed worked example, qammunity.org)."""
    small = Chamber("0.008 microlitre", 0.1, 0.08, 4, "read")
    assert counting.per_microlitre((10,), small) * 1000 == pytest.approx(1.25e6)


@pytest.mark.parametrize(
    ("count", "low", "high"),
    [
        (0, 0, 3.689),
        (1, 0.025, 5.572),
        (5, 1.623, 11.668),
        (10, 4.795, 18.390),
        (20, 12.217, 30.888),
        (25, 16.179, 36.905),
        (50, 37.111, 65.919),
        (100, 81.364, 121.627),
        (187, 161.157, 215.808),
        (200, 173.241, 229.722),
        (400, 361.756, 441.187),
        (1000, 938.973, 1063.952),
    ],
)
def test_limits_of_a_count(count, low, high):
    """Exact limits of Garwood 1936 (from memory): half of chi-squared quantiles, table computed with scipy."""
    assert counting.limits(count) == pytest.approx((low, high), abs=6e-4)


@given(st.integers(1, 5000))
def test_limits_are_those_of_chi_squared(count):
    """Reference: scipy.stats.chi2."""
    low, high = counting.limits(count)
    assert low == pytest.approx(chi2.ppf(0.025, 2 * count) / 2)
    assert high == pytest.approx(chi2.ppf(0.975, 2 * count + 2) / 2)


def test_precision_in_words():
    """CV 31.62, 10 and 5 % at 10, 100 and 400 (100 over the square root)."""
    assert (
        counting.precision(10) == "10 counted: give or take 32 %, likely 5 to 18. Count about 100 in all to be surer."
    )
    assert counting.precision(100) == "100 counted: give or take 10 %, likely 81 to 122."
    assert counting.precision(0).startswith("Nothing counted")


@pytest.mark.parametrize(("spores", "other", "percent"), [(90, 10, 90), (1, 0, 100), (0, 5, 0), (1, 7, 13), (2, 1, 67)])
def test_purity(spores, other, percent):
    """12.5 rounds up to 13."""
    assert counting.purity(spores, other) == percent


@pytest.mark.parametrize(("spores", "other"), [(0, 0), (-1, 5), (5, -1)])
def test_purity_of_nothing_is_refused(spores, other):
    """Nothing counted, or less than nothing."""
    with pytest.raises(Refusal) as refused:
        counting.purity(spores, other)
    assert refused.value.field == "purity"


@pytest.mark.parametrize(
    ("counts", "dilution", "field"),
    [
        ((), 1, "counts"),
        ((1,) * 10, 1, "counts"),
        ((-1,), 1, "counts"),
        ((1,), 0.5, "dilution"),
        ((1,), float("nan"), "dilution"),
    ],
)
def test_nonsense_counts_are_refused(counts, dilution, field):
    """The sentence knows its field."""
    with pytest.raises(Refusal) as refused:
        counting.per_microlitre(counts, LARGE, dilution)
    assert refused.value.field == field
