"""The monotone spline."""

import numpy as np
import pytest
from hypothesis import example, given, settings, strategies as st

from predictor.curves import fit_curve
from predictor.curves.catches import Catches, Inside
from predictor.curves.spline import fit_spline


@given(seed=st.integers(0, 5000), n=st.integers(5, 25), wild=st.floats(0, 3))
@settings(max_examples=80, deadline=None)
def test_spline_never_falls_whatever_the_data(seed, n, wild):
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 100, n))
    if len(np.unique(x)) < 5:
        return
    y = np.exp(wild * rng.standard_normal(n))
    curve = fit_spline(Catches(x, y, np.ones(n), "constant"))
    at = np.linspace(-20, 120, 141)
    assert np.all(np.diff(curve.mean(at)) >= -1e-9 * np.max(y))


def test_spline_of_a_line_is_the_line():
    x = np.array([10.0, 20, 30, 40, 50, 60])
    for noise in ("constant", "proportional"):
        curve = fit_curve(x, 0.1 * x - 0.5, family="spline", noise=noise, prior=None)
        at = np.array([5.0, 25.0, 33.0, 70.0])
        assert curve.mean(at) == pytest.approx(0.1 * at - 0.5, abs=1e-9)


def test_spline_interval_widens_where_there_are_no_catches():
    rng = np.random.default_rng(7)
    x = np.r_[rng.uniform(5, 30, 15), rng.uniform(70, 95, 15)]
    y = 3 / (1 + np.exp(-(x - 50) / 12)) + 0.3
    y = y * np.exp(0.04 * rng.standard_normal(30))
    curve = fit_curve(x, y, family="spline", noise="constant")
    at = np.array([17.0, 50.0, 82.0, 130.0])
    lower, upper = curve.interval(at)
    width = upper - lower
    assert width[1] > 1.5 * max(width[0], width[2])
    assert width[3] > width[2]


def test_spline_setting_lies_where_the_curve_reaches_the_output():
    x = np.repeat(np.linspace(10, 90, 9), 2)
    curve = fit_curve(x, 0.3 + 3 / (1 + np.exp(-(x - 50) / 10)), family="spline")
    found = curve.setting_for(1.8)
    assert found.shape == "finite"
    assert found.lower < 50 < found.upper
    assert float(curve.probability(found.estimate, 1.6, 2.0)) > 0.5


@example(factor=331.0, seed=0)  # on which the non-negative least squares of some libraries fail
@given(factor=st.floats(1e-3, 1e3), seed=st.integers(0, 50))
@settings(max_examples=15, deadline=None)
def test_units_of_weight_do_not_matter_to_a_spline(factor, seed):
    rng = np.random.default_rng(seed)
    x = np.repeat(np.linspace(10, 90, 9), 3)
    y = (0.3 + 3 / (1 + np.exp(-(x - 50) / 10))) * np.exp(0.05 * rng.standard_normal(27))
    one, other = (fit_curve(x, scale * y, family="spline") for scale in (1.0, factor))
    assert other.cv == pytest.approx(one.cv, rel=1e-4)
    assert other.interval(40.0, of="next")[1] == pytest.approx(factor * one.interval(40.0, of="next")[1], rel=1e-4)
    assert 0.02 < one.cv < 0.10


def test_a_spline_is_never_less_noisy_than_the_scale_and_hears_the_rows():
    x = np.repeat(np.arange(5.0, 45.0, 5.0), 2)
    y = x * (1 + 0.01 * np.sin(7 * np.arange(len(x))))
    plain = fit_curve(x, y, family="spline", span=60.0)
    floored = fit_curve(x, y, family="spline", span=60.0, reading=np.full(len(x), 0.3))
    assert plain.cv < 0.3
    assert floored.cv == pytest.approx(0.3)
    assert np.ptp(floored.interval(20.0)) > np.ptp(plain.interval(20.0))
    wild = fit_curve(x, y, family="spline", span=60.0, rows=Inside(30 * 0.2**2, 30.0))
    assert wild.cv > plain.cv


@pytest.mark.parametrize("output", [-10.0, 50.0])
def test_an_output_that_the_spline_does_not_reach_within_a_range_has_no_estimate(output):
    x = np.repeat(np.linspace(10, 90, 9), 2)
    found = fit_curve(x, 0.3 + 3 / (1 + np.exp(-(x - 50) / 10)), family="spline").setting_for(output)
    assert np.isnan(found.estimate)
