"""Curves: what must hold for any catches, and agreement with a reference library."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from predictor.curves import SettingEstimate, fit_curve
from predictor.curves.catches import Catches
from predictor.curves.classical import _quadratic_set
from predictor.curves.prior import Prior
from predictor.curves.roots import increasing_root
from predictor.curves.spline import fit_spline
from predictor.curves.student import mixture_cdf, segments_of
from predictor.curves.weighing import NEGLIGIBLE
from predictor.errors import NotEnoughCatches

# ten ranges either way is flat for any slot
FLAT = Prior(dead_spread=5.0, bend_spread=0.0, tails=1e6, repeatability=((1.0, 1e-3, 1e-6),))

settings_lists = st.lists(st.integers(5, 60), min_size=1, max_size=12)


def catches(xs, seed, cv=0.05, dead=2.0):
    rng = np.random.default_rng(seed)
    x = np.array(xs, dtype=float)
    return x, 0.05 * (x - dead) * np.exp(cv * rng.standard_normal(len(x)))


def test_line_agrees_with_statsmodels_on_a_thousand_data_sets():
    """Reference library: statsmodels WLS (0.14 or later); estimates, errors, both intervals, to 1e-9."""
    import statsmodels.api as sm

    rng = np.random.default_rng(1)
    worst = 0.0
    for _ in range(1000):
        n = int(rng.integers(3, 30))
        x = rng.uniform(-50, 150, n)
        y = rng.normal(3, 5) + rng.normal(0, 2) * x + rng.normal(0, 2, n)
        w = rng.uniform(0.2, 5, n)
        curve = fit_curve(x, y, prior=None, noise="constant", weights=w)
        result = sm.WLS(y, sm.add_constant(x), weights=w).fit()
        new = np.array([[1.0, -10.0], [1.0, 60.0]])
        frame = result.get_prediction(new, weights=1.0).summary_frame(alpha=0.1)
        ours = [
            *curve.params.values(),
            *curve.std_errors.values(),
            *np.ravel(curve.interval(new[:, 1], 0.9)),
            *np.ravel(curve.interval(new[:, 1], 0.9, of="next")),
        ]
        theirs = [
            *result.params,
            *result.bse,
            *frame["mean_ci_lower"],
            *frame["mean_ci_upper"],
            *frame["obs_ci_lower"],
            *frame["obs_ci_upper"],
        ]
        scale = np.maximum(np.abs(theirs), np.std(y))
        worst = max(worst, float(np.max(np.abs(np.array(ours) - theirs) / scale)))
    assert worst < 1e-9


@given(
    xs=st.lists(st.floats(-1e3, 1e3), min_size=3, max_size=20, unique=True),
    seed=st.integers(0, 10_000),
    level=st.floats(0.5, 0.99),
)
def test_ends_of_a_fieller_interval_touch_the_band(xs, seed, level):
    x = np.array(xs)
    if np.ptp(x) < 1.0:
        return
    y = 2 + 0.3 * x + np.random.default_rng(seed).normal(0, 1, len(x))
    curve = fit_curve(x, y, prior=None, noise="constant")
    found = curve.setting_for(5.0, level)
    assert found.lower <= found.upper
    for lower, upper in found.pieces:
        for end in (lower, upper):
            if np.isfinite(end) and abs(end) < 1e6:
                band = curve.interval(end, level)
                gap = min(abs(band[0] - 5.0), abs(band[1] - 5.0))
                assert gap <= 1e-6 * (1 + abs(end))


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
    """Against 200,000 draws from the same mixture of Student-t distributions; Monte Carlo error 0.0011."""
    x, y = catches([30, 38, 38], 5)
    curve = fit_curve(x, y, family="line", lowest=0.0, span=60.0)
    shapes, rng = curve.shapes, np.random.default_rng(0)
    pick = rng.choice(len(shapes.weight), 200_000, p=shapes.weight)
    level = shapes.level[pick] + shapes.level_scale[pick] * rng.standard_t(shapes.dof[pick])
    rise = np.log((34.0 - shapes.dead[pick]) / (shapes.reference - shapes.dead[pick]))
    mean = np.exp(level + shapes.bend[pick] * rise + shapes.variance[pick] / 2)
    share = float(np.mean((mean >= 1.45) & (mean <= 1.75)))
    assert float(curve.probability(34.0, 1.45, 1.75)) == pytest.approx(share, abs=0.004)


def test_chance_that_no_setting_is_right_adds_up_with_the_others():
    curve = fit_curve([30.0, 31.0], [1.4, 1.45], lowest=0.0, span=60.0)
    x = np.array([20.0, 30.0, 45.0])
    # bands that do not overlap: exactly one of "this setting", "that one", "none" is true
    each = curve.probability(x, 1.35, 1.55)
    assert each.sum() + curve.probability_none(x, 1.35, 1.55) == pytest.approx(1.0, abs=0.002)


def test_student_table_is_right_to_its_promise():
    """Against scipy.special.stdtr."""
    from scipy.special import stdtr

    z = np.linspace(-60, 60, 20_001)[None, :]
    for dof, promise in ((2.0, 1e-7), (3.0, 1e-7), (6.0, 1e-7), (29.0, 1e-7), (1e4, 1e-7)):
        assert np.max(np.abs(mixture_cdf(segments_of(np.array([dof])), z) - stdtr(dof, z))) < promise
    ends = mixture_cdf(segments_of(np.array([3.0])), np.array([[-np.inf, np.inf]]))
    assert ends.tolist() == [[0.0, 1.0]]


def test_single_rows_and_earlier_knowledge_narrow_the_noise():
    x, y = catches([30, 32], 6)
    plain = fit_curve(x, y, lowest=0.0, span=60.0)
    told = fit_curve(x, y, lowest=0.0, span=60.0, extra_noise=(0.02, 20.0))
    assert told.cv < plain.cv


def test_noise_is_never_below_what_the_scale_can_show():
    curve = fit_curve([30, 30, 30, 40], [1.0, 1.0, 1.0, 1.34], lowest=0.0, span=60.0, noise_floor=0.2)
    assert curve.cv >= 0.2


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


@given(seed=st.integers(0, 5000), n=st.integers(5, 25), wild=st.floats(0, 3))
@settings(max_examples=80, deadline=None)
def test_spline_never_falls_whatever_the_data(seed, n, wild):
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 100, n))
    if len(np.unique(x)) < 5:
        return
    y = np.exp(wild * rng.standard_normal(n))
    curve = fit_spline(Catches.of(x, y, noise="constant"))
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


def test_auto_takes_the_spline_only_where_a_line_leaves_a_pattern():
    rng = np.random.default_rng(8)
    x = np.repeat(np.linspace(10, 90, 9), 2)
    noise = np.exp(0.02 * rng.standard_normal(18))
    stepped = 0.3 + 3 / (1 + np.exp(-(x - 50) / 4))
    assert fit_curve(x, stepped * noise, lowest=0.0, span=100.0).family == "spline"
    assert fit_curve(x, 0.05 * x * noise, lowest=0.0, span=100.0).family == "line"


def test_spline_setting_lies_where_the_curve_reaches_the_output():
    x = np.repeat(np.linspace(10, 90, 9), 2)
    curve = fit_curve(x, 0.3 + 3 / (1 + np.exp(-(x - 50) / 10)), family="spline")
    found = curve.setting_for(1.8)
    assert found.shape == "finite"
    assert found.lower < 50 < found.upper
    assert float(curve.probability(found.estimate, 1.6, 2.0)) > 0.5


@pytest.mark.parametrize(
    ("x", "y", "options", "words"),
    [
        ([1.0], [1.0, 2.0], {}, "equal length"),
        ([1.0, np.nan], [1.0, 2.0], {}, "finite"),
        ([1.0, 2.0], [1.0, 0.0], {}, "above 0"),
        ([1.0, 2.0], [1.0, 2.0], {"family": "cubic"}, "family"),
        ([1.0, 2.0], [1.0, 2.0], {"noise": "wild"}, "Noise"),
        ([1.0, 2.0], [1.0, 2.0], {"prior": "flat"}, "prior"),
        ([1.0, 2.0], [1.0, 2.0], {"weights": [1.0, -1.0]}, "Weights"),
        ([1.0, 2.0], [1.0, 2.0], {"dead_setting": 0.0}, "contradict"),
    ],
)
def test_what_no_curve_can_take_is_refused_in_a_sentence(x, y, options, words):
    with pytest.raises(ValueError, match=words):
        fit_curve(x, y, **options)


def test_too_few_catches_without_a_prior_are_refused():
    with pytest.raises(NotEnoughCatches, match="at least 3"):
        fit_curve([1.0, 2.0], [1.0, 2.0], prior=None)
    with pytest.raises(NotEnoughCatches, match="two settings"):
        fit_curve([1.0, 1.0, 1.0], [1.0, 2.0, 1.5], prior=None)
    with pytest.raises(NotEnoughCatches, match="Make one catch"):
        fit_curve([], [])
    with pytest.raises(NotEnoughCatches, match="5 or more settings"):
        fit_curve([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], family="spline")


@pytest.mark.parametrize("level", [0.0, 1.0, 95])
def test_a_level_that_is_no_probability_is_refused(level):
    with pytest.raises(ValueError, match=r"0\.95"):
        fit_curve([30.0], [1.0]).interval(30.0, level)


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


def test_single_rows_tell_a_wild_box_from_a_tame_one():
    x, y = catches([30], 1)
    tame = fit_curve(x, y, lowest=0.0, span=60.0, extra_noise=(0.03, 10.0))
    wild = fit_curve(x, y, lowest=0.0, span=60.0, extra_noise=(0.13, 10.0))
    assert tame.cv < 0.05
    assert wild.cv > 0.10


def test_a_spline_is_never_less_noisy_than_the_scale_and_hears_the_rows():
    x = np.repeat(np.arange(5.0, 45.0, 5.0), 2)
    y = x * (1 + 0.01 * np.sin(7 * np.arange(len(x))))
    plain = fit_curve(x, y, family="spline", span=60.0)
    floored = fit_curve(x, y, family="spline", span=60.0, noise_floor=0.3)
    assert plain.cv < 0.3
    assert floored.cv == pytest.approx(0.3)
    assert np.ptp(floored.interval(20.0)) > np.ptp(plain.interval(20.0))
    wild = fit_curve(x, y, family="spline", span=60.0, extra_noise=(0.2, 30.0))
    assert wild.cv > plain.cv


@pytest.mark.parametrize(
    "options",
    [{"family": "spline", "dead_setting": 0.0, "prior": None}, {"noise": "constant", "fill": np.zeros(10)}],
)
def test_options_that_contradict_each_other_are_refused(options):
    x = np.repeat(np.arange(5.0, 30.0, 5.0), 2)
    with pytest.raises(ValueError, match=r"spline|filling"):
        fit_curve(x, x, **options)


def test_an_empty_set_of_settings_has_no_ends():
    found = SettingEstimate.of_pieces(3.0, ())
    assert (found.shape, found.pieces) == ("none", ())
    assert np.isnan([found.lower, found.upper]).all()


def test_a_curve_has_the_spread_of_its_own_noise_only():
    with pytest.raises(AttributeError, match=r"\.cv"):
        fit_curve([10, 20, 30], [1.0, 2.1, 2.9], prior=None).sd  # noqa: B018
    with pytest.raises(AttributeError, match=r"\.sd"):
        fit_curve([10, 20, 30], [1.0, 2.1, 2.9], prior=None, noise="constant").cv  # noqa: B018


def test_a_root_that_is_never_close_enough_is_the_best_found():
    found = increasing_root(lambda x: x - 0.3, np.zeros(1), np.ones(1), tolerance=-1.0, closeness=-1.0)
    assert found == pytest.approx([0.3])


@pytest.mark.parametrize(
    ("a", "b", "c", "pieces"),
    [
        (0.0, 0.0, -1.0, ((-np.inf, np.inf),)),
        (0.0, 0.0, 1.0, ()),
        (0.0, 1.0, -4.0, ((-np.inf, 12.0),)),
        (0.0, -1.0, -4.0, ((8.0, np.inf),)),
        (1.0, 0.0, 1.0, ()),
        (-1.0, 0.0, -1.0, ((-np.inf, np.inf),)),
        (1.0, 0.0, 0.0, ((10.0, 10.0),)),
    ],
)
def test_every_kind_of_quadratic_set(a, b, c, pieces):
    assert _quadratic_set(a, b, c, 10.0) == pieces


def test_a_line_whose_weights_never_settle_is_a_fixed_point_all_the_same():
    x, y = np.array([1.0, 25.0, 52.0]), np.array([2.9, 0.4, 2.24])  # 100 rounds end before the last digit stands still
    line = fit_curve(x, y, prior=None)
    again = fit_curve(x, y, prior=None, noise="constant", weights=1 / line.mean(x) ** 2)
    assert list(line.params.values()) == pytest.approx(list(again.params.values()), rel=1e-9)


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
