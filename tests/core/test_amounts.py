"""Amounts: read, shown, measured in other ways, divided to the microgram."""

from __future__ import annotations

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sporebank.core import amounts
from sporebank.core.errors import Refusal


@pytest.mark.parametrize(
    ("text", "micrograms"),
    [
        ("14.2", 14_200),
        ("14,2", 14_200),
        (" 14.2 mg ", 14_200),
        ("0,005", 5),
        (".5", 500),
        ("3.", 3_000),
        ("1 000", 1_000_000),
        ("14.236", 14_236),
        ("500 µg", 500),
        ("500 ug", 500),
        ("0.25 g", 250_000),
        ("0", 0),
    ],
)
def test_amounts_are_read(text, micrograms):
    """Decimal comma and point, milligrams unless said otherwise."""
    assert amounts.parse_milligrams(text) == micrograms


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is not an amount"),
        ("much", "is not an amount"),
        ("-3", "is not an amount"),
        ("1.2.3", "is not an amount"),
        ("3 oz", "is not an amount"),
        ("1,000", "two ways. Write 1000"),
        ("0.0005", "whole micrograms"),
    ],
)
def test_what_is_no_amount_is_refused(text, says):
    """Beside the field, with what to do."""
    with pytest.raises(Refusal, match=says) as refused:
        amounts.parse_milligrams(text)
    assert refused.value.field == "amount"


@pytest.mark.parametrize(
    ("micrograms", "shown"),
    [
        (0, "0 mg"),
        (5, "0.005 mg"),
        (400, "0.4 mg"),
        (1_423, "1.42 mg"),
        (14_299, "14.2 mg"),
        (14_000, "14 mg"),
        (142_999, "142 mg"),
        (1_416_999, "1416 mg"),
        (-14_200, "−14.2 mg"),
    ],
)
def test_amounts_are_shown(micrograms, shown):
    """Three figures, and never more than there is."""
    assert amounts.show(micrograms) == shown


@given(st.integers(0, 10**9))
def test_what_is_shown_can_be_taken(micrograms):
    """Typing what is shown never asks for more than there is, nor for much less."""
    read = amounts.parse_milligrams(amounts.show(micrograms))
    assert read <= micrograms < read + max(1, micrograms / 99)


@pytest.mark.parametrize(
    ("nanograms", "spores"),
    [(4, 250_000), (19, 52_632), (33.9, 29_499), (37, 27_027), (46, 21_739), (69, 14_493), (90, 11_111), (800, 1_250)],
)
def test_spores_in_a_milligram(nanograms, spores):
    """Masses: Gómez-Noguez et al. 2016, Flora 223: 99-105; 800 ng: 300,000 Ceratopteris spores in 240 mg."""
    assert round(amounts.spores_per_mg(nanograms)) == spores


def test_ceratopteris_weighs_what_its_suppliers_say():
    """300,000 spores of Ceratopteris richardii are about 240 mg (c-fern.org)."""
    assert amounts.from_spores(300_000, 800) == 240_000


def test_a_volume_weighs_by_density_and_packing():
    """Our choice: 0.8 g/cm3 and 0.6. Within it, the read bounds 0.75 and 0.9 give 450 and 540 micrograms."""
    assert amounts.from_microlitres(1) == 480
    assert amounts.from_microlitres(1, 0.75) == 450
    assert amounts.from_microlitres(1, 0.9) == 540


def test_a_cubic_millimetre_holds_the_spores_that_are_told_of():
    """'Up to 20,000 could fit into a cubic millimetre' (Bilton Conservation Group): ours stays below."""
    assert 10_000 < amounts.from_microlitres(1) / 1000 * amounts.spores_per_mg() < 20_000


@pytest.mark.parametrize("measure", [amounts.from_microlitres, amounts.from_spores])
@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf")])
def test_nonsense_is_refused(measure, value):
    """Below zero, or no number."""
    with pytest.raises(Refusal):
        measure(value)


def test_dose_of_a_pot():
    """Computed: a round pot of 7 cm has 38.48 cm2; 20 spores on each are 769.7, 0.0154 mg at 20 ng."""
    pot = pi * 7**2 / 4
    assert amounts.spores_to_sow(1, live_per_cm2=20, pot_cm2=pot) == pytest.approx(769.7, abs=0.05)
    assert amounts.from_spores(769.7, 20) == 15
    assert round(amounts.spores_to_sow(0.4, live_per_cm2=10, pot_cm2=pot)) == 962


def test_pots_worth():
    """0.0154 mg of 20 ng spores all alive sow one pot of 7 cm; half alive, none; twice as much, one."""
    pot = {"spores_per_mg": amounts.spores_per_mg(20), "live_per_cm2": 20, "pot_cm2": pi * 7**2 / 4}
    assert amounts.pots_worth(15, 1, **pot) == 0
    assert amounts.pots_worth(16, 1, **pot) == 1
    assert amounts.pots_worth(16, 0.5, **pot) == 0
    assert amounts.pots_worth(31, 0.5, **pot) == 1
    assert amounts.pots_worth(0, 1, **pot) == 0
    assert amounts.pots_worth(5_000, 0, **pot) == 0


@given(st.integers(0, 10**8), st.integers(1, 60))
def test_equal_parts(micrograms, parts):
    """Nothing is lost, and no part has over a microgram more than another."""
    shares = amounts.split(micrograms, parts)
    assert sum(shares) == micrograms
    assert len(shares) == parts
    assert max(shares) - min(shares) <= 1


@given(st.integers(0, 10**8), st.lists(st.floats(0, 1e6, allow_subnormal=False), min_size=1, max_size=30).filter(any))
def test_weighted_parts(micrograms, weights):
    """Nothing is lost, and each part is within a microgram of its due."""
    shares = amounts.split(micrograms, weights)
    assert sum(shares) == micrograms
    for share, weight in zip(shares, weights, strict=True):
        assert abs(share - micrograms * weight / sum(weights)) < 1.001


def test_the_first_parts_get_the_rest():
    """Ten into three."""
    assert amounts.split(10, 3) == (4, 3, 3)
    assert amounts.split(10, (1, 1, 2)) == (3, 2, 5)


@pytest.mark.parametrize(
    ("micrograms", "parts"), [(10, 0), (-1, 2), (10, ()), (10, (0, 0)), (10, (1, -1)), (10, (float("nan"),))]
)
def test_what_cannot_be_divided_is_refused(micrograms, parts):
    """Nothing to divide, or nobody to divide by."""
    with pytest.raises(Refusal):
        amounts.split(micrograms, parts)


def test_sizes_by_eye_grow():
    """Our own, smallest first."""
    sizes = list(amounts.BY_EYE.values())
    assert sizes == sorted(sizes)
    assert sizes[0] > 0


@pytest.mark.parametrize("typed", ["1001 g", "1000000001 µg", "9" * 5000, "9" * 15 + " g", "." + "0" * 5000])
def test_no_slip_of_the_key_makes_a_mountain_of_spore(typed):
    with pytest.raises(Refusal):
        amounts.parse_milligrams(typed)


def test_a_kilogram_may_still_be():
    assert amounts.parse_milligrams("1000 g") == amounts.MOST
    for reckon in (amounts.from_microlitres, amounts.from_spores):
        with pytest.raises(Refusal, match="kilogram"):
            reckon(1e12)


@given(st.integers(-(10**9), 10**9))
def test_an_exact_amount_is_read_back_to_the_microgram(micrograms: int) -> None:
    text = amounts.exact(micrograms)
    assert round(float(text.removesuffix(" mg").replace("−", "-")) * 1000) == micrograms
