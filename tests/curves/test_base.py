"""What every curve answers, whichever way it was fitted."""

import copy
import pickle

import numpy as np
import pytest

from predictor.curves import SettingEstimate, fit_curve
from predictor.curves.prior import Prior
from tests import golden
from tests.curves.made_up import CURVES


@pytest.fixture(params=CURVES)
def curve(request):
    """One curve of every kind."""
    return CURVES[request.param]


def test_an_empty_set_of_settings_has_no_ends():
    found = SettingEstimate.of_pieces(3.0, ())
    assert (found.shape, found.pieces) == ("none", ())
    assert np.isnan([found.lower, found.upper]).all()


def test_a_curve_has_the_spread_of_its_own_noise_only():
    with pytest.raises(AttributeError, match=r"\.cv"):
        fit_curve([10, 20, 30], [1.0, 2.1, 2.9], prior=None).sd  # noqa: B018
    with pytest.raises(AttributeError, match=r"\.sd"):
        fit_curve([10, 20, 30], [1.0, 2.1, 2.9], prior=None, noise="constant").cv  # noqa: B018


@pytest.mark.parametrize("level", [0.0, 1.0, 95])
def test_a_level_that_is_no_probability_is_refused(level):
    with pytest.raises(ValueError, match=r"0\.95"):
        fit_curve([30.0], [1.0]).interval(30.0, level)


def test_a_number_gives_a_number_and_an_array_an_array_of_its_shape(curve):
    grid = np.array([[20.0, 30.0, 40.0], [25.0, 35.0, 45.0]])
    for answer in (
        curve.mean,
        curve.interval,
        lambda x: curve.probability(x, 1.0, 1.5),
        lambda x: curve.quantile(x, 0.2),
    ):
        one, many = answer(20.0), answer(grid)
        for single, each in zip(*((a if isinstance(a, tuple) else (a,)) for a in (one, many)), strict=True):
            assert type(single) is float
            assert each.shape == grid.shape
            assert each[0, 0] == pytest.approx(single, rel=1e-7)
            assert answer([20, 30]) is not None


def test_quantiles_are_the_ends_of_the_intervals_and_grow_with_their_share(curve):
    lower, upper = curve.interval(30.0, 0.8, "next")
    assert curve.quantile(30.0, [0.1, 0.9], "next") == pytest.approx([lower, upper], rel=1e-6)
    shares = np.array([0.01, 0.2, 0.5, 0.8, 0.99])
    found = curve.quantile(np.full(5, 30.0), shares)
    assert np.all(np.diff(found) > 0)
    assert found[2] == pytest.approx(curve.mean(30.0), rel=1e-6)


def test_the_probability_agrees_with_the_quantiles(curve):
    ends = curve.quantile(30.0, [0.2, 0.7])
    assert curve.probability(30.0, *ends) == pytest.approx(0.5, abs=1e-5)
    assert curve.probability(30.0, *ends, extra_variance=0.01) < 0.5


def test_a_heavier_catch_is_less_scattered(curve):
    light, heavy = (np.ptp(curve.interval(30.0, of="next", weight=weight)) for weight in (1.0, 4.0))
    assert heavy < light
    assert curve.interval([30.0, 30.0], of="next", weight=[1.0, 4.0])[1][1] == pytest.approx(
        curve.interval(30.0, of="next", weight=4.0)[1], rel=1e-6
    )


def test_no_setting_will_do_exactly_where_the_target_is_out_of_reach(curve):
    every = np.arange(10.0, 56.0)
    assert curve.probability_none(every, 1.4, 1.6) < 0.01
    assert curve.probability_none(every, 30.0, 40.0) > 0.99
    assert curve.probability_none(every[:1], 1e-6, 2e-6) > 0.99
    assert curve.probability_none(every, 1.4, 1.6) == pytest.approx(
        curve.probability_none(list(every), 1.4, 1.6), abs=1e-12
    )


def test_the_stretch_of_settings_holds_those_that_may_do(curve):
    low, high = curve.settings_within(1.4, 1.6, 0.005)
    assert low < 30.0 < high
    assert low <= curve.setting_for(1.5).estimate <= high


def test_a_longer_catch_has_less_noise(curve):
    assert curve.noise_of(1.0) == pytest.approx(curve.spread)
    assert curve.spread > curve.noise_of(2.0) >= curve.noise_of(8.0) > 0


def test_the_next_catch_lies_below_its_quantile_as_often_as_that_says(curve):
    for share in (0.05, 0.5, 0.9):
        at = float(curve.quantile(32.0, share, "next", 2.0))
        assert curve.probability_next(32.0, at, 2.0) == pytest.approx(share, abs=1e-5)


def test_parameters_have_standard_errors(curve):
    assert curve.params.keys() == curve.std_errors.keys()
    assert min(curve.std_errors.values()) > 0


def test_a_curve_is_equal_only_to_itself_and_does_not_change(curve):
    twin = copy.copy(curve)
    assert curve == curve
    assert curve != twin
    assert len({curve, twin, curve}) == 2
    with pytest.raises(AttributeError):
        curve.n = 3


def test_a_curve_survives_pickling(curve):
    curve.mean(30.0)
    data = pickle.dumps(curve)
    back = pickle.loads(data)
    assert back.interval(30.0) == curve.interval(30.0)
    assert back.params == curve.params
    assert len(data) < 100_000


def test_a_curve_can_be_printed_shown_and_drawn(curve):
    assert str(curve) == curve.summary()
    assert all(name in str(curve) for name in curve.params)
    assert "<pre>" in curve._repr_html_()
    axes = curve.plot()
    assert {text.get_text() for text in axes.get_legend().get_texts()} >= {"mean"}
    assert axes.get_xlim()[0] < curve.low < curve.high < axes.get_xlim()[1]
    assert curve.plot(axes) is axes


def test_words_of_a_curve():
    learned = Prior(level=0.4, level_spread=0.2, name="history")
    some = {name: CURVES[name] for name in ("least squares, constant noise", "line", "spline")}
    some["before any catch"] = fit_curve([], [], prior=learned, lowest=0.0, span=60.0)
    some["one catch"] = fit_curve([30.0], [1.4], lowest=0.0, span=60.0)
    golden.check("curve", "\n\n".join(f"# {name}\n{each.summary()}" for name, each in some.items()))


def test_estimates_of_settings_compare_by_value():
    found = [CURVES["line"].setting_for(1.5) for _ in range(2)]
    assert found[0] == found[1]
    assert len({*found}) == 1
    assert pickle.loads(pickle.dumps(found[0])) == found[0]
