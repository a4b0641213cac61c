"""Germination tests: nonsense refused beside its field, intervals, and the regeneration table."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from sporebank.core import germination, intervals
from sporebank.core.dates import PartDate
from sporebank.core.records import Replicate, Test

GOOD = {
    "collected": PartDate(2019, 8),
    "sown_on": date(2020, 3, 1),
    "counted_on": date(2020, 4, 1),
    "replicates": (Replicate(100, 85), Replicate(100, 0), Replicate(1, 1)),
    "temperature": 20.0,
    "today": date(2020, 4, 1),
}

# 81 of 263: the example of Newcombe 1998, Statistics in Medicine 17: 857-872; his printed .2553-.3662 is from memory.
# The digits were computed with statsmodels 0.15.
TABLE = [
    (81, 263, (0.255289, 0.366210)),
    (0, 20, (0.0, 0.161125)),
    (1, 29, (0.006113, 0.171755)),
    (340, 400, (0.811686, 0.881655)),
    (5, 10, (0.236593, 0.763407)),
    (10, 10, (0.722467, 1.0)),
]


@pytest.mark.parametrize(("x", "n", "wilson"), TABLE)
def test_interval_table(x, n, wilson):
    """To the six digits of the table above."""
    assert intervals.wilson(x, n) == pytest.approx(wilson, abs=6e-7)


@given(st.integers(1, 2000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_agrees_with_statsmodels(count):
    """Reference: statsmodels.stats.proportion.proportion_confint."""
    x, n = count
    assert intervals.wilson(x, n) == pytest.approx(proportion_confint(x, n, method="wilson"), abs=1e-9)


@pytest.mark.parametrize(
    ("initial", "below"),
    [
        (100, 85), (99, 84), (98, 83), (97, 82), (96, 82), (95, 81), (94, 80), (93, 79),
        (92, 78), (91, 77), (90, 77), (89, 76), (88, 75), (87, 74), (86, 73), (85, 72),
    ],
)  # fmt: skip
def test_regeneration_table(initial, below):
    """Kameswara Rao et al. 2006, Handbooks for Genebanks 8, table 8.2; 76.5 rounds up to 77."""
    assert germination.regenerate_below(initial) == below


def test_a_good_test_has_no_problems():
    """Also where the day of collection is known to the month only, and no temperature was written."""
    assert germination.problems(**GOOD) == []
    assert germination.problems(**{**GOOD, "temperature": None, "collected": PartDate(2020)}) == []


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"sown_on": date(2019, 7, 31)}, "sown_on", "collected Aug 2019"),
        ({"counted_on": date(2020, 2, 29)}, "counted_on", "cannot have been counted before"),
        ({"counted_on": date(2020, 4, 2)}, "counted_on", "2 Apr 2020 is still to come"),
        ({"replicates": ()}, "replicates", "at least one count"),
        ({"replicates": (Replicate(0, 0),)}, "replicates", "Count 1: look at one spore"),
        ({"replicates": (Replicate(10, 10), Replicate(10, 11))}, "replicates", "Count 2: 11 of 10"),
        ({"replicates": (Replicate(10, -1),)}, "replicates", "below zero"),
        ({"replicates": (Replicate(1_000_000, 5),)}, "replicates", "more than anyone counts"),
        ({"temperature": 68.0}, "temperature", "degrees Celsius"),
        ({"temperature": -20.0}, "temperature", "degrees Celsius"),
    ],
)
def test_nonsense_is_said_beside_its_field(change, field, says):
    """One problem each, with its field."""
    ((found, sentence),) = germination.problems(**{**GOOD, **change})
    assert found == field
    assert says in sentence


def test_a_result_in_words():
    """340 of 400: Wilson without continuity correction, .8117 to .8817."""
    replicates = (Replicate(200, 171), Replicate(200, 169))
    assert germination.result(replicates) == "85 % (340 of 400), likely 81 to 88 %"
    test = Test(1, 1, None, date(2020, 1, 1), date(2020, 2, 1), replicates)
    assert (test.germinated, test.sown) == (340, 400)
