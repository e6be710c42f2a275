"""Lots as random effects: what the fit must satisfy. Every log here is invented."""

import math

import numpy as np
import pytest
from scipy import stats

from predictor.lots import limits
from predictor.lots.compare import compare_lots
from predictor.lots.limits import many_to_one_critical, t_critical
from predictor.lots.random_levels import one_way, one_way_anova, one_way_of_estimates
from predictor.lots.random_lines import random_lines
from tests.lots.lot_logs import BOX, log, made_up


def unbalanced(seed=2):
    rng = np.random.default_rng(seed)
    count = np.array([1, 2, 5, 3, 7, 2, 4, 6])
    group = np.repeat(np.arange(8), count)
    x = rng.normal(0, 1, len(group))
    return 1.0 + 0.3 * x + rng.normal(0, 0.8, 8)[group] + rng.normal(0, 0.5, len(group)), group, x


def test_the_restricted_likelihood_is_flat_at_the_answer():
    y, group, x = unbalanced()
    found = one_way(y, group, x)

    def criterion(ratio):
        design = np.column_stack([np.ones_like(x), x])
        v = np.eye(len(y)) + ratio * (group[:, None] == group[None, :])
        inverse = np.linalg.inv(v)
        info = design.T @ inverse @ design
        rest = y - design @ np.linalg.solve(info, design.T @ inverse @ y)
        size = float(rest @ inverse @ rest) / (len(y) - 2)
        return (len(y) - 2) * (1 + math.log(2 * math.pi * size)) + np.linalg.slogdet(v)[1] + np.linalg.slogdet(info)[1]

    best = found.between / found.within
    assert found.criterion == pytest.approx(criterion(best), rel=1e-12)
    assert min(criterion(best * 0.99), criterion(best * 1.01)) > criterion(best)
    slope = (criterion(best * (1 + 1e-4)) - criterion(best * (1 - 1e-4))) / 2e-4
    assert abs(slope) < 1e-5


def test_sums_of_squares_keep_every_digit_that_doubles_hold():
    from fractions import Fraction

    values, group = 1e12 + np.array([0.4, 0.3, 0.5, 0.6, 0.2, 0.7]), np.array([0, 0, 0, 1, 1, 1])
    exact = [Fraction(value) for value in values.tolist()]
    means = [sum(exact[:3]) / 3, sum(exact[3:]) / 3]
    within = float(sum((y - means[k]) ** 2 for y, k in zip(exact, group.tolist(), strict=True)))
    assert one_way_anova(values, group).ss_within == pytest.approx(within, rel=1e-13)


@pytest.mark.parametrize("most", [24, 40])
def test_many_lots_hold_together_as_few_do(most):
    """The joint value grows by the same small steps at any number of lots, and stays below Bonferroni's."""
    values = [
        many_to_one_critical(0.1 + 0.01 * np.arange(k), np.ones((k, 1)) * 0.3, df=40).value
        for k in range(most - 2, most + 4)
    ]
    steps = np.diff(values)
    assert (steps > 0).all()
    assert steps.max() < 1.5 * steps.min()
    assert values[-1] < t_critical(40, 1 - 0.05 / (most + 3))


@pytest.mark.parametrize("df", [1000, 100_000])
def test_few_nodes_of_the_scale_leave_six_digits_with_many_degrees_of_freedom(df, monkeypatch):
    """In place of 9 nodes, 61 of the same rule change no more than a millionth."""
    rng = np.random.default_rng(3)
    for k in (2, 30, 5000):
        own, shared = rng.uniform(0.02, 0.5, k), np.column_stack([np.full(k, 0.2), rng.normal(0, 0.05, k)])
        found = many_to_one_critical(own, shared, df=df, level=0.99).value
        with monkeypatch.context() as patched:
            patched.setattr(limits, "_chi_nodes", many_nodes)
            assert found == pytest.approx(many_to_one_critical(own, shared, df=df, level=0.99).value, rel=1e-6)


def many_nodes(df):
    score = np.linspace(-5, 5, 61)
    weight = np.exp(-(score**2) / 2)
    return np.sqrt(stats.chi2.ppf(stats.norm.cdf(score), df) / df), weight / weight.sum()


@pytest.mark.parametrize("df", [8, 60])
def test_lots_taken_in_groups_hold_together(df):
    """200,000 draws give the joint probability of 90 unequal comparisons, which is 95 %; error 0.0005.

    The simulation is our own, with numpy. The variances are invented.
    """
    rng = np.random.default_rng(3)
    count = rng.integers(1, 13, 90)
    own, shared = 1 / count, np.column_stack([np.full(90, 0.35), rng.normal(0, 0.2, 90)])
    found = many_to_one_critical(own, shared, df=df)
    inside = 0.0
    for _ in range(20):
        noise = rng.standard_normal((10_000, 90)) * np.sqrt(own) + rng.standard_normal((10_000, 2)) @ shared.T
        scale = np.sqrt((own + (shared**2).sum(axis=1)) * (rng.chisquare(df, 10_000) / df)[:, None])
        inside += float((np.abs(noise / scale).max(axis=1) < found.value).mean()) / 20
    assert found.adjustment == "Dunnett"
    assert inside == pytest.approx(0.95, abs=0.002)


def test_where_the_joint_integral_errs_bonferronis_value_is_taken():
    """Two comparisons that share nothing, at a high level: the true value lies a hair below Bonferroni's."""
    found = many_to_one_critical([1e-3, 1e-3], [[1.0, 0.0], [0.0, 1.0]], df=25, level=0.99)
    assert (found.adjustment, found.value) == ("Bonferroni", t_critical(25, 1 - 0.01 / 2))


def test_lots_without_any_scatter_have_no_random_lines():
    with pytest.raises(ValueError, match="cannot separate"):
        random_lines(np.zeros(12), np.tile(np.arange(4.0), 3), np.repeat(np.arange(3), 4))


def test_lots_that_do_not_differ_have_a_spread_of_exactly_nought():
    rows = [("ABC"[k], 30, grams) for k in range(3) for grams in (27.0, 28.0, 26.0)]
    found = compare_lots(log(rows), BOX)
    assert found.spread.cv == 0


def test_a_lot_known_by_few_catches_is_drawn_towards_the_average():
    rows = made_up([0.0, 0.0, 0.3, 0.3, -0.2], [9, 9, 1, 9, 9], cv=0.08)
    found = compare_lots(log(rows), BOX, reference="L0")
    average = found.spread.average_to_reference
    for row in found.lots:
        alone, drawn = math.log(row.ratio / average), math.log(row.against_average)
        assert abs(drawn) <= abs(alone) + 1e-9
    pulled = {row.lot: 1 - math.log(row.against_average) / math.log(row.ratio / average) for row in found.lots}
    assert pulled["L2"] > 3 * pulled["L3"]


@pytest.mark.slow
def test_an_unseen_lot_falls_within_its_limits_as_often_as_they_say():
    """400 made-up sets of six lots, some caught once, that differ about as much as catches do; 3.5 standard errors."""
    held = []
    for seed in range(400):
        rng = np.random.default_rng([5, seed])
        group = np.repeat(np.arange(6), [1, 2, 2, 3, 3, 4])
        lots = rng.normal(0, 0.05, 7)
        fit = one_way(lots[group] + rng.normal(0, 0.05, len(group)), group)
        low, high = fit.next_limits
        held.append(low <= lots[6] - fit.beta[0] <= high)
    assert abs(np.mean(held) - 0.95) < 3.5 * math.sqrt(0.95 * 0.05 / 400)


def test_lots_known_by_estimates_fit_as_lots_known_by_their_catches():
    """Without covariates a lot's mean, with its variance, holds all that its catches say."""
    y, group, _ = unbalanced()
    by_catch = one_way(y, group)
    count = np.bincount(group)
    means = np.bincount(group, weights=y) / count
    rest = y - means[group]
    df = len(y) - len(count)
    within = float(rest @ rest) / df
    by_mean = one_way_of_estimates(means, within / count, within=within, df_within=df)
    assert by_mean.between == pytest.approx(by_catch.between, rel=1e-9)
    assert by_mean.within == pytest.approx(by_catch.within, rel=1e-9)
    assert by_mean.next_limits == pytest.approx(by_catch.next_limits, rel=1e-9)
    assert by_mean.ratio_limits == pytest.approx(by_catch.ratio_limits, rel=1e-9)
    assert by_mean.student == pytest.approx(by_catch.student, rel=1e-9)


@pytest.mark.slow
def test_an_unseen_lot_of_another_shape_falls_within_its_limits_as_often_as_they_say():
    """120 made-up logs of five lots on curves of their own, at the named setting; 3.5 standard errors."""
    held = []
    for seed in range(120):
        rng = np.random.default_rng([6, seed])
        levels, dead = rng.normal(0, 0.1, 6), rng.normal(3, 3, 6)
        found = compare_lots(log(made_up(levels[:5], [6] * 5, dead=dead[:5], cv=0.02, seed=seed)), BOX, reference="L0")
        if found.shape.same or found.spread.next_lower is None:
            continue
        x = found.reference.setting.value
        ratio = math.exp(levels[5] - levels[0]) * (x - dead[5]) / (x - dead[0])
        average = found.spread.average_to_reference
        held.append(found.spread.next_lower * average <= ratio <= found.spread.next_upper * average)
    assert len(held) > 80
    assert abs(np.mean(held) - 0.95) < 3.5 * math.sqrt(0.95 * 0.05 / len(held))


def test_unbalanced_random_lines_stand_where_the_dense_likelihood_is_least():
    """The restricted likelihood written with whole matrices (Laird and Ware 1982), and the predictions by them."""
    rng = np.random.default_rng(16)  # level and slope not wholly tied: the least value lies inside, not on an edge
    count = np.array([3, 5, 2, 6, 4, 7])
    group = np.repeat(np.arange(6), count)
    x = rng.uniform(0, 10, len(group)) + 2 * group
    y = 5 + 0.5 * x + (rng.normal(0, 1, 6))[group] + rng.normal(0, 0.3, 6)[group] * x + rng.normal(0, 0.5, len(group))
    found = random_lines(y, x, group)
    design = np.column_stack([np.ones_like(x), x])
    lots = np.concatenate([(group[:, None] == np.arange(6)) * column[:, None] for column in design.T], axis=1)

    def criterion(cov, within):
        v = lots @ np.kron(cov, np.eye(6)) @ lots.T + within * np.eye(len(y))
        inverse = np.linalg.inv(v)
        info = design.T @ inverse @ design
        beta = np.linalg.solve(info, design.T @ inverse @ y)
        rest = y - design @ beta
        logs = np.linalg.slogdet(v)[1] + np.linalg.slogdet(info)[1]
        value = rest @ inverse @ rest + logs + (len(y) - 2) * math.log(2 * math.pi)
        return value, beta, (np.kron(cov, np.eye(6)) @ lots.T @ inverse @ rest).reshape(2, 6).T

    least, beta, blup = criterion(found.cov, found.within)
    assert found.criterion == pytest.approx(least, rel=1e-10)
    assert found.beta == pytest.approx(beta, rel=1e-8)
    assert found.blup == pytest.approx(blup, rel=1e-7, abs=1e-9)
    for move in ((1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1)):
        up, down = (
            criterion(
                found.cov * (1 + step * np.array([[move[0], move[1]], [move[1], move[2]]])),
                found.within * (1 + step * move[3]),
            )[0]
            for step in (1e-3, -1e-3)
        )
        assert min(up, down) > least
        assert abs(up - down) < 1e-5
