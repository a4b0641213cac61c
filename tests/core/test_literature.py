"""The forecast against what is printed: fits, standard errors, a survival table, and how fern spore keeps."""

from datetime import timedelta

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.stats import binom, norm

from sporebank.core.ageing import Pace
from sporebank.core.exposure import Path
from sporebank.core.likelihood import tables
from sporebank.core.posterior import Batches, Facts, Trial
from sporebank.core.records import SporeClass
from sporebank.core.storage import StorageTable
from sporebank.core.viability import History, forecast
from tests.core.test_viability import COLLECTED, START, STORAGE, after, certain, share_on, stays

BLISS = {
    "doses": [1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839],
    "sown": [59, 60, 62, 56, 63, 59, 62, 60],
}


def test_standard_errors_of_bliss():
    """Bliss 1935; standard errors of the probit fit 2.6479 and 1.4872 (expected information, by statsmodels)."""
    information = np.zeros((2, 2))
    for dose, sown in zip(BLISS["doses"], BLISS["sown"], strict=True):
        v, seen = -34.935259 + 19.727934 * dose, np.arange(sown + 1)
        slopes, _ = tables([((int(x), sown),) for x in seen], 0.0).slope_and_bend(np.full((sown + 1, 1), v))
        about_v = (binom.pmf(seen, sown, norm.cdf(v)) * slopes[:, 0] ** 2).sum()
        information += about_v * np.outer([1, dose], [1, dose])
    errors = np.sqrt(np.diag(np.linalg.inv(information)))
    assert errors == pytest.approx([2.647918, 1.487235], abs=1e-4)


def test_a_survival_table():
    """The Open University's Seed saving course, section 7: alive on days 0 to 22; fitted by probit (computed).

    K 2.858704, sigma 3.788438 days and half-life 10.830025 days, each day as a sample of 100.
    """
    alive = [100, 99, 96, 90, 78, 60, 37, 18, 8, 3, 2, 0]
    path = Path((0,), (Pace(0.0, 1.0),))
    trials = tuple(Trial(path, 2 * number, ((x, 100),)) for number, x in enumerate(alive))
    batches = Batches([Facts(path, 0, trials)], StorageTable(0.0, 1e8, {}))

    def minus(point):
        rows = batches.at(np.array([[point[0]]]), np.zeros((1, 1)))
        return -float(rows.log_density(np.array([[[point[1]]]]))[0, 0, 0])

    found = minimize(minus, (0.6, 2.5), method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11})
    sigma, initial = 10 ** found.x[0], found.x[1]
    assert initial == pytest.approx(2.858704, abs=1e-3)
    assert sigma == pytest.approx(3.788438, abs=1e-3)
    assert initial * sigma == pytest.approx(10.830025, abs=1e-3)


def test_the_half_life_depends_on_how_fresh_it_began():
    """From 85 to 99.9 % at first, the half-life varies threefold at one sigma: Carta and others 2025 (2.981602)."""
    half_life = [norm.ppf(share) * 100 for share in (0.85, 0.999)]
    assert half_life[1] / half_life[0] == pytest.approx(2.981602, abs=1e-6)
    for share, days in zip((0.85, 0.999), half_life, strict=True):
        assert share_on(certain(norm.ppf(share), 100), round(days)) == pytest.approx(0.5, abs=0.002)


def test_green_spore_is_dead_within_about_a_month_at_25_degrees():
    """Osmunda regalis and Equisetum ramosissimum: Ballesteros et al. 2011, CryoLetters 32(2): 89-98."""
    warm = History(COLLECTED, stays((0, 25.0)))
    shares = [forecast((), warm, SporeClass.GREEN, STORAGE, after(days)).share for days in (0, 15, 30, 45)]
    assert shares[0].middle > 0.9
    assert shares[1].middle > 0.3
    assert shares[2].middle < 0.1
    assert shares[3].middle < 0.01


def test_matteuccia_at_room_temperature():
    """95, 16 and 0 % after 0, 30 and 210 days (Kreshchenok, Nesterova, Gureyeva & Kuznetsov, about 2013)."""
    for days, seen in ((0, 0.95), (30, 0.16), (210, 0.0)):
        share = forecast((), History(COLLECTED), SporeClass.GREEN, STORAGE, after(days)).share
        assert share.low <= seen <= share.high
        assert share.middle == pytest.approx(seen, abs=0.1)


def test_green_spore_keeps_about_three_months_in_a_fridge():
    """High for about three months dry at 4 degrees (Ballesteros et al. 2011), then failing."""
    cold = History(COLLECTED, stays((0, 4.0)))
    assert forecast((), cold, SporeClass.GREEN, STORAGE, after(90)).share.middle > 0.75
    assert forecast((), cold, SporeClass.GREEN, STORAGE, after(400)).share.middle < 0.15


def test_other_spore_lives_about_three_years():
    """On average (Gabriel y Galan & Prada 2011, in Working with Ferns): in a room it likely falls below 20 % then."""
    crossing = forecast((), History(COLLECTED), SporeClass.NON_GREEN, STORAGE, START, line=0.20).crossing
    assert abs((crossing.likely - START) - timedelta(days=3 * 365)) < timedelta(days=90)
    assert crossing.earliest < START + timedelta(days=365) < START + timedelta(days=10 * 365) < crossing.latest


def test_wood_fern_and_spleenwort_are_high_after_a_year():
    """Three Dryopteris (Quintanilla et al. 2002), three Asplenium (Aragon & Pangua 2004): room, fridge and freezer."""
    for celsius in (20.0, 5.0, -20.0):
        share = forecast((), History(COLLECTED, stays((0, celsius))), SporeClass.NON_GREEN, STORAGE, after(365)).share
        assert share.middle > 0.75


def test_tree_ferns_spore_is_short_lived_even_cold():
    """Cyathea delgadii 3.8 % after ten months at 4 degrees (Revista Brasileira de Botanica 1999)."""
    share = forecast((), History(COLLECTED, stays((0, 4.0))), SporeClass.DRYING_SENSITIVE, STORAGE, after(304)).share
    assert share.low <= 0.038 <= share.high
    assert share.middle < 0.1
