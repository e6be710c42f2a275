"""Roots, mixtures, and the repeatability before and after catches."""

import numpy as np
import pytest
from hypothesis import given, strategies as st
from scipy.special import ndtr

from predictor.curves import fit_curve
from predictor.curves.catches import Inside
from predictor.curves.prior import Repeatability
from predictor.curves.roots import increasing_root, share_root, weighted_median
from tests.curves.made_up import catches


def test_a_root_that_is_never_close_enough_is_the_best_found():
    found = increasing_root(lambda x: x - 0.3, np.zeros(1), np.ones(1), tolerance=-1.0, closeness=-1.0)
    assert found == pytest.approx([0.3])


def told(of: str, cv: float, df: float, count: int = 1, **options):
    """A curve that was told how rows or parts differ inside its catches."""
    x, y = catches([30, 32] if count > 1 else [30], count)
    return fit_curve(x, y, lowest=0.0, span=60.0, **{of: Inside(df * cv**2, df)}, **options)


@pytest.mark.parametrize("of", ["rows", "parts"])
def test_rows_and_parts_tell_a_wild_box_from_a_tame_one(of):
    x, y = catches([30], 1)
    assert told(of, 0.02, 10.0).cv < fit_curve(x, y, lowest=0.0, span=60.0).cv
    assert told(of, 0.13, 10.0).cv > 0.10


def test_parts_cannot_tell_what_a_whole_catch_has_in_common():
    """However many parts agree, catches may differ by up to twice as much as the parts let expect (own share 1/4)."""
    at_rest = told("parts", 0.03, 1000.0)
    assert 1.05 * 0.03 < at_rest.cv < 2 * 0.03
    assert at_rest.shapes.average(at_rest.shapes.sd * np.sqrt(at_rest.shapes.own)) == pytest.approx(0.03, rel=0.03)
    assert sorted(set(at_rest.shapes.own.tolist())) == [0.25, 0.5, 1.0]


def test_a_coarse_scale_is_part_of_what_parts_differ_by():
    x, y = catches([30], 1)
    fine, coarse = (
        fit_curve(x, y, lowest=0.0, span=60.0, parts=Inside(12 * 0.05**2, 12.0, floor)) for floor in (0.0, 0.045**2)
    )
    assert coarse.cv < fine.cv


def test_reading_a_coarse_scale_adds_to_the_noise():
    x, y = [30, 30, 30, 40], [1.0, 1.0, 1.0, 1.34]
    fine = fit_curve(x, y, lowest=0.0, span=60.0)
    coarse = fit_curve(x, y, lowest=0.0, span=60.0, reading=np.full(4, 0.2))
    assert np.ptp(coarse.interval(30)) > 3 * np.ptp(fine.interval(30))


def test_what_lies_far_from_the_wanted_output_says_less_about_the_curve_near_it():
    # a gate: (setting - 2)^2.5, which no slight bend follows all the way
    x = np.array([50.0, 20.0, 22.0])
    y = (x - 2) ** 2.5
    near = fit_curve(x, y, span=60.0, near=float(y[2]))
    anywhere = fit_curve(x, y, span=60.0)
    off = [abs(np.log(curve.mean(21.0) / 19.0**2.5)) for curve in (near, anywhere)]
    assert off[0] < off[1]


def test_the_box_is_shut_where_nothing_came():
    curve = fit_curve([20, 50], [36.0, 70.0], span=60.0, closed=8.0)
    assert curve.quantile(8.0, 0.999) < 1e-6
    assert curve.params["dead_setting"] > 8
    assert curve.setting_for(14.0).lower > 8


def test_quantiles_undo_the_distribution_function():
    shares = np.array([0.01, 0.5, 0.9])
    location, scale, weight = (
        np.array([[0.0], [1.0], [1.5]]),
        np.array([[0.5], [1.0], [3.0]]),
        np.array([0.5, 0.3, 0.2]),
    )

    def below(x):
        z = (x - location) / scale
        return weight @ ndtr(z), weight @ (np.exp(-z * z / 2) / scale) / np.sqrt(2 * np.pi)

    found = share_root(below, shares, np.zeros(3), np.full(3, -9.0), np.full(3, 9.0), 1e-10)
    assert below(found)[0] == pytest.approx(shares, abs=1e-9)


@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(0.01, 1)), min_size=1, max_size=9))
def test_the_weighted_median_has_half_of_the_weight_on_either_side(parts):
    values, weight = np.array([[each[0]] for each in parts]), np.array([each[1] for each in parts])
    weight = weight / weight.sum()
    found = weighted_median(values, weight)[0]
    assert weight[values[:, 0] < found].sum() <= 0.5 + 1e-9
    assert weight[values[:, 0] > found].sum() <= 0.5 + 1e-9


def test_the_density_of_the_noise_is_a_scaled_inverse_chi():
    """Against scipy.stats.chi2: worth x cv^2 / variance is chi-squared with `worth` degrees of freedom."""
    from scipy.stats import chi2

    log_sd = np.linspace(-5, -1, 9)
    share = np.exp(2 * np.log(0.05) - 2 * log_sd) * 4
    expected = np.log(chi2.pdf(share, 4) * share)  # of its logarithm, which falls twice as fast as that of the noise
    assert Repeatability(((1.0, 0.05, 4.0),)).log_density(log_sd) == pytest.approx(expected)


def test_scatter_moves_the_repeatability_by_what_it_is_worth():
    """Scaled inverse chi-square with one kind: worth adds up, variances average by worth (Gelman et al. 2013, 2.6)."""
    seen = Repeatability(((1.0, 0.04, 6.0),)).after(square=12 * 0.08**2, df=12)
    ((share, cv, worth),) = seen.kinds
    assert (share, worth) == (1.0, 18.0)
    assert cv**2 == pytest.approx((6 * 0.04**2 + 12 * 0.08**2) / 18)
    assert seen.cv == pytest.approx(cv)
