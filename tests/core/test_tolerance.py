"""Whether counts agree: the published table, the exact range, and the chi-square test."""

from __future__ import annotations

from itertools import product
from math import comb, floor, sqrt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2_contingency

from sporebank.core import tolerance
from sporebank.core.records import Replicate
from sporebank.core.tolerance import agreement, range_chance
from sporebank.formats.tables import load_tolerance

# 7 CFR 201.55(a), four counts of 100; Miles 1963, Proc. Int. Seed Testing Assoc. 28: 525-686 (citation from memory).
# Rows 99 to 71 read in print, 70 to 51 from memory.
PUBLISHED = {
    range(99, 100): 5, range(98, 99): 6, range(97, 98): 7, range(96, 97): 8, range(95, 96): 9, range(93, 95): 10,
    range(91, 93): 11, range(89, 91): 12, range(87, 89): 13, range(84, 87): 14, range(81, 84): 15, range(78, 81): 16,
    range(73, 78): 17, range(71, 73): 18, range(67, 71): 18, range(56, 67): 19, range(51, 56): 20,
}  # fmt: skip


def four(*germinated):
    return tuple(Replicate(100, each) for each in germinated)


@pytest.mark.parametrize(
    ("average", "most"), [(average, most) for averages, most in PUBLISHED.items() for average in averages]
)
def test_the_published_table_row_by_row(average, most):
    table = load_tolerance()
    assert table.most(average) == most
    assert table.most(100 - average) == most
    # a curve through the table, computed and not published: none of the 49 rows departs from it
    assert most == floor(3.882 * sqrt(average * (100 - average) / 100 + 0.5) + 0.5)


def test_the_table_ends():
    table = load_tolerance()
    assert table.most(50) == 20
    assert table.most(100) is None
    assert table.most(0) is None
    assert sum(row.high - row.low + 1 for row in table.rows) == 49


@pytest.mark.parametrize(
    ("average", "chance"),
    [(99, 0.0017), (95, 0.0116), (90, 0.0169), (85, 0.0210), (80, 0.0182), (75, 0.0217), (60, 0.0246), (55, 0.0183)],
)
def test_the_chance_of_passing_the_table(average, chance):
    """Computed: the chance that four binomial counts of 100 lie further apart than the published table allows."""
    most = load_tolerance().most(average)
    assert 1 - range_chance(100, 4, average / 100, most) == pytest.approx(chance, abs=5e-5)


@settings(max_examples=25)
@given(st.integers(1, 5), st.integers(2, 4), st.floats(0.02, 0.98), st.integers(0, 5))
def test_the_range_by_counting_every_way(sown, counts, share, most):
    weights = [comb(sown, n) * share**n * (1 - share) ** (sown - n) for n in range(sown + 1)]
    total = 0.0
    for way in product(range(sown + 1), repeat=counts):
        if max(way) - min(way) <= most:
            weight = 1.0
            for count in way:
                weight *= weights[count]
            total += weight
    assert range_chance(sown, counts, share, most) == pytest.approx(total)


@given(st.lists(st.tuples(st.integers(1, 30), st.integers(1, 30)), min_size=2, max_size=6))
def test_unlike_counts_against_scipy(pairs):
    """Reference: scipy.stats.chi2_contingency without a correction."""
    replicates = [Replicate(dead + alive, alive) for dead, alive in pairs]
    reference = chi2_contingency([[alive for _, alive in pairs], [dead for dead, _ in pairs]], correction=False)
    assert tolerance._unlike(replicates) == pytest.approx(reference.pvalue, abs=1e-9)


def test_four_counts_of_a_hundred_go_by_the_table():
    table = load_tolerance()
    good, bad = agreement(four(78, 85, 85, 92), table), agreement(four(78, 85, 84, 93), table)
    assert good.credible
    assert good.sentence == "The counts agree: 14 apart, and up to 14 is chance."
    assert not bad.credible
    assert bad.sentence == "The counts differ more than chance allows: 15 apart, where 14 is the most at 85 %."
    assert bad.how == table.source


def test_an_average_is_rounded_half_up():
    """Of 84, 84, 83 and 83 the average 83.5 goes as 84, of which the row allows 14."""
    assert "14 is the most at 84 %" in agreement(four(91, 91, 76, 76), load_tolerance()).sentence


@pytest.mark.parametrize("all_of_them", [0, 100])
def test_counts_more_alike_than_chance_are_accepted(all_of_them):
    table = load_tolerance()
    for counts in (four(*[all_of_them] * 4), four(85, 85, 85, 85), tuple([Replicate(50, 25)] * 3)):
        assert agreement(counts, table).credible
    assert agreement((Replicate(30, 30 * all_of_them // 100), Replicate(50, 50 * all_of_them // 100)), table).credible


def test_other_counts_go_by_the_exact_range():
    found = agreement((Replicate(50, 3), Replicate(50, 22)), load_tolerance())
    assert not found.credible
    assert found.how == tolerance.EXACT
    assert found.sentence == (
        "The counts differ more than chance allows: 6 to 44 %. Chance alone brings this in fewer than 1 of 100 tests."
    )
    assert agreement((Replicate(50, 22), Replicate(50, 27)), load_tolerance()).credible


def test_counts_of_unlike_size_go_by_chi_square():
    found = agreement((Replicate(100, 60), Replicate(250, 120)), load_tolerance())
    assert found.how == tolerance.CHI_SQUARE
    assert found.credible  # chi-square 4.15, 1 degree of freedom, chance 0.0418 (computed by hand)
    worse = agreement((Replicate(100, 65), Replicate(250, 128)), load_tolerance())
    assert "Chance alone brings this in 2 of 100 tests" in worse.sentence
    assert not worse.credible


def test_a_nearly_perfect_test_goes_by_the_exact_range():
    """An average of 99.5 rounds to 100, of which the table has no row."""
    assert agreement(four(100, 100, 99, 99), load_tolerance()).how == tolerance.EXACT


def test_one_count_has_nothing_to_agree_with():
    assert agreement((Replicate(100, 50),), load_tolerance()) is None
    assert agreement((), load_tolerance()) is None
