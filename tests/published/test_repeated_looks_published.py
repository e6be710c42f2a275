"""What repeated looks do to a plain test: simulation agrees with published or computed figures.

Each set of figures says whether it is printed somewhere. If not, it says how it was computed and how to compute it
again.
"""

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtri, stdtr, stdtrit

from predictor.advice.history import History
from predictor.advice.prospects import MOST_MORE_CATCHES
from predictor.advice.recommend import recommend
from predictor.curves.prior import Prior
from predictor.domain.control import Lever
from predictor.domain.drill import SeedBox

# The chance that a two-sided 5 % test is significant at least once in k looks: Armitage, McPherson & Rowe (1969), J. R.
# Stat. Soc. A 132, 235-244. The values are from memory. An exact recursion agrees to the printed digits.
REPEATED = {1: 0.050, 2: 0.083, 3: 0.107, 4: 0.126, 5: 0.142, 10: 0.193, 20: 0.248, 50: 0.320}


def test_repeated_two_sided_tests_by_simulation():
    """100,000 runs have a Monte Carlo error of at most 0.0015. The test allows four of them."""
    rng = np.random.default_rng(1)
    sums = np.cumsum(rng.standard_normal((100_000, 50)), axis=1)
    z = np.abs(sums) / np.sqrt(np.arange(1, 51))
    ever = np.maximum.accumulate(z, axis=1) > ndtri(0.975)
    for looks, published in REPEATED.items():
        assert ever[:, looks - 1].mean() == pytest.approx(published, abs=4 * 0.0015 + 0.0005)


def test_repeated_equivalence_tests_accept_the_edge_of_tolerance():
    """With CV = tolerance = 5 % and a look after each catch from n = 3, 4.0 % are accepted at the first look and 13.9 %
    after ten catches.

    No printed answer is known. The two figures, 0.04011 and 0.13887, are from another Monte Carlo (100,000 runs, errors
    0.0006 and 0.0011). It was made beforehand in Python with code that is not kept here (versions not recorded). An
    integral like that above `POWER`, with the mean on the edge, gives the first exactly: 0.0409242 (SciPy 1.17.1).
    """
    rng = np.random.default_rng(2)
    runs = 20_000
    y = 1.05 + 0.05 * rng.standard_normal((runs, 10))
    n = np.arange(1, 11)
    mean = np.cumsum(y, axis=1) / n
    square = np.cumsum(y**2, axis=1) / n - mean**2
    accepted = np.zeros(runs, dtype=bool)
    for k in range(3, 11):
        se = np.sqrt(square[:, k - 1] * k / (k - 1) / k)
        t = stdtrit(k - 1, 0.95)
        accepted |= (mean[:, k - 1] - t * se > 0.95) & (mean[:, k - 1] + t * se < 1.05)
        if k == 3:
            assert accepted.mean() == pytest.approx(0.04011, abs=4 * 0.0014)
    assert accepted.mean() == pytest.approx(0.13887, abs=4 * 0.0025)


# The power of the one-sample equivalence test at 5 % with the mean on target. No answer is printed. Python computed it
# (version not recorded), and scipy.integrate.quad of SciPy 1.17.1 computed it again to 14 digits. It is the integral
# over w = s / sigma, from 0 to c / t, of (2 Phi(c - t w) - 1) f(w). There c = tolerance sqrt(n) / cv, t is Student's
# upper 5 % point on n - 1, and f is the density of w, where (n - 1) w^2 is chi-squared on n - 1.
POWER = {
    (0.02, 0.02, 3): 0.12733842750819754,
    (0.02, 0.02, 5): 0.2938530722643278,
    (0.02, 0.02, 10): 0.7952072667058983,
}


@pytest.mark.parametrize("case", POWER)
def test_equivalence_power_on_target(case):
    """40,000 runs of the plain test have a Monte Carlo error of at most 0.0025."""
    cv, tolerance, n = case
    rng = np.random.default_rng(3)
    y = 1 + cv * rng.standard_normal((40_000, n))
    half = stdtrit(n - 1, 0.95) * y.std(axis=1, ddof=1) / np.sqrt(n)
    inside = np.abs(y.mean(axis=1) - 1) + half < tolerance
    assert inside.mean() == pytest.approx(POWER[case], abs=4 * 0.0025)


# Student's t, upper 2.5 % and 0.5 % points, as in Fisher & Yates, Statistical Tables (from memory).
T_TABLE = {1: (12.706, 63.657), 2: (4.303, 9.925), 5: (2.571, 4.032), 10: (2.228, 3.169), 30: (2.042, 2.750)}


@pytest.mark.parametrize("df", T_TABLE)
def test_t_tails_match_the_printed_table(df):
    for point, tail in zip(T_TABLE[df], (0.025, 0.005), strict=True):
        assert round(float(stdtrit(df, 1 - tail)), 3) == point
        # The printed point is rounded to half a unit of its last place.
        assert 1 - stdtr(df, point + 0.0005) <= tail <= 1 - stdtr(df, point - 0.0005)


# The catches needed so that the half width of a 95 % interval is at most the tolerance where sigma is known: (z cv /
# E)^2, rounded up. Any textbook has the formula (from memory). The figures are own arithmetic with z = 1.959964, z^2 =
# 3.84146.
SIZES = {(0.05, 0.05): 4, (0.08, 0.05): 10, (0.05, 0.02): 25, (0.03, 0.02): 9}


@pytest.mark.parametrize("case", SIZES)
def test_catches_still_expected_agree_with_the_textbook_when_repeatability_is_known(case):
    """With one catch on target, the catches made and those still expected add up to the formula's.

    Shape and repeatability are all but known. They may differ by one: the formula's limits are 1 +- E, the advice takes
    their logarithms, and half a step of the lever is left over.
    """
    cv, tolerance = case
    prior = Prior(dead_spread=1e-4, bend_spread=1e-4, repeatability=((1.0, cv, 1e6),), name="history")
    history = History(prior, ("made up",), (), 0, False, None)
    box = SeedBox("small", "small", Lever(0, 200, 1))
    frame = pd.DataFrame({"box": "small", "lot": "A", "setting": [100], "catch_g": [5000.0], "turns": 28, "rows": 3})
    advice = recommend(frame, box, target_output=5000 / 84, tolerance=tolerance, history=history)
    if advice.catches_expected_more is None:  # more than are worth making: a later decision is lengthen
        assert SIZES[case] > MOST_MORE_CATCHES
    else:
        assert abs(1 + advice.catches_expected_more - SIZES[case]) <= 1
