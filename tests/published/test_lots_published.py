"""Variance components, one-way analysis and ratios for comparing lots agree with published values.

Printed answers of lme4 and nlme were read in stored copies of what they printed. Where R computed an answer, the
versions of R and of its packages were not recorded.
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


# NIST StRD, one-way analysis of variance (read in stored copies): the certified sums of squares between and within, and
# F, of SiRstv, AtmWtAg, SmLs01 and SmLs07.
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
    """The digits reached are those that the values keep when they are written as doubles.

    The first seven digits of AtmWtAg and the first twelve of SmLs07 are constant. Exact fractions of the rounded values
    agree with the certified ones to 10.2 and 4.0 digits (own arithmetic).
    """
    columns = table(name)
    names = columns.dtype.names
    group = next(each for each in names if len(np.unique(columns[each])) < len(columns) / 4)
    value = next(each for each in names if each != group)
    found = one_way_anova(columns[value].astype(float), codes(columns[group]))
    reached = [digits(a, b) for a, b in zip((found.ss_between, found.ss_within, found.F), ANOVA[name], strict=True)]
    assert min(reached) >= least


# Dyestuff, Davies & Goldsmith (1972) 6.4; Dyestuff2, Box & Tiao (1973); Rail, Pinheiro & Bates (2000) 1.1. The
# variances between and within are in closed form, since the data are balanced (own arithmetic). They agree with those
# that lme4 and nlme print: 1764 and 2451, 0 and 3.715684^2, 24.80547^2 and 4.020779^2. The restricted criterion is the
# printed one, for Rail -2 x -61.0885 (read).
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
    """Dyestuff: each batch's departure shrinks to 0.782526726700085 of itself (closed form, own arithmetic).

    lme4 prints the standard error of the mean as 19.38 (read). R's lmer gave further digits (version not recorded).
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
    """sleepstudy, Belenky et al. (2003): lme4 prints criterion 1743.628 and fixed effects 251.405 and 10.467 (read).

    The criterion is REML's. R's lmer(Reaction ~ Days + (Days | Subject)) gave the standard deviations 24.74045, 5.92213
    and 25.59182 (version not recorded). Its optimiser stops at 4 to 6 digits. Older printings give 24.741 for the
    first.
    """
    columns = table("mm_sleepstudy")
    found = random_lines(columns["Reaction"].astype(float), columns["Days"].astype(float), codes(columns["Subject"]))
    assert round(found.criterion, 3) == 1743.628
    assert np.round(found.beta, 3).tolist() == [251.405, 10.467]
    spreads = np.sqrt([found.cov[0, 0], found.cov[1, 1], found.within])
    assert spreads == pytest.approx([24.7404476166998, 5.92213325957914, 25.5918158926241], rel=1e-5)


def test_slope_ratio_has_the_published_fieller_limits():
    """Bliss (1952) / Jensen (1989), slope-ratio assay of pantothenic acid, U1 and U2.

    The data were read in the R package mratios. Its sci.ratio.gen and Fieller's formula in R computed the answers
    (versions not recorded, not printed).
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
    """Predicted levels and slopes of some subjects, and errors of the fixed effects, to the digits the optimiser keeps.

    R's lmer(Reaction ~ Days + (Days | Subject)) computed them (version not recorded, not printed).
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
    """Rail, Pinheiro & Bates (2000) 1.1: nlme prints the mean 66.5 and its error 10.17104 (read).

    Predictions and further digits are own arithmetic in closed form: 3 x 615.3111 / (3 x 615.3111 + 16.1667).
    """
    columns = table("mm_rail")
    found = one_way(columns["travel"].astype(float), codes(columns["Rail"]))
    published = [-12.391475574172544, -34.53091193336079, 18.00894450113073]
    published += [29.243882355047155, -16.35674775790775, 16.026308409263127]
    assert found.blup == pytest.approx(published, rel=1e-9)
    assert (found.beta[0], found.se[0]) == pytest.approx((66.5, 10.171037311896953), rel=1e-9)
