"""Parallel lines, critical values of many comparisons and random slopes agree with published values.

Data and printed answers of European Pharmacopoeia 5.3, examples 5.1.1 and 5.1.2, were read in the R package pla
(version, edition and pages not recorded). Printed answers have four to six digits. R computed the further digits from
the same data (version not recorded).
"""

import math

import numpy as np
import pytest
from scipy import stats

from predictor.lots.limits import compare_fits, fieller, many_to_one_critical, t_critical
from predictor.lots.parallel import parallel_lines
from predictor.lots.random_levels import one_way, one_way_anova
from predictor.lots.random_lines import random_lines
from predictor.lots.repeatability import levene

# European Pharmacopoeia 5.3, example 5.1.1 (read, as above): corticotrophin. There are ten responses at each of two
# dilutions of standard S and preparations T and U.
CORTICOTROPHIN = {
    ("S", 1): (300, 310, 330, 290, 364, 328, 390, 360, 342, 306),
    ("S", 2): (289, 221, 267, 236, 250, 231, 229, 269, 233, 259),
    ("T", 1): (310, 290, 360, 341, 321, 370, 303, 334, 295, 315),
    ("T", 2): (230, 210, 280, 261, 241, 290, 223, 254, 216, 235),
    ("U", 1): (250, 268, 273, 240, 307, 270, 317, 312, 320, 265),
    ("U", 2): (236, 213, 283, 269, 251, 294, 223, 250, 216, 265),
}
# European Pharmacopoeia 5.3, example 5.1.2 (read, as above): an antibiotic in a Latin square. Each entry has row,
# column, preparation, dilution and response.
LATIN = (
    (1, 1, 'S', 1, 161), (2, 1, 'T', 1, 151), (3, 1, 'T', 2, 162), (4, 1, 'S', 3, 194),
    (5, 1, 'S', 2, 176), (6, 1, 'T', 3, 193), (1, 2, 'T', 1, 160), (2, 2, 'T', 3, 192),
    (3, 2, 'S', 3, 195), (4, 2, 'S', 2, 184), (5, 2, 'T', 2, 181), (6, 2, 'S', 1, 166),
    (1, 3, 'T', 2, 178), (2, 3, 'S', 1, 150), (3, 3, 'S', 2, 174), (4, 3, 'T', 3, 199),
    (5, 3, 'S', 3, 201), (6, 3, 'T', 1, 161), (1, 4, 'S', 3, 187), (2, 4, 'S', 2, 172),
    (3, 4, 'S', 1, 161), (4, 4, 'T', 1, 160), (5, 4, 'T', 3, 202), (6, 4, 'T', 2, 186),
    (1, 5, 'S', 2, 171), (2, 5, 'T', 2, 170), (3, 5, 'T', 3, 193), (4, 5, 'S', 1, 163),
    (5, 5, 'T', 1, 154), (6, 5, 'S', 3, 198), (1, 6, 'T', 3, 194), (2, 6, 'S', 3, 192),
    (3, 6, 'T', 1, 151), (4, 6, 'T', 2, 171), (5, 6, 'S', 1, 151), (6, 6, 'S', 2, 182),
)  # fmt: skip


def corticotrophin():
    y, x, lot = [], [], []
    for (prep, dilution), values in CORTICOTROPHIN.items():
        y += values
        x += [math.log(4) * dilution] * len(values)
        lot += ["STU".index(prep)] * len(values)
    return np.array(y, dtype=float), np.array(x), np.array(lot)


def test_corticotrophin_is_not_parallel_as_printed():
    """Ph. Eur. 5.3, 5.1.1 prints 8218.23 for non-parallelism, residual 765.572, p .007.

    R computed further digits (version not recorded). The 54 degrees of freedom were counted.
    """
    y, x, lot = corticotrophin()
    common, own = parallel_lines(y, x, lot, np.zeros(60, dtype=int)), parallel_lines(y, x, lot, lot)
    assert own.df == 54
    assert own.ss / own.df == pytest.approx(765.572222222223, rel=1e-12)
    assert common.ss - own.ss == pytest.approx(8218.23333333331, rel=1e-11)
    assert compare_fits(common.ss, common.df, own.ss, own.df).p == pytest.approx(0.00748028335083204, rel=1e-9)


@pytest.mark.parametrize(
    ("prep", "potency", "lower", "upper"),
    [
        (1, 1.14204525959127, 0.783648020176182, 1.68689893217286),
        (2, 1.66888674164097, 1.14812771290861, 2.55502975013981),
    ],
)
def test_corticotrophin_potency_has_the_printed_fieller_limits(prep, potency, lower, upper):
    """Ph. Eur. 5.3, 5.1.1 prints 1.14205 (0.783648, 1.6869) for T, 1.66889 (1.14813, 2.55503) for U.

    R computed further digits (version not recorded).
    """
    y, x, lot = corticotrophin()
    lines, own = parallel_lines(y, x, lot, np.zeros(60, dtype=int)), parallel_lines(y, x, lot, lot)
    noise = own.ss / own.df
    found = fieller(
        lines.level[prep] - lines.level[0],
        lines.slope[0],
        var_top=noise * (1 / 20 + 1 / 20),
        var_bottom=noise / lines.spread[0],
        critical=t_critical(own.df, 0.95),
    )
    # The second step is the larger dose, and the response falls with it. The shift of the lines is the log potency.
    assert math.exp(found.estimate) == pytest.approx(potency, rel=1e-12)
    assert np.exp(found.pieces[0]) == pytest.approx((lower, upper), rel=1e-10)


def test_latin_square_potency_has_the_printed_limits():
    """Ph. Eur. 5.3, 5.1.2 prints a slope of 46.346, residual 20.7667, potency 5456.37 (5092.37, 5843.36).

    R computed further digits (version not recorded). The 20 degrees of freedom were counted.
    """
    row, column, prep, dilution, y = (np.array(each) for each in zip(*LATIN, strict=True))
    prep, y = (prep == "T").astype(int), y.astype(float)
    x = dilution * math.log(1.5)
    lines = parallel_lines(y, x, prep, np.zeros(36, dtype=int))
    blocks = np.column_stack([row[:, None] == np.unique(row), column[:, None] == np.unique(column)])
    cells = (prep * 3 + dilution)[:, None] == np.unique(prep * 3 + dilution)
    full = np.column_stack([blocks, cells]).astype(float)
    rest = y - full @ np.linalg.lstsq(full, y, rcond=None)[0]
    df = 36 - np.linalg.matrix_rank(full)
    noise = rest @ rest / df
    assert df == 20
    assert noise == pytest.approx(20.7666666666665, rel=1e-10)
    assert lines.slope[0] == pytest.approx(46.3459525638238, rel=1e-12)
    found = fieller(
        lines.level[1] - lines.level[0],
        lines.slope[0],
        var_top=noise * (1 / 18 + 1 / 18),
        var_bottom=noise / lines.spread[0],
        critical=t_critical(df, 0.95),
    )
    assigned = (4855 * 25.2 / 24.5) / (5600 * 21.4 / 23.95) * 5600
    assert assigned * math.exp(found.estimate) == pytest.approx(5456.36651489026, rel=1e-11)
    limits = assigned * np.exp(found.pieces[0])
    assert limits == pytest.approx((5092.36893336216, 5843.36202978496), rel=1e-10)


@pytest.mark.parametrize(("k", "df"), [(1, 10), (2, 10), (3, 10), (5, 20), (9, 60)])
def test_many_to_one_critical_values_agree_with_an_independent_integral(k, df):
    """scipy.stats.multivariate_t.cdf (Genz and Bretz's quasi Monte Carlo, good to about 1e-3) gives 95 % jointly.

    The last run had SciPy 1.17.1.
    """
    found = many_to_one_critical(np.ones(k), np.ones((k, 1)), df=df).value
    corr = np.full((k, k), 0.5) + 0.5 * np.eye(k)
    joint = stats.multivariate_t(shape=corr, df=df, seed=1).cdf(np.full(k, found), lower_limit=np.full(k, -found))
    assert joint == pytest.approx(0.95, abs=1e-3)


@pytest.mark.parametrize(("k", "df", "printed"), [(1, 10, 2.23), (2, 10, 2.57), (1, 20, 2.09), (2, 20, 2.38)])
def test_many_to_one_critical_values_are_the_printed_ones(k, df, printed):
    """Dunnett (1964), Biometrics 20, 482-491, two-sided 5 %, equal groups (from memory)."""
    assert round(many_to_one_critical(np.ones(k), np.ones((k, 1)), df=df).value, 2) == printed


def test_lots_of_unequal_size_with_a_common_slope_hold_together():
    """400,000 draws give the joint probability of comparisons that share a reference and a slope (error 0.0004).

    The simulation is our own, with numpy, and is held to the 95 % asked for. The variances are invented.
    """
    rng = np.random.default_rng(5)
    own, shared, df = np.full(10, 0.1), np.column_stack([np.ones(10), 0.2 * np.arange(10)]), 5
    found = many_to_one_critical(own, shared, df=df).value
    noise = rng.standard_normal((400_000, 10)) * np.sqrt(own) + rng.standard_normal((400_000, 2)) @ shared.T
    scale = np.sqrt((own + (shared**2).sum(axis=1)) * (rng.chisquare(df, 400_000) / df)[:, None])
    assert (np.abs(noise / scale).max(axis=1) < found).mean() == pytest.approx(0.95, abs=0.002)


def test_random_slopes_reach_the_closed_form_of_balanced_lots():
    """Where every lot has the same x, REML is the covariance of the lots' own lines less that of their errors.

    This is the closed form for balanced random coefficients: Laird & Ware (1982), Biometrics 38, 963-974 (from memory).
    The data are invented, and the arithmetic with numpy is our own.
    """
    rng = np.random.default_rng(4)
    x = np.arange(8.0)
    y = np.array([50 + 10 * rng.normal() + (3 + rng.normal()) * x + 2 * rng.normal(size=8) for _ in range(9)])
    found = random_lines(y.ravel(), np.tile(x, 9), np.repeat(np.arange(9), 8))
    design = np.column_stack([np.ones(8), x])
    lines = np.linalg.lstsq(design, y.T, rcond=None)[0]
    within = ((y.T - design @ lines) ** 2).sum() / (9 * 6)
    between = np.cov(lines) - within * np.linalg.inv(design.T @ design)
    assert found.within == pytest.approx(within, rel=1e-9)
    assert found.cov == pytest.approx(between, rel=1e-8)
    assert found.beta == pytest.approx(lines.mean(axis=1), rel=1e-11)


def test_unbalanced_lots_agree_with_statsmodels():
    """statsmodels MixedLM(y, X, lot).fit(reml=True), whose optimiser stops at four to six digits of the variances.

    Any version from 0.14.1 on will do. The last run had 0.15.0. The data are invented.
    """
    mixed = pytest.importorskip("statsmodels.regression.mixed_linear_model")
    rng = np.random.default_rng(0)
    lot = np.repeat(np.arange(12), rng.integers(1, 9, 12))
    x = rng.normal(5, 2, len(lot))
    y = 3 + 0.5 * x + rng.normal(0, 1, 12)[lot] + rng.normal(0, 0.7, len(lot))
    found = one_way(y, lot, x[:, None])
    peer = mixed.MixedLM(y, np.column_stack([np.ones(len(y)), x]), lot).fit(reml=True)
    assert found.beta == pytest.approx(peer.fe_params, rel=1e-4)
    assert found.between == pytest.approx(float(peer.cov_re[0, 0] if peer.cov_re.ndim == 2 else peer.cov_re), rel=1e-3)
    assert found.within == pytest.approx(peer.scale, rel=1e-4)
    assert found.criterion <= -2 * peer.llf + 1e-9
    assert found.blup == pytest.approx([peer.random_effects[k].iloc[0] for k in range(12)], abs=1e-3)


def test_a_large_offset_costs_no_more_digits_than_doubles_lose():
    """NIST StRD SmLs01 and SmLs07 (read in stored copies): sums of squares 1.68 and 1.80, F 21.

    SmLs07 has an offset of 1e12. There 0.1 is stored to three or four digits only, so the answers have no more,
    whatever the arithmetic.
    """
    steps = np.array([0.4, *([0.3, 0.5] * 10)])
    shift = np.array([0.0, -0.1, 0.1, -0.1, 0.1, -0.1, 0.1, -0.1, 0.1])
    y, lot = (shift[:, None] + steps).ravel(), np.repeat(np.arange(9), 21)
    easy, hard = one_way_anova(1 + y, lot), one_way_anova(1e12 + y, lot)
    assert (easy.ss_between, easy.ss_within, easy.F) == pytest.approx((1.68, 1.80, 21.0), rel=1e-12)
    assert (hard.ss_between, hard.ss_within, hard.F) == pytest.approx((1.68, 1.80, 21.0), rel=1e-3)


def test_levene_agrees_with_scipy():
    """scipy.stats.levene with departures from medians. The last run had SciPy 1.17.1. The data are invented."""
    rng = np.random.default_rng(3)
    groups = [rng.normal(0, sd, n) for sd, n in ((1, 9), (1.5, 14), (0.8, 6))]
    size = np.concatenate([np.abs(each - np.median(each)) for each in groups])
    found = levene(size, np.ones(len(size)), np.repeat(np.arange(3), [len(each) for each in groups]))
    peer = stats.levene(*groups, center="median")
    assert found.statistic == pytest.approx(peer.statistic, rel=1e-12)
    assert found.p == pytest.approx(peer.pvalue, rel=1e-10)
