"""Variance components, one-way analysis and ratios for comparing lots, against published values.

Printed answers of lme4 and nlme were read in stored copies of what they printed. Where R is named as having computed an
answer, versions of R and of its packages were not recorded.
"""

from pathlib import Path

import numpy as np
import pytest

from predictor.lots.limits import fieller, t_critical
from predictor.lots.random_levels import one_way, one_way_anova
from predictor.lots.random_lines import random_lines

DATA = Path(__file__).parent / "data"


def table(name):
    return np.genfromtxt(DATA / f"{name}.csv", delimiter=",", names=True, dtype=None, encoding="utf-8", deletechars='"')


def codes(labels):
    return np.unique(labels, return_inverse=True)[1]


def digits(value, certified):
    """Log relative error, McCullough (1998), Amer. Statist. 52, 358-366 (pages from memory)."""
    return 16.0 if value == certified else -np.log10(abs(value - certified) / abs(certified))


# NIST StRD, one-way analysis of variance: SiRstv, AtmWtAg, SmLs01, SmLs07, certified (read in stored copies): between
# and within sums of squares, F.
ANOVA = {
    "strd_sirstv": (5.11462616000000e-02, 2.16636560000000e-01, 1.18046237440255),
    "strd_atmwtag": (3.63834187500000e-09, 1.04951729166667e-08, 1.59467335677930e01),
    "strd_smls01": (1.68, 1.80, 21.0),
    "strd_smls07": (1.68, 1.80, 21.0),
}


@pytest.mark.parametrize(
    ("name", "least"), [("strd_sirstv", 13), ("strd_smls01", 15), ("strd_atmwtag", 10), ("strd_smls07", 3.9)]
)
def test_nist_analysis_of_variance(name, least):
    """Digits reached are those that the values keep when written as doubles.

    AtmWtAg's seven and SmLs07's twelve leading digits are constant: exact fractions of the rounded values agree with
    the certified ones to 10.2 and 4.0 digits (own arithmetic).
    """
    columns = table(name)
    names = columns.dtype.names
    group = next(each for each in names if len(np.unique(columns[each])) < len(columns) / 4)
    value = next(each for each in names if each != group)
    found = one_way_anova(columns[value].astype(float), codes(columns[group]))
    reached = [digits(a, b) for a, b in zip((found.ss_between, found.ss_within, found.F), ANOVA[name], strict=True)]
    assert min(reached) >= least


# Dyestuff, Davies & Goldsmith (1972) 6.4; Dyestuff2, Box & Tiao (1973); Rail, Pinheiro & Bates (2000) 1.1. Variances
# between and within in closed form (balanced; own arithmetic), which agree with those printed by lme4 and nlme: 1764
# and 2451, 0 and 3.715684^2, 24.80547^2 and 4.020779^2; restricted criterion as printed, for Rail -2 x -61.0885 (read).
COMPONENTS = {
    "mm_dyestuff": ("Batch", "Yield", 1764.05, 2451.25, 319.6543),
    "mm_dyestuff2": ("Batch", "Yield", 0.0, 13.8063096275862, 161.8283),
    "mm_rail": ("Rail", "travel", 615.311111111111, 16.1666666666667, 122.177),
}


@pytest.mark.parametrize("name", COMPONENTS)
def test_variance_components_reach_the_closed_form(name):
    group, value, between, within, criterion = COMPONENTS[name]
    columns = table(name)
    found = one_way(columns[value].astype(float), codes(columns[group]))
    assert found.between == pytest.approx(between, rel=1e-9, abs=1e-12)
    assert found.within == pytest.approx(within, rel=1e-9)
    assert round(found.criterion, 3) == pytest.approx(round(criterion, 3), abs=0.0011)


def test_lots_of_dyestuff_are_shrunk_as_published():
    """Dyestuff: shrinkage 0.782526726700085 of each batch's departure, closed form for balanced data (own arithmetic).

    Standard error of the mean 19.38 as printed by lme4 (read); further digits by R's lmer, version not recorded.
    """
    columns = table("mm_dyestuff")
    found = one_way(columns["Yield"].astype(float), codes(columns["Batch"]))
    published = [
        -17.6068513507519,
        0.391263363350043,
        28.5622255245531,
        -23.0845384376525,
        56.7331876857562,
        -44.9952867862549,
    ]
    assert found.blup == pytest.approx(published, rel=1e-8)
    assert found.se[0] == pytest.approx(19.3834119436727, rel=1e-6)


def test_random_slopes_match_the_published_fit():
    """sleepstudy, Belenky et al. (2003): REML criterion 1743.628, fixed 251.405 and 10.467 (printed by lme4, read).

    Standard deviations by R's lmer(Reaction ~ Days + (Days | Subject)), version not recorded, whose optimiser stops at
    4 to 6 digits: 24.74045, 5.92213, 25.59182 (older printings give 24.741 for the first).
    """
    columns = table("mm_sleepstudy")
    found = random_lines(columns["Reaction"].astype(float), columns["Days"].astype(float), codes(columns["Subject"]))
    assert round(found.criterion, 3) == 1743.628
    assert np.round(found.beta, 3).tolist() == [251.405, 10.467]
    spreads = np.sqrt([found.cov[0, 0], found.cov[1, 1], found.within])
    assert spreads == pytest.approx([24.7404476166998, 5.92213325957914, 25.5918158926241], rel=1e-5)


def test_slope_ratio_has_the_published_fieller_limits():
    """Bliss (1952) / Jensen (1989), slope-ratio assay of pantothenic acid, U1 and U2; data read in R package mratios.

    Answers by its sci.ratio.gen and by Fieller's formula in R (computed, not printed), versions not recorded.
    """
    columns = table("bio_slope_ratio")
    prep = np.char.strip(columns["prep"], '"')
    dose, y = columns["dose"].astype(float), columns["y"].astype(float)
    preps = ["St", "U1", "U2", "U3"]
    design = np.column_stack([np.ones(len(y)), *(dose * (prep == each) for each in preps)])
    beta, rest, _, _ = np.linalg.lstsq(design, y, rcond=None)
    df = len(y) - design.shape[1]
    cov = rest[0] / df * np.linalg.inv(design.T @ design)
    for k, level, lower, upper in (
        (2, 0.95, 1.06473050335345, 1.18245073814033),
        (2, 1 - 0.05 / 3, 1.05141201520769, 1.19781910016426),
        (3, 0.95, 0.670842741958662, 0.769259540408173),
    ):
        found = fieller(
            beta[k], beta[1], var_top=cov[k, k], var_bottom=cov[1, 1], cov=cov[k, 1], critical=t_critical(df, level)
        )
        assert found.pieces[0] == pytest.approx((lower, upper), rel=1e-10)


def test_lots_of_sleepstudy_are_predicted_as_published():
    """Predicted levels and slopes of some subjects, errors of the fixed ones, to the digits the optimiser keeps.

    By R's lmer(Reaction ~ Days + (Days | Subject)) (computed, not printed), version not recorded.
    """
    columns = table("mm_sleepstudy")
    found = random_lines(columns["Reaction"].astype(float), columns["Days"].astype(float), codes(columns["Subject"]))
    levels = [2.25856550059349, -40.3985769249245, -38.9602458007404, 23.6904983890176, 22.2602026565636]
    slopes = [9.19897190422548, -8.61970318296016, -5.44887991716209, -4.81433128674784, -3.06989458100609]
    assert found.blup[:5, 0] == pytest.approx(levels, rel=2e-5)
    assert found.blup[:5, 1] == pytest.approx(slopes, rel=2e-5)
    assert found.blup[-1] == pytest.approx([12.3145393526726, 1.28402974532639], rel=2e-5)
    assert found.se == pytest.approx([6.82455577627583, 1.54578893242985], rel=1e-5)


def test_rails_are_shrunk_as_the_closed_form_says():
    """Rail, Pinheiro & Bates (2000) 1.1: mean 66.5, its error 10.17104 (printed by nlme, read).

    Predictions and further digits in closed form, own arithmetic: 3 x 615.3111 / (3 x 615.3111 + 16.1667).
    """
    columns = table("mm_rail")
    found = one_way(columns["travel"].astype(float), codes(columns["Rail"]))
    published = [-12.391475574172544, -34.53091193336079, 18.00894450113073]
    published += [29.243882355047155, -16.35674775790775, 16.026308409263127]
    assert found.blup == pytest.approx(published, rel=1e-9)
    assert (found.beta[0], found.se[0]) == pytest.approx((66.5, 10.171037311896953), rel=1e-9)
