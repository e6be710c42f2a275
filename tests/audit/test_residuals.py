"""Faults that were planted in made-up catches are found, and in sound ones each test is wrong as often as it says."""

import numpy as np
import pytest

from predictor.audit import residuals
from predictor.audit.lines import Data, our_line

SETTINGS = (10, 10, 12, 14, 14, 16, 18, 18, 20, 24, 24, 28)
DEAD, SLOPE, CV = 3.0, 0.02, 0.05


def catches(rng, settings=SETTINGS, *, cv=CV, bend=1.0, drift=0.0, fill_effect=0.0, growth=0.0, noise="normal"):
    """Made-up catches in a random order; every number is invented."""
    x = rng.permutation(np.array(settings, dtype=float))
    n = len(x)
    fill = rng.choice([25.0, 50.0, 75.0, 100.0], n)
    standard = rng.normal(size=n) if noise == "normal" else rng.standard_t(5, n) / np.sqrt(5 / 3)
    mean = SLOPE * (x - DEAD) ** bend * (1 + drift * np.arange(n)) * (1 + fill_effect * (fill - 50) / 100)
    size = cv * ((x - DEAD) / np.mean(x - DEAD)) ** growth
    return Data(x, mean * (1 + size * standard), np.ones(n), 0.3), fill


def checks(data, fill, season=None):
    curve = our_line(data)
    found = residuals.Whitened.of(data, curve)
    season = residuals.seasons_differ(data, curve, np.zeros(len(data.x)) if season is None else season)
    return {each.name: each for each in residuals.checks_of(found, np.arange(len(data.x), dtype=float), fill, season)}


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("setting", {"bend": 1.9}),
        ("order", {"drift": 0.03}),
        ("filling", {"fill_effect": 0.35}),
        ("noise", {"growth": 2.5, "cv": 0.06}),
    ],
)
def test_a_planted_fault_is_found_by_its_own_test(name, fault):
    """Of 40 made-up lots more than half, where 2 would be by chance, and more than by any other test."""
    settings = SETTINGS * 3 if name == "noise" else SETTINGS
    below = dict.fromkeys(("setting", "order", "filling", "noise"), 0)
    for seed in range(40):
        found = checks(*catches(np.random.default_rng(seed), settings, **fault))
        for each in below:
            below[each] += found[each].p < 0.05
    assert below[name] > 20, below
    assert max(below, key=below.get) == name, below


def test_the_size_of_a_drift_is_told():
    """One per cent a catch of the first output is 0.95 % of the mean one, after twelve catches."""
    found = checks(*catches(np.random.default_rng(4), cv=0.002, drift=0.01))
    assert found["order"].effect == pytest.approx(0.01 / (1 + 0.01 * 5.5), rel=0.05)


def test_the_size_of_the_effect_of_filling_is_told():
    found = checks(*catches(np.random.default_rng(4), cv=0.002, fill_effect=0.2))
    assert found["filling"].effect == pytest.approx(0.2, rel=0.1)


def test_seasons_that_differ_are_found():
    data, fill = catches(np.random.default_rng(5), cv=0.03)
    season = np.array(["2025", "2026"] * 6)
    assert checks(data, fill, season)["season"].p > 0.05
    moved = Data(data.x, data.y * np.where(season == "2026", 1.2, 1.0), data.w, data.target)
    found = checks(moved, fill, season)["season"]
    assert found.p < 1e-4
    assert (found.df1, found.df2) == (1, 9)


def test_lack_of_fit_is_the_textbook_one():
    """Reference: the sums of squares of a weighted line and of the means at its settings, worked out by numpy."""
    data, _ = catches(np.random.default_rng(6))
    curve = our_line(data)
    w = 1 / curve.mean(data.x) ** 2
    line = float(w @ (data.y - curve.mean(data.x)) ** 2)
    pure = sum(float(w[at] @ (data.y[at] - data.y[at].mean()) ** 2) for at in (data.x == x for x in np.unique(data.x)))
    k, n = len(np.unique(data.x)), len(data.x)
    found = residuals.straight(residuals.Whitened.of(data, curve))
    assert found.method == "lack-of-fit"
    assert found.statistic == pytest.approx((line - pure) / (k - 2) / (pure / (n - k)), rel=1e-9)
    assert (found.df1, found.df2) == (k - 2, n - k)


def test_without_repeats_a_quadratic_term_is_tested():
    data, _ = catches(np.random.default_rng(7), (10, 13, 16, 19, 22, 25))
    found = residuals.straight(residuals.Whitened.of(data, our_line(data)))
    assert (found.method, found.df1, found.df2) == ("quadratic", 1, 3)


def test_the_statistic_of_the_noise_is_counted_among_sets_as_statsmodels_has_it():
    """The sets by which p is counted have the same statistic: one of them is given to statsmodels."""
    from statsmodels.stats.diagnostic import het_breuschpagan

    data, _ = catches(np.random.default_rng(8))
    found = residuals.Whitened.of(data, our_line(data))
    along, n = np.log(found.mean), len(data.x)
    basis, _ = np.linalg.qr(found.base)
    first = np.random.default_rng(n).standard_normal((residuals.SETS, n))[0]
    lm = het_breuschpagan(first - basis @ (basis.T @ first), np.column_stack([np.ones(n), along]))[0]
    assert residuals._lm_by_chance(found.base, along)[0] == pytest.approx(lm, rel=1e-9)


def test_what_goes_with_the_setting_is_not_tested():
    data, _ = catches(np.random.default_rng(9))
    sorted_data = Data(np.arange(10.0, 22.0), data.y[np.argsort(data.x)], data.w, 0.3)
    found = checks(sorted_data, 50 + sorted_data.x)
    assert found["order"].p is None
    assert found["order"].reason.code == "audit.goes_with_setting_order"
    assert found["filling"].reason.code == "audit.goes_with_setting_filling"


def test_long_catches_count_for_more():
    """A catch four times as long is held to half the scatter: its standardised residual is twice as large."""
    x, y = np.array([10.0, 14, 18, 22, 26, 30, 34, 38]), np.array([0.14, 0.22, 0.31, 0.38, 0.47, 0.53, 0.62, 0.71])
    w = np.ones(8)
    plain = residuals.Whitened.of(Data(x, y, w, 0.3), our_line(Data(x, y, w, 0.3)))
    w[3] = 4.0
    curve = our_line(Data(x, y, w, 0.3))
    found = residuals.Whitened.of(Data(x, y, w, 0.3), curve)
    assert found.value[3] == pytest.approx(2 * (0.38 / curve.mean(22.0) - 1), rel=1e-12)
    assert found.leverage[3] > plain.leverage[3]


@pytest.mark.slow
@pytest.mark.parametrize("noise", ["normal", "heavy"])
@pytest.mark.parametrize("settings", [(14, 14, 15, 15, 20, 20), SETTINGS, (10, 13, 16, 19, 22, 25, 28)])
def test_each_test_is_wrong_as_often_as_it_says(settings, noise):
    """Sound catches, 1500 sets: 5 % of p values below 5 %, within three Monte Carlo errors (0.56 %).

    Under heavy tails (t with 5 degrees of freedom) within 3 % of it: no test is exact there.
    """
    rng, sets = np.random.default_rng(20261127), 1500
    below = dict.fromkeys(("setting", "order", "filling", "noise"), 0)
    for _ in range(sets):
        found = checks(*catches(rng, settings, noise=noise))
        for each in below:
            below[each] += found[each].p is not None and found[each].p < 0.05
    error = np.sqrt(0.05 * 0.95 / sets)
    for number in below.values():
        assert abs(number / sets - 0.05) < (3 * error if noise == "normal" else 0.03), below
