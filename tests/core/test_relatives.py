"""What kin lend, against an independent integration over the taxon and every batch, and against importance sampling."""

from datetime import date, timedelta

import numpy as np
import pytest
from scipy.special import betaln, log_ndtr, ndtr
from scipy.stats import norm

from sporebank.core import relatives
from sporebank.core.dates import PartDate
from sporebank.core.records import Replicate, SporeClass, Stay
from sporebank.core.viability import NOTHING_LENT, Evidence, History, Sister, forecast, kin
from sporebank.formats.tables import load_storage

STORAGE = load_storage()
ROW = STORAGE.rows[SporeClass.NON_GREEN].fridge
START = date(2015, 6, 1)
LAY = (Stay(START, 4.0, None),)
CLASS = SporeClass.NON_GREEN


def sister(*tests):
    known = tuple(Evidence(START + timedelta(days=day), (Replicate(n, x),), LAY) for day, x, n in tests)
    return Sister(known, PartDate.of(START), CLASS)


FAMILIES = (
    (sister(), sister((1500, 30, 100)), sister((900, 40, 100), (2000, 5, 100))),
    (sister((800, 95, 100)), sister((2500, 90, 100)), sister((3000, 80, 100), (3600, 70, 100))),
    (sister((700, 60, 100)), sister((700, 2, 100)), sister((1200, 95, 100)), sister((1200, 90, 100))),
)


def foreseen(family, number, days):
    lent, untested = kin(dict(enumerate(family)), STORAGE)
    one = family[number]
    found = forecast(
        one.evidence, History(one.collected, LAY), CLASS, STORAGE, START + timedelta(days=days),
        lent=lent.get(number, untested),
    )  # fmt: skip
    return found.share.low, found.share.middle, found.share.high, found.chance_below


def likelihood(evidence, k, z):
    """The beta-binomial likelihood of a batch's tests, written anew."""
    spread = (1 - STORAGE.correlation) / STORAGE.correlation
    total = np.zeros(np.broadcast_shapes(np.shape(k), np.shape(z)))
    for test in evidence:
        v = k - (test.on - START).days / (ROW.days * 10 ** (ROW.spread * z))
        alive, dead = np.exp(log_ndtr(v)) * spread + 1e-200, np.exp(log_ndtr(-v)) * spread + 1e-200
        total = total + betaln(test.germinated + alive, test.sown - test.germinated + dead) - betaln(alive, dead)
    return total


def deviation(away):
    """The density of a batch's deviation: mostly usual, now and then five times as far (our own choice)."""
    usual = np.sqrt((1 - STORAGE.between_taxa) / (0.95 + 0.05 * 25))
    return 0.95 * norm.pdf(away, 0, usual) + 0.05 * norm.pdf(away, 0, 5 * usual)


def brute_force(family, number, days):
    """Integrate over the taxon T and, for every sister, over (K, z), on plain fixed grids."""
    taxon, z, k = np.linspace(-5, 5, 161), np.linspace(-6, 6, 481), np.linspace(-2.0, 5.0, 281)
    grid_k, grid_z = np.meshgrid(k, z, indexing="ij")
    weight_t = norm.pdf(taxon)
    for other, one in enumerate(family):
        if other != number and one.evidence:
            joint = np.exp(likelihood(one.evidence, grid_k, grid_z)) * norm.pdf(grid_k, 1.645, 0.5)
            over_z = joint.sum(axis=0)
            through = np.array([(over_z * deviation(z - np.sqrt(STORAGE.between_taxa) * t)).sum() for t in taxon])
            weight_t = weight_t * through / through.max()
    lent = np.array([(weight_t * deviation(at - np.sqrt(STORAGE.between_taxa) * taxon)).sum() for at in z])
    if not any(one.evidence for other, one in enumerate(family) if other != number):
        lent = norm.pdf(z)
    weight = np.exp(likelihood(family[number].evidence, grid_k, grid_z)) * norm.pdf(grid_k, 1.645, 0.5) * lent[None, :]
    return points(ndtr(grid_k - days / (ROW.days * 10 ** (ROW.spread * grid_z))), weight)


def points(alive, weight):
    order = alive.ravel().argsort()
    met = weight.ravel()[order].cumsum() / weight.sum()
    ends = [alive.ravel()[order][np.searchsorted(met, point)] for point in (0.05, 0.5, 0.95)]
    return (*ends, weight[alive < 0.2].sum() / weight.sum())


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("days", [1200, 4000])
def test_against_brute_force_over_taxon_and_batches(family, days):
    for number in range(len(family)):
        assert foreseen(family, number, days) == pytest.approx(brute_force(family, number, days), abs=0.005)


@pytest.mark.parametrize("number", [0, 2])
def test_against_importance_sampling(number):
    """A million draws from the prior of taxon and batches with a fixed seed, weighted by the likelihood."""
    family = (sister(), sister((1500, 15, 20)), sister((900, 18, 20), (2000, 13, 20)))
    count = 1_000_000
    chance = np.random.default_rng(20260518)
    taxon = chance.standard_normal(count)
    log_weight = np.zeros(count)
    usual = np.sqrt((1 - STORAGE.between_taxa) / (0.95 + 0.05 * 25))
    for other, one in enumerate(family):
        z = np.sqrt(STORAGE.between_taxa) * taxon
        z = z + usual * np.where(chance.random(count) < 0.05, 5.0, 1.0) * chance.standard_normal(count)
        k = chance.normal(1.645, 0.5, count)
        log_weight += likelihood(one.evidence, k, z)
        if other == number:
            alive = ndtr(k - 4000 / (ROW.days * 10 ** (ROW.spread * z)))
    weight = np.exp(log_weight - log_weight.max())
    assert weight.sum() ** 2 / (weight**2).sum() > 40_000, "too few draws that matter"
    assert foreseen(family, number, 4000) == pytest.approx(points(alive, weight), abs=0.005)


def test_an_untested_batch_of_a_tested_taxon_has_a_narrower_band():
    family = (sister(), *(sister((2000, alive, 100)) for alive in (75, 80, 85, 90)))
    low, _, high, _ = foreseen(family, 0, 2000)
    alone_low, _, alone_high, _ = foreseen((sister(),), 0, 2000)
    assert high - low < 0.7 * (alone_high - alone_low)


def test_a_batch_never_lends_to_itself():
    """However good its own test, what a batch is lent comes from its sisters alone."""
    lent, _ = kin({1: sister((1500, 99, 100)), 2: sister((1500, 5, 100))}, STORAGE)
    other, _ = kin({1: sister((1500, 1, 100)), 2: sister((1500, 5, 100))}, STORAGE)
    assert lent[1].log_density == pytest.approx(other[1].log_density, abs=1e-9)
    assert (lent[1].sisters, lent[1].spores) == (1, 100)


def test_one_odd_batch_does_not_drag_the_others():
    good = [sister((2000, 88, 100)) for _ in range(4)]
    _, plain, _, _ = foreseen((sister(), *good), 0, 2000)
    _, dragged, _, _ = foreseen((sister(), *good, sister((300, 0, 100))), 0, 2000)
    assert plain - dragged < 0.1


@pytest.mark.parametrize(("good", "most"), [(2, 0.10), (4, 0.05), (10, 0.02)])
@pytest.mark.parametrize("odd", [((300, 0, 100),), ((900, 20, 100),), ((50, 0, 400), (100, 0, 400))])
def test_an_odd_batch_moves_the_middle_the_less_the_more_good_ones_there_are(good, most, odd):
    """Whether it is merely poor, dead within a year or dead from the start."""
    kin_of_it = [sister((2000, 88, 100)) for _ in range(good)]
    plain = foreseen((sister(), *kin_of_it), 0, 2000)[1]
    assert 0 <= plain - foreseen((sister(), *kin_of_it, sister(*odd)), 0, 2000)[1] < most


def test_a_sister_from_a_temperature_not_known_lends_what_it_can():
    """Two million draws with a fixed seed; the temperature is any from 2 to 23 degrees C (our own choice)."""
    somewhere = (Stay(START, None, None),)
    known = tuple(
        Evidence(START + timedelta(days=day), (Replicate(n, x),), somewhere) for day, x, n in ((900, 70, 100),)
    )
    lent = kin({1: Sister(known, PartDate.of(START), CLASS)}, STORAGE)[1]
    found = forecast((), History(PartDate.of(START), LAY), CLASS, STORAGE, START + timedelta(days=2500), lent=lent)
    count, between = 2_000_000, STORAGE.between_taxa
    chance = np.random.default_rng(20261125)
    taxon, usual = chance.standard_normal(count), np.sqrt((1 - between) / (0.95 + 0.05 * 25))
    z, other = (
        np.sqrt(between) * taxon
        + usual * np.where(chance.random(count) < 0.05, 5.0, 1.0) * chance.standard_normal(count)
        for _ in range(2)
    )
    room = STORAGE.rows[CLASS].room
    warmth = (chance.uniform(2, 23, count) - 5) / 15
    median = (1 - warmth) * np.log10(ROW.days) + warmth * np.log10(room.days)
    v = chance.normal(1.645, 0.5, count) - 900 / 10 ** (median + max(ROW.spread, room.spread) * z)
    spread = (1 - STORAGE.correlation) / STORAGE.correlation
    alive, dead = np.exp(log_ndtr(v)) * spread + 1e-200, np.exp(log_ndtr(-v)) * spread + 1e-200
    log_weight = betaln(70 + alive, 30 + dead) - betaln(alive, dead)
    weight = np.exp(log_weight - log_weight.max())
    expected = points(ndtr(chance.normal(1.645, 0.5, count) - 2500 / (ROW.days * 10 ** (ROW.spread * other))), weight)
    ours = (found.share.low, found.share.middle, found.share.high, found.chance_below)
    assert ours == pytest.approx(expected, abs=0.005)


def test_without_tested_sisters_nothing_is_lent():
    assert kin({1: sister(), 2: sister()}, STORAGE) == ({}, NOTHING_LENT)
    lent, untested = kin({1: sister((900, 50, 100))}, STORAGE)
    assert lent[1] is NOTHING_LENT
    assert untested.sisters == 1


def test_the_deviations_have_the_spread_that_is_left_to_batches():
    kernel = np.exp(relatives.lend(np.zeros((1, len(relatives.Z))), 0.6, [1])[1].log_density)
    step = relatives.Z[1] - relatives.Z[0]
    assert kernel.sum() * step == pytest.approx(1, abs=1e-3)
    assert (kernel * relatives.Z**2).sum() * step == pytest.approx(1, abs=0.02)
