"""Curves without a prior agree with published numbers. Each test names its source. The data are in `data/`.

"Read" means that the printed value was read, in the document itself or in a stored copy: NIST StRD in copies of the
data files, ISO/TS 28037 in the documentation and tests of GTC and QWTB, JCGM 100 in the tests of GTC, Graybill & Iyer
and Massart et al. as stored texts quote them. Where R computed an answer, the versions of R and of its packages were
not recorded.
"""

from pathlib import Path

import numpy as np
import pytest

from predictor.curves import fit_curve
from predictor.curves.spline import b_spline, monotone_least_squares

DATA = Path(__file__).parent / "data"


def columns(name, *wanted):
    table = np.genfromtxt(DATA / f"{name}.csv", delimiter=",", names=True, deletechars='"')
    return [np.asarray(table[each], dtype=float) for each in wanted]


def digits(value, certified):
    """Log relative error, McCullough (1998), Amer. Statist. 52, 358-366 (pages from memory)."""
    return 16.0 if value == certified else -np.log10(abs(value - certified) / abs(certified))


def constant(name, x="x", y="y"):
    settings, outputs = columns(name, x, y)
    return fit_curve(settings, outputs, prior=None, noise="constant")


def test_norris_is_right_to_eleven_digits():
    """NIST StRD, linear regression, Norris (read). The values are certified to 15 digits."""
    curve = constant("strd_norris")
    found = [curve.params["intercept"], curve.params["slope"], *curve.std_errors.values(), curve.sd]
    certified = [
        -0.262323073774029,
        1.00211681802045,
        0.232818234301152,
        0.429796848199937e-03,
        0.884796396144373,
    ]
    assert min(map(digits, found, certified)) >= 11


def test_line_through_zero_matches_noint1():
    """NIST StRD, NoInt1 (read): the slope, its standard error and the residual standard deviation."""
    x, y = columns("strd_noint1", "x", "y")
    curve = fit_curve(x, y, prior=None, noise="constant", dead_setting=0.0)
    assert digits(curve.params["slope"], 2.07438016528926) >= 13
    assert digits(curve.std_errors["slope"], 0.165289256198347e-01) >= 13
    assert digits(curve.sd, 3.56753034006338) >= 13


def test_setting_on_a_line_through_zero_has_fieller_limits():
    """The Fieller set for y0 / b on the NoInt1 data. R computed the formula (version not recorded). None is printed."""
    x, y = columns("strd_noint1", "x", "y")
    curve = fit_curve(x, y, prior=None, noise="constant", dead_setting=0.0)
    mean = curve.setting_for(135.0)
    assert (mean.estimate, mean.lower, mean.upper) == pytest.approx(
        (65.0796812749004, 63.9444062475899, 66.2559964937434), rel=1e-12
    )
    single = curve.setting_for(135.0, of="next")
    assert (single.lower, single.upper) == pytest.approx((61.0971461727682, 69.1032565685651), rel=1e-12)


def test_iso_28037_straight_line_with_known_uncertainties():
    """ISO/TS 28037:2010, 6.3 example 1, p. 13 (read): a 1.867, b 1.757, chi-squared 1.665.

    The u are given, so they are not scaled. Also read: u(a) 0.465, u(b) 0.120, cov -0.050, y at 3.5 8.017, x at 10.5
    4.913. R computed further digits of u(b) (version not recorded).
    """
    x, y, u = columns("iso28037_wls1", "x", "y", "u")
    curve = fit_curve(x, y, prior=None, noise="constant", weights=1 / u**2)
    assert round(curve.params["intercept"], 3) == 1.867
    assert round(curve.params["slope"], 3) == 1.757
    chi_squared = curve.sd**2 * curve.df
    assert round(chi_squared, 3) == 1.665
    # The standard takes u(y) as known. Undo the scaling by the residual standard deviation.
    assert round(curve.std_errors["intercept"] / curve.sd, 3) == 0.465
    assert curve.std_errors["slope"] / curve.sd == pytest.approx(0.119522860933439, rel=1e-12)
    assert round(curve.covariance / curve.sd**2, 3) == -0.05
    assert round(float(curve.mean(3.5)), 3) == 8.017
    assert round(curve.setting_for(10.5).estimate, 3) == 4.913


def test_iso_28037_straight_line_with_unknown_uncertainty():
    """ISO/TS 28037:2010, annex E, pp. 58-59 (read): a 1.172 and b 1.964 with errors 0.159 and 0.041.

    Also read: x at 10.5 4.751, y at 3.5 8.044 with error 0.070, and error 0.18 of a new reading. R computed further
    digits (version not recorded). The standard widens the errors by a posterior factor, which is not applied here.
    """
    curve = constant("iso28037_wls3")
    assert round(curve.params["intercept"], 3) == 1.172
    assert round(curve.params["slope"], 3) == 1.964
    assert round(curve.std_errors["intercept"], 3) == 0.159
    assert round(curve.std_errors["slope"], 3) == 0.041
    assert round(curve.setting_for(10.5).estimate, 3) == 4.751
    assert round(float(curve.mean(3.5)), 4) == 8.0445
    low, high = curve.interval(3.5, 0.95)
    from scipy.stats import t

    assert round((high - low) / 2 / t.ppf(0.975, curve.df), 3) == 0.070
    low, high = curve.interval(3.5, 0.95, of="next")
    assert (high - low) / 2 / t.ppf(0.975, curve.df) == pytest.approx(0.18433303194671, rel=1e-10)


def test_gum_thermometer_calibration():
    """JCGM 100:2008, H.3: y1 -0.1712, y2 0.00218, r -0.930, b(30) -0.1494 with u 0.0041 (read)."""
    t, b = columns("gum_h3", "t", "b")
    curve = fit_curve(t - 20.0, b, prior=None, noise="constant")
    assert round(curve.params["intercept"], 4) == -0.1712
    assert round(curve.params["slope"], 5) == 0.00218
    correlation = curve.covariance / (curve.std_errors["intercept"] * curve.std_errors["slope"])
    assert round(correlation, 3) == -0.930
    assert round(float(curve.mean(10.0)), 4) == -0.1494
    low, high = curve.interval(10.0, 0.95)
    from scipy.stats import t as student

    assert round((high - low) / 2 / student.ppf(0.975, curve.df), 4) == 0.0041


INVERSIONS = [
    # Graybill & Iyer (1994), data; Greenwell & Schubert Kabban (2014), R Journal 6(1), and investr, limits (read)
    ("inv_arsenic", 3.0, 0.90, "mean", (2.9314, 2.8724, 2.9898), 4),
    ("inv_arsenic", 3.0, 0.90, "next", (2.9314, 2.6035, 3.2587), 4),
    ("inv_crystal", 8.0, 0.95, "mean", (15.8882, 14.6590, 17.1596), 4),
    # Graybill & Iyer (1994), Regression Analysis: Concepts and Applications, p. 431 (read): 103.995, 103.4 to 104.6;
    # R computed the third decimals of the limits (version not recorded)
    ("inv_thermostat", 104.0, 0.95, "next", (103.995, 103.404, 104.589), 3),
    # Massart et al. (1997), example 7 (read): 43.9 +- 4.9, which is symmetric. R computed the Fieller limits (version
    # not recorded)
    ("inv_massart97ex1", 90.0, 0.95, "next", (43.93983083, 39.19522541, 49.06843010), 8),
    # The crystal data again. Only a standard error by the delta method is printed (investr, read). R computed the
    # limits (version not recorded)
    ("inv_crystal", 5.0, 0.95, "mean", (9.92905788876277, 8.33565332183002, 11.2815294222942), 9),
]


@pytest.mark.parametrize(("name", "output", "level", "of", "expected", "places"), INVERSIONS)
def test_setting_for_an_output_has_the_published_limits(name, output, level, of, expected, places):
    table = np.genfromtxt(DATA / f"{name}.csv", delimiter=",", names=True, deletechars='"')
    x, y = (np.asarray(table[column], dtype=float) for column in _xy(table.dtype.names))
    found = fit_curve(x, y, prior=None, noise="constant").setting_for(output, level, of=of)
    assert found.shape == "finite"
    # Printed values are rounded or cut off at their last place.
    assert (found.estimate, found.lower, found.upper) == pytest.approx(expected, abs=1.01 * 10.0**-places)


def _xy(names):
    pairs = {"actual": "measured", "time": "weight", "temp": "read", "x": "y"}
    for x, y in pairs.items():
        if x in names and y in names:
            return x, y
    return names[0], names[1]


def test_lines_that_are_not_well_determined_say_so():
    """The data are constructed so that the slope is not significant.

    R computed shapes and roots (version not recorded).
    `investr::calibrate` refuses these data. For 11.0 it names the pieces, -Inf to -9.336 and 16.6045 to Inf.
    """
    curve = constant("inv_degenerate")
    for of in ("mean", "next"):
        found = curve.setting_for(10.1, 0.90, of=of)
        assert found.shape == "whole scale"
        assert found.pieces == ((-np.inf, np.inf),)
    found = curve.setting_for(11.0, 0.95)
    assert found.shape == "two pieces"
    assert found.pieces[0] == pytest.approx((-np.inf, -9.33596213982997), rel=1e-11)
    assert found.pieces[1] == pytest.approx((16.6045225593681, np.inf), rel=1e-11)
    assert found.lower <= found.upper


def test_proportional_noise_is_the_gamma_identity_fit():
    """Toluene by GC/MS, Rocke & Lorenzato (1995), Technometrics 37, 176, table 4. Data were read in R package chemCal.

    R computed the means by `glm(y ~ x, Gamma("identity"))`, and the rest by iterated weighted least squares. Versions
    were not recorded, and no answer is printed.
    """
    x, y = columns("cv_toluene", "x", "y")
    curve = fit_curve(x, y, prior=None)
    # glm stops at its tolerance. Iterated weighted least squares reaches the fixed point itself, to more digits.
    assert list(curve.params.values()) == pytest.approx([12.9643270419722, 1.51358645362271], rel=1e-9)
    assert list(curve.std_errors.values()) == pytest.approx([1.55319682874322, 0.0606619918341129], rel=1e-8)
    assert curve.cv == pytest.approx(0.159764310537072, rel=1e-9)
    assert curve.mean(np.array([100.0, 1000.0, 10000.0])) == pytest.approx(
        [164.322972389469, 1526.55078041912, 15148.8288607156], rel=1e-7
    )


@pytest.mark.parametrize(
    ("power", "coefficients", "errors", "sigma", "lower", "upper"),
    [
        (
            0,
            (-1.61441275347968, 1.54598923158585),
            (183.646278874374, 0.0293849463961765),
            779.496927239418,
            (-1507.1649842928, -110.591183134792, 13755.9354132486),
            (1813.13400510302, 3199.34082079954, 17160.6203929615),
        ),
        (
            1,
            (12.5542349987856, 1.5414488714781),
            (7.48017441654945, 0.0284900647938467),
            7.76918564454062,
            (4.77082132118429, 1040.98868526118, 13711.2739984925),
            (328.627422972006, 2067.01752769259, 17142.811901067),
        ),
        (
            2,
            (13.6542643427723, 1.49165157108925),
            (1.39282879825061, 0.126160285507848),
            0.535332172350752,
            (49.0519287729834, 365.008928734697, 3524.25634403638),
            (276.58691413041, 2645.60274212934, 26336.0836064341),
        ),
    ],
)
def test_weighted_line_matches_r(power, coefficients, errors, sigma, lower, upper):
    """Toluene again: R `lm(y ~ x, weights = 1/x^k)`, and prediction intervals with those weights.

    R computed the values (version not recorded). They are not printed.
    """
    x, y = columns("cv_toluene", "x", "y")
    curve = fit_curve(x, y, prior=None, noise="constant", weights=x ** -float(power))
    assert list(curve.params.values()) == pytest.approx(coefficients, rel=1e-9)
    assert list(curve.std_errors.values()) == pytest.approx(errors, rel=1e-9)
    assert curve.sd == pytest.approx(sigma, rel=1e-10)
    new = np.array([100.0, 1000.0, 10000.0])
    low, high = curve.interval(new, of="next", weight=new ** -float(power))
    assert low == pytest.approx(lower, rel=1e-9)
    assert high == pytest.approx(upper, rel=1e-9)


@pytest.mark.parametrize(
    ("output", "estimate", "lower", "upper"),
    [
        (200.0, 121.603621417214, 111.012028066753, 132.488063559463),
        (5000.0, 3235.5570510871, 3116.52220838939, 3364.04850097097),
    ],
)
def test_setting_on_a_weighted_line_matches_r(output, estimate, lower, upper):
    """Toluene, weights 1/x. R inverted the band of the mean by root finding (version not recorded, not printed)."""
    x, y = columns("cv_toluene", "x", "y")
    found = fit_curve(x, y, prior=None, noise="constant", weights=1 / x).setting_for(output)
    assert (found.estimate, found.lower, found.upper) == pytest.approx((estimate, lower, upper), rel=1e-9)


def test_proportional_line_through_zero_can_be_checked_by_hand():
    """The ratios 1.02, .98, 1.01, .99, 1.03, .97 have mean 1 and sd .0236643 (own arithmetic).

    R's weighted `lm` (version not recorded) gives the same numbers and the interval of the next catch. The limits of
    the setting are in closed form.
    """
    x, y = columns("prop_cv", "x", "y")
    curve = fit_curve(x, y, prior=None, dead_setting=0.0)
    assert curve.params["slope"] == pytest.approx(1.0, abs=1e-14)
    assert curve.cv == pytest.approx(0.0236643191323985, rel=1e-12)
    found = curve.setting_for(35.0)
    assert (found.lower, found.upper) == pytest.approx((34.1518664060448, 35.8913317902207), rel=1e-12)
    assert curve.interval(35.0, of="next") == pytest.approx((32.700322759758, 37.299677240242), rel=1e-12)


def test_monotone_fit_agrees_with_an_independent_one():
    """Stopping distances (R's `cars`), cubic I-splines with non-negative coefficients: rss 10201.6554536116.

    mgcv::pcls in R computed it (versions not recorded, not printed). The interior knots are the quartiles of speed.
    """
    speed, dist, fit = columns("mono_ispline_cars", "speed", "dist", "fit")
    knots = np.r_[np.zeros(4), (np.array([12.0, 15.0, 19.0]) - 4) / 21, np.ones(4)]
    basis = b_spline((speed - 4) / 21, knots, 4)
    fitted = basis @ monotone_least_squares(basis, dist)
    assert float(((dist - fitted) ** 2).sum()) == pytest.approx(10201.6554536116, rel=1e-9)
    assert fitted == pytest.approx(fit, rel=1e-6)


def test_spline_basis_sums_to_the_published_i_splines():
    """Ramsay (1988), Statist. Sci. 3, 425: order 3 and knots .3 .5 .6 as in his figure.

    I-splines are sums of B-splines. R computed the row at 0.5 in two ways (version not recorded). It is not printed.
    """
    knots = np.r_[np.zeros(4), 0.3, 0.5, 0.6, np.ones(4)]
    values = b_spline(np.array([0.5]), knots, 4)[0]
    tails = np.cumsum(values[::-1])[::-1][1:]
    assert tails == pytest.approx([1, 1, 0.944444444444444, 0.190476190476191, 0, 0], abs=1e-12)
