"""Lots in seasons as random effects. Every catch here is invented."""

import numpy as np
import pytest

from predictor.lots.parallel import parallel_lines
from predictor.lots.season_levels import SeasonCells, cells_apart, fit_levels, season_columns, season_noise


def cells_of(z, lot, season):
    """Cells of catches that were all made at one setting."""
    key, of_catch = np.unique(lot * (season.max() + 1) + season, return_inverse=True)
    lines = parallel_lines(z, np.zeros(len(z)), of_catch, np.zeros(len(z), dtype=int))
    lots, seasons = np.divmod(key, season.max() + 1)
    nothing = np.zeros(len(key))
    return SeasonCells(
        lines.level, lines.count.astype(float), lots, seasons, lines.ss, lines.df, nothing, 0.0, lines.df
    )


def invented(seed, lots=8, seasons=3, counts=(1, 5), between=0.15, shift=0.06, catch=0.03):
    """Catches of lots, each in some of the seasons."""
    rng, rows = np.random.default_rng(seed), []
    for lot in range(lots):
        level = rng.normal(0, between)
        for season in range(seasons):
            if lot % 4 == 3 and season != lot % seasons:
                continue
            cell = level + rng.normal(0, shift)
            rows += [(cell + rng.normal(0, catch), lot, season) for _ in range(rng.integers(*counts))]
    z, lot, season = map(np.array, zip(*rows, strict=True))
    return z, lot, season


@pytest.mark.filterwarnings("ignore::statsmodels.tools.sm_exceptions.ConvergenceWarning")
@pytest.mark.parametrize("seed", range(4))
def test_variances_and_drift_are_those_of_a_mixed_model(seed):
    """Outside check: statsmodels' MixedLM with a variance component for lots in seasons.

    Its search stops at a gradient of about 1e-5, so that its variances have four to six digits.
    Its standard errors come from an observed Hessian with the variances in it; ours are held to whole matrices below.
    """
    import pandas as pd
    from statsmodels.regression.mixed_linear_model import MixedLM

    z, lot, season = invented(seed, lots=24)
    data = pd.DataFrame({"z": z, "lot": lot, "year": season.astype(float), "season": season.astype(str)})
    vc = {"season": "0 + C(season)"}
    fit = MixedLM.from_formula("z ~ year", data, groups="lot", re_formula="1", vc_formula=vc).fit(
        method="bfgs", gtol=1e-9
    )
    cells = cells_of(z, lot, season)
    found = fit_levels(cells, np.column_stack([np.ones(len(cells.mean)), cells.season]))
    theirs = [fit.scale, fit.vcomp[0], fit.cov_re.iloc[0, 0]]
    assert min(theirs) > 1e-5
    assert found.variances == pytest.approx(theirs, rel=2e-3)
    assert found.beta == pytest.approx(fit.fe_params.to_numpy(), abs=2e-5)


@pytest.mark.parametrize("fixed", [False, True])
def test_a_balanced_log_gives_the_degrees_of_freedom_of_its_analysis_of_variance(fixed):
    """Years against lots x years: (lots - 1)(years - 1) degrees of freedom and that mean square, exactly.

    Source: the two-way analysis of variance with random lots, as in Searle, Casella and McCulloch (1992), Variance
    Components, section 4.3 (from memory); Kenward and Roger (1997) give it where data are balanced.
    """
    lots, seasons, times = 6, 4, 3
    rng = np.random.default_rng(5)
    lot, season, _ = (each.ravel() for each in np.indices((lots, seasons, times)))
    effects = rng.normal(0, 0.1, (lots, seasons)) + rng.normal(0, 0.2, (lots, 1))
    z = effects[lot, season] + rng.normal(0, 0.05, len(lot))
    cells = cells_of(z, lot, season)
    table = cells.mean.reshape(lots, seasons)
    rest = table - table.mean(axis=1, keepdims=True) - table.mean(axis=0) + table.mean()
    free = (lots - 1) * (seasons - 1)
    columns = season_columns(cells)[0]
    x = columns if fixed else np.column_stack([np.ones(len(cells.mean)), columns])
    found = fit_levels(cells, x, lots_fixed=fixed)
    wanted = np.eye(x.shape[1])[-1]
    value, variance, df = found.contrast(wanted, cells)
    assert value == pytest.approx(table[:, -1].mean() - table[:, 0].mean(), abs=1e-12)
    assert variance == pytest.approx(2 * (rest**2).sum() / free / lots, rel=1e-6)
    assert df == pytest.approx(free, rel=1e-6)


def test_lots_of_one_season_each_give_the_degrees_of_freedom_of_lots():
    """Balanced and nested: a year is judged by the lots, with lots - 2 degrees of freedom (regression on lot means)."""
    rng = np.random.default_rng(2)
    lot = np.repeat(np.arange(7), 3)
    season = lot % 2
    z = rng.normal(0, 0.2, 7)[lot] + rng.normal(0, 0.05, len(lot))
    cells = cells_of(z, lot, season)
    found = fit_levels(cells, np.column_stack([np.ones(7), cells.season]))
    _, variance, df = found.contrast(np.array([0.0, 1.0]), cells)
    line = np.polyfit(cells.season, cells.mean, 1, cov=True)[1]
    assert found.variances[1] == 0
    assert df == pytest.approx(5, rel=1e-6)
    assert variance == pytest.approx(line[0, 0], rel=1e-6)


def test_unbalanced_sums_are_those_of_whole_matrices():
    """Covariance and degrees of freedom as the formulas of Kenward and Roger (1997) give them, matrix by matrix."""
    z, lot, season = invented(3)
    cells = cells_of(z, lot, season)
    x = np.column_stack([np.ones(len(cells.mean)), cells.season])
    found = fit_levels(cells, x)
    row = np.unique(lot * 3 + season, return_inverse=True)[1]
    parts = [np.eye(len(z)), row[:, None] == row, lot[:, None] == lot]
    parts = [each.astype(float) for each in parts]
    x = x[row]
    inverse = np.linalg.inv(sum(v * each for v, each in zip(found.variances, parts, strict=True)))
    plain = np.linalg.inv(x.T @ inverse @ x)
    project = inverse - inverse @ x @ plain @ x.T @ inverse
    scores = [np.trace(project @ v) - z @ project @ v @ project @ z for v in parts]
    info = np.array([[np.trace(project @ v @ project @ w) / 2 for w in parts] for v in parts])
    assert np.array(scores) / np.sqrt(np.diag(info)) == pytest.approx(np.zeros(3), abs=1e-5)
    unsure = np.linalg.inv(info)
    p = [-x.T @ inverse @ v @ inverse @ x for v in parts]
    q = [[x.T @ inverse @ v @ inverse @ w @ inverse @ x for w in parts] for v in parts]
    extra = sum(unsure[i, j] * (q[i][j] - p[i] @ plain @ p[j]) for i in range(3) for j in range(3))
    adjusted = plain + 2 * plain @ extra @ plain
    turn = np.array([(plain @ each @ plain)[1, 1] for each in p]) / plain[1, 1]
    value, variance, df = found.contrast(np.array([0.0, 1.0]), cells)
    assert value == pytest.approx((plain @ x.T @ inverse @ z)[1], abs=1e-10)
    assert variance == pytest.approx(adjusted[1, 1], rel=1e-8)
    assert df == pytest.approx(2 / (turn @ unsure @ turn), rel=1e-8)


def test_noise_of_seasons_is_unknown_where_lots_do_not_link_them():
    z, lot, _ = invented(1)
    assert season_noise(cells_of(z, lot, lot % 3)) is None


def test_noise_of_seasons_is_near_what_made_it():
    z, lot, season = invented(4, lots=300, seasons=4, shift=0.06, catch=0.03)
    found = season_noise(cells_of(z, lot, season))
    assert found.weight.sum() == pytest.approx(1)
    # the standard error of a variance from 600 degrees of freedom and more is 6 %; three are allowed
    assert found.weight @ found.ratio == pytest.approx(4.0, rel=0.25)
    z, lot, season = invented(4, lots=300, seasons=4, shift=0.0, catch=0.03)
    found = season_noise(cells_of(z, lot, season))
    assert found.weight @ found.ratio < 0.2


def test_the_cell_that_moved_is_found_and_no_other():
    z, lot, season = invented(6, lots=8, shift=0.0, catch=0.02, counts=(3, 4))
    z = np.where((lot == 4) & (season == 2), z - 0.2, z) - 0.1 * season
    found = cells_apart(cells_of(z, lot, season), 0.95)
    assert [(each.lot, each.season) for each in found] == [(4, 2)]
    assert abs(found[0].departure + 0.2) < found[0].half < 0.1
