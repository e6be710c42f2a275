"""The working curve: a line with a dead setting and a bend, averaged over both."""

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from scipy.special import stdtrit

from predictor.curves import fit_curve
from predictor.curves.prior import Prior
from predictor.curves.weighing import NEGLIGIBLE
from tests.curves.made_up import CURVES, catches, settings_lists

# ten ranges either way is flat for any slot
FLAT = Prior(dead_spread=5.0, bend_spread=0.0, tails=1e6, repeatability=((1.0, 0.03, 1e-6),))


def test_flat_prior_and_many_catches_agree_with_the_classical_line():
    x, y = catches(np.linspace(20, 60, 400), 3)
    classical = fit_curve(x, y, prior=None)
    working = fit_curve(x, y, family="line", prior=FLAT, lowest=0.0, span=60.0)
    at = np.array([20.0, 40.0, 60.0])
    assert working.mean(at) == pytest.approx(classical.mean(at), rel=0.01)
    assert np.ravel(working.interval(at)) == pytest.approx(np.ravel(classical.interval(at)), rel=0.01)
    assert np.ravel(working.interval(at, of="next")) == pytest.approx(
        np.ravel(classical.interval(at, of="next")), rel=0.015
    )
    ours, theirs = working.setting_for(1.9), classical.setting_for(1.9)
    assert (ours.estimate, ours.lower, ours.upper) == pytest.approx(
        (theirs.estimate, theirs.lower, theirs.upper), rel=0.01
    )
    assert working.cv == pytest.approx(classical.cv, rel=0.02)


def test_default_prior_and_many_catches_agree_with_the_classical_line():
    x, y = catches(np.linspace(20, 60, 2000), 4)
    classical, working = fit_curve(x, y, prior=None), fit_curve(x, y, family="line", lowest=0.0, span=60.0)
    at = np.array([25.0, 40.0, 55.0])
    assert working.mean(at) == pytest.approx(classical.mean(at), rel=0.01)
    assert np.ravel(working.interval(at)) == pytest.approx(np.ravel(classical.interval(at)), rel=0.01)


def test_one_catch_is_drawn_through_the_dead_setting():
    curve = fit_curve([30.0], [1.5], lowest=0.0, span=60.0)
    assert float(curve.mean(30.0)) == pytest.approx(1.5, rel=0.01)
    assert float(curve.mean(15.0)) == pytest.approx(0.75, rel=0.06)
    near, far = curve.interval(31.0), curve.interval(55.0)
    assert np.log(far[1] / far[0]) > np.log(near[1] / near[0])


@pytest.mark.slow
@given(xs=settings_lists, seed=st.integers(0, 1000))
@settings(max_examples=60, deadline=None)
def test_mean_grows_with_the_setting_and_lies_inside_its_limits(xs, seed):
    x, y = catches(xs, seed)
    curve = fit_curve(x, y, family="line", lowest=0.0, span=60.0)
    at = np.linspace(5, 60, 23)
    mean = curve.mean(at)
    lower, upper = curve.interval(at)
    assert np.all(np.diff(mean) >= 0)
    assert np.all(lower <= mean * (1 + 1e-9))
    assert np.all(mean <= upper * (1 + 1e-9))
    lower, upper = curve.interval(x)
    wider = curve.interval(x, of="next")
    # compared as ratios, since the mean of a log-normal lies a little above its median
    assert np.all(wider[1] * lower >= wider[0] * upper * (1 - 1e-6))


@given(xs=settings_lists, seed=st.integers(0, 1000), output=st.floats(0.3, 2.5))
@settings(max_examples=60, deadline=None)
def test_setting_is_the_inverse_of_the_mean(xs, seed, output):
    x, y = catches(xs, seed)
    curve = fit_curve(x, y, family="line", lowest=0.0, span=60.0)
    found = curve.setting_for(output)
    assert found.lower <= found.estimate <= found.upper
    assert float(curve.mean(found.estimate)) == pytest.approx(output, rel=1e-5)
    # the ends put back into the band they invert
    assert float(curve.quantile(found.upper, 0.025)) == pytest.approx(output, rel=1e-4)


@given(xs=settings_lists, seed=st.integers(0, 1000), factor=st.floats(1e-3, 1e3))
@settings(max_examples=40, deadline=None)
def test_units_of_weight_do_not_matter(xs, seed, factor):
    x, y = catches(xs, seed)
    one = fit_curve(x, y, family="line", lowest=0.0, span=60.0)
    other = fit_curve(x, factor * y, family="line", lowest=0.0, span=60.0)
    # which of the lightest shapes are dropped, 2e-5 of the evidence together, hangs on the last digit
    assert other.probability(33.0, 1.4 * factor, 1.7 * factor) == pytest.approx(
        one.probability(33.0, 1.4, 1.7), abs=NEGLIGIBLE
    )


@given(xs=settings_lists, seed=st.integers(0, 1000))
@settings(max_examples=40, deadline=None)
def test_order_of_catches_does_not_matter(xs, seed):
    x, y = catches(xs, seed)
    order = np.random.default_rng(seed).permutation(len(x))
    one = fit_curve(x, y, lowest=0.0, span=60.0)
    other = fit_curve(x[order], y[order], lowest=0.0, span=60.0)
    assert float(other.mean(33.0)) == pytest.approx(float(one.mean(33.0)), rel=1e-7)


def test_probability_is_what_sampling_says():
    """Against 200,000 draws from the same mixture of normal distributions; Monte Carlo error 0.0011."""
    x, y = catches([30, 38, 38], 5)
    curve = fit_curve(x, y, family="line", lowest=0.0, span=60.0)
    shapes, rng = curve.shapes, np.random.default_rng(0)
    pick = rng.choice(len(shapes.weight), 200_000, p=shapes.weight)
    level = shapes.level[pick] + shapes.level_scale[pick] * rng.standard_normal(len(pick))
    rise = np.log((34.0 - shapes.dead[pick]) / (shapes.reference - shapes.dead[pick]))
    mean = np.exp(level + shapes.bend[pick] * rise)
    share = float(np.mean((mean >= 1.45) & (mean <= 1.75)))
    assert float(curve.probability(34.0, 1.45, 1.75)) == pytest.approx(share, abs=0.004)


def test_a_known_shape_gives_the_limits_of_student():
    """Normal mean with a scaled inverse chi-squared prior of its variance: Student's t with worth + n - 1 degrees of
    freedom (Gelman et al. 2013, section 3.3, from memory). Here the noise is summed over a grid instead."""
    known = Prior(dead=0.0, dead_spread=1e-6, bend_spread=0.0, repeatability=((1.0, 0.005, 4.0),))
    logs = np.array([0.002, -0.003, 0.005, 0.001, -0.006])
    curve = fit_curve(np.full(5, 30.0), np.exp(logs), prior=known, span=60.0)
    square, df = float(np.sum((logs - logs.mean()) ** 2)), 4 + 4
    scale = np.sqrt((4 * 0.005**2 + square) / df / 5)
    expected = logs.mean() + stdtrit(df, [0.025, 0.05, 0.5, 0.95, 0.975]) * scale
    # half a variance lies between the median of a catch and its mean: 0.00001 here
    found = np.log(curve.quantile(30.0, [0.025, 0.05, 0.5, 0.95, 0.975]))
    assert found == pytest.approx(expected, abs=5e-5)
    assert np.diff(found) == pytest.approx(np.diff(expected), rel=0.01)
    assert curve.df == pytest.approx(df, rel=0.05)


def test_chance_that_no_setting_is_right_adds_up_with_the_others():
    curve = fit_curve([30.0, 31.0], [1.4, 1.45], lowest=0.0, span=60.0)
    x = np.array([20.0, 30.0, 45.0])
    # bands that do not overlap: exactly one of "this setting", "that one", "none" is true
    each = curve.probability(x, 1.35, 1.55)
    assert each.sum() + curve.probability_none(x, 1.35, 1.55) == pytest.approx(1.0, abs=0.002)


def test_filling_effect_is_found_and_the_curve_given_for_a_half_full_box():
    rng = np.random.default_rng(2)
    fill = np.tile([0.5, 0.0, -0.4], 8)
    x = np.repeat([30.0, 35.0, 40.0, 45.0], 6)
    y = 0.05 * x * np.exp(0.15 * fill + 0.02 * rng.standard_normal(24))
    curve = fit_curve(x, y, lowest=0.0, span=60.0, fill=fill)
    effect, spread = curve.fill_effect
    assert effect == pytest.approx(0.15, abs=3 * spread)
    assert float(curve.mean(40.0)) == pytest.approx(2.0, rel=0.02)


def test_constant_noise_with_the_default_prior_finds_the_line():
    rng = np.random.default_rng(3)
    x = np.repeat([20.0, 40.0, 60.0], 20)
    y = 0.05 * (x - 4) + 0.03 * rng.standard_normal(60)
    curve = fit_curve(x, y, noise="constant", lowest=0.0, span=60.0)
    assert float(curve.mean(50.0)) == pytest.approx(2.3, rel=0.02)
    assert curve.sd == pytest.approx(0.03, rel=0.35)
    found = curve.setting_for(1.3)
    assert found.lower < 30.0 < found.upper
    with pytest.raises(AttributeError, match="constant noise"):
        _ = curve.cv


@pytest.mark.parametrize(
    ("x", "y"),
    [
        ([1e-6, 2e-6, 3e-6], [1e-9, 2e-9, 3.1e-9]),
        ([1e9, 2e9, 3e9], [1e5, 2e5, 3.1e5]),
        ([30.0] * 50, [1.0] * 50),
        ([30.0, 30.0 + 1e-9, 40.0], [1.0, 1.0, 1.4]),
        ([10.0, 20.0, 30.0, 40.0], [0.5, 1.0, 1.5, 2.0]),
    ],
)
def test_extreme_catches_give_finite_and_growing_answers(x, y):
    curve = fit_curve(x, y)
    at = np.linspace(min(x), max(x), 7)
    lower, upper = curve.interval(at)
    assert np.all(np.isfinite(np.r_[curve.mean(at), lower, upper]))
    assert np.all(np.diff(curve.mean(at)) >= 0)


def test_a_curve_with_constant_noise_answers_too():
    curve = fit_curve([10, 20, 30, 40], [1.0, 2.1, 2.9, 4.1], noise="constant", span=60.0)
    assert 0 <= curve.probability_none(np.array([1.0, 2.0]), 3.9, 4.1) <= 1
    assert curve.probability_none(np.array([1.0, 2.0]), 3.9, 4.1) > 0.9
    with pytest.raises(ValueError, match="above 0"):
        curve.setting_for(0.0)


def test_a_repeatability_finer_than_any_grid_still_gives_the_line():
    sure = Prior(repeatability=((1.0, 1e-8, 1e6),))
    curve = fit_curve([10, 20, 30, 40], [0.8, 1.8, 2.8, 3.8], prior=sure, span=60.0)
    assert curve.mean([15.0, 35.0]) == pytest.approx([1.3, 3.3], rel=1e-5)
    assert curve.params["dead_setting"] == pytest.approx(2.0, rel=1e-4)


def test_before_any_catch_the_curve_is_what_earlier_lots_showed():
    learned = Prior(dead=0.05, dead_spread=0.02, level=np.log(1.5), level_spread=0.2, level_at=0.5, name="history")
    curve = fit_curve([], [], prior=learned, lowest=0.0, span=60.0)
    assert curve.n == 0
    assert (curve.low, curve.high) == (0.0, 60.0)
    assert curve.mean(30.0) == pytest.approx(1.5, rel=0.03)
    lower, upper = curve.interval(30.0, 0.68)
    assert np.log(upper / lower) / 2 == pytest.approx(0.2, rel=0.2)


def test_settings_outside_the_stretch_are_as_unlikely_as_it_says():
    curve = CURVES["line"]
    low, high = curve.settings_within(1.4, 1.6, 0.005)
    assert curve.quantile(low, 0.995) == pytest.approx(1.4, rel=1e-4)
    assert curve.quantile(high, 0.005) == pytest.approx(1.6, rel=1e-4)
    assert np.all(curve.probability([low - 1, high + 1], 1.4, 1.6) < 0.005)
