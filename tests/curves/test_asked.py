"""What a curve answers to a question that is not quite right: NaN for NaN, or a sentence that names the argument."""

from decimal import Decimal

import numpy as np
import pandas as pd
import pytest

from predictor import InputError, NotEnoughCatches, Prior, fit_curve
from tests.curves.made_up import CURVES, X, Y

EVERY = pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES)
KNOWN = [12.0, 20.0, 33.0]
# The same settings with one that is not known between them.
WITH_A_GAP = {
    "nan": [12.0, np.nan, 20.0, 33.0],
    "masked": np.ma.array([12.0, 1e6, 20.0, 33.0], mask=[False, True, False, False]),
    "masked whole numbers": np.ma.array([12, 25, 20, 33], mask=[False, True, False, False]),
    "pandas": pd.array([12.0, None, 20.0, 33.0], dtype="Float64"),
    "series of whole numbers": pd.Series([12, None, 20, 33], dtype="Int64"),
}
ELEMENTWISE = {
    "mean": lambda curve, x: curve.mean(x),
    "quantile": lambda curve, x: curve.quantile(x, 0.3),
    "lower limit": lambda curve, x: curve.interval(x)[0],
    "upper limit": lambda curve, x: curve.interval(x, 0.9, "next")[1],
    "probability": lambda curve, x: curve.probability(x, 0.5, 1.5),
}


@EVERY
@pytest.mark.parametrize("asked", ELEMENTWISE.values(), ids=ELEMENTWISE)
@pytest.mark.parametrize("x", WITH_A_GAP.values(), ids=WITH_A_GAP)
def test_a_setting_that_is_not_known_has_nan_and_changes_no_other(curve, asked, x):
    found = asked(curve, x)
    assert np.isnan(found).tolist() == [False, True, False, False]
    np.testing.assert_allclose(found[[0, 2, 3]], asked(curve, KNOWN), rtol=1e-6)


@EVERY
@pytest.mark.parametrize("asked", ELEMENTWISE.values(), ids=ELEMENTWISE)
def test_one_setting_that_is_not_known_has_nan(curve, asked):
    for unknown in (np.nan, np.array(np.nan), pd.NA, np.ma.masked):
        assert np.isnan(asked(curve, unknown))
    assert np.isnan(curve.probability_next(np.nan, 1.0))
    assert asked(curve, [np.nan, np.nan]).shape == (2,)
    assert asked(curve, []).shape == (0,)


@EVERY
@pytest.mark.parametrize("x", [20, np.int8(20), np.float32(20), Decimal(20), np.array(20)], ids=repr)
def test_a_number_of_any_kind_is_that_number(curve, x):
    assert curve.mean(x) == curve.mean(20.0)
    assert curve.interval(x) == curve.interval(20.0)
    assert curve.setting_for(Decimal("1.0")) == curve.setting_for(1.0)


NO_SETTINGS = [None, "20", "abc", True, [True], 1j, [None], ["20"], [[1], [1, 2]], {"a": 1}, {1}, (i for i in [1]),
               np.inf, [1, -np.inf], 10**400, pd.Timestamp("2026-01-01"), np.array(["20"])]  # fmt: skip


@EVERY
@pytest.mark.parametrize("asked", ELEMENTWISE.values(), ids=ELEMENTWISE)
def test_what_is_no_setting_is_refused_by_name(curve, asked):
    for x in NO_SETTINGS:
        with pytest.raises(InputError, match=r"^x must be "):
            asked(curve, x)


@EVERY
def test_the_word_of_what_is_asked_is_one_of_two(curve):
    for word in ("prediction", "Next", "means", "", None, 1, ["next"], np.array(["next"])):
        for ask in (curve.interval, curve.setting_for):
            with pytest.raises(InputError, match=r'^of must be "mean" or "next"; got '):
                ask(1.0, 0.95, word)
        with pytest.raises(InputError, match=r'^of must be "mean" or "next"; got '):
            curve.quantile(1.0, 0.5, word)
    with pytest.raises(InputError, match='Did you mean "next"'):
        curve.interval(20, 0.95, "Next")


NO_LEVELS = [0, 1, 95, -0.5, np.nan, None, "0.95", True, [0.95], np.array([0.9, 0.95])]
REFUSED = {
    "level": (lambda curve, bad: curve.interval(20, bad), NO_LEVELS),
    "level of a setting": (lambda curve, bad: curve.setting_for(1, bad), NO_LEVELS),
    "share": (lambda curve, bad: curve.quantile(20, bad), [0, 1, 1.5, -1, "0.5", None, True, np.inf]),
    "weight": (lambda curve, bad: curve.interval(20, 0.95, "next", bad), [0, -1, "1", None, True, np.inf, [1, 0]]),
    "output": (lambda curve, bad: curve.setting_for(bad), [np.nan, np.inf, None, "1", True, [1.0], 1j]),
    "output of the next": (lambda curve, bad: curve.probability_next(20, bad), [np.nan, np.inf, None, "1"]),
    "weight of noise": (lambda curve, bad: curve.noise_of(bad), [0, -1, np.nan, "1", None, [1.0]]),
    "x of the next": (lambda curve, bad: curve.probability_next(bad, 1.0), ["20", None, [20.0], np.inf]),
    "low": (lambda curve, bad: curve.probability(20, bad, 2), [3, np.nan, None, "1", True]),
    "low of none": (lambda curve, bad: curve.probability_none([1, 20], bad, 2), [3, np.nan, None]),
    "low of a stretch": (lambda curve, bad: curve.settings_within(bad, 2, 0.01), [3, np.nan, None]),
    "high": (lambda curve, bad: curve.probability(20, 1, bad), [np.nan, None, "2"]),
    "extra_variance": (lambda curve, bad: curve.probability(20, 1, 2, bad), [-0.1, np.nan, np.inf, None, "0"]),
    "extra_variance of a quantile": (
        lambda curve, bad: curve.quantile(20, 0.5, "mean", 1.0, bad),
        [-0.1, np.nan, np.inf, None, "0"],
    ),
    "doubt": (lambda curve, bad: curve.settings_within(1, 2, bad), [0, 0.6, 1, np.nan, None]),
    "x": (lambda curve, bad: curve.probability_none(bad, 1, 2), [[], 20, [20, 10], [np.nan, 20], [[1, 2]], "1"]),
}


@EVERY
@pytest.mark.parametrize("case", REFUSED)
def test_an_argument_out_of_its_range_is_refused_by_name(curve, case):
    ask, misuses = REFUSED[case]
    for bad in misuses:
        with pytest.raises(InputError, match=rf"{case.split()[0]} must be "):
            ask(curve, bad)


@EVERY
def test_lengths_that_do_not_go_together_are_refused(curve):
    with pytest.raises(InputError, match="go together"):
        curve.quantile([10, 20, 30], [0.1, 0.9])
    with pytest.raises(InputError, match="go together"):
        curve.interval([10, 20, 30], 0.95, "next", [1, 2])


@EVERY
def test_limits_for_catches_of_two_lengths_are_those_of_each(curve):
    both = np.transpose(curve.interval(20, 0.95, "next", [1, 4]))
    np.testing.assert_allclose(both, [curve.interval(20, 0.95, "next", each) for each in (1, 4)], rtol=1e-6)


@EVERY
def test_a_probability_between_outputs_below_nothing_counts_from_nothing(curve):
    assert curve.probability(20, -5, 1.5) == pytest.approx(curve.probability(20, 0, 1.5), abs=1e-6)
    assert curve.probability_next(40, -1.0) == pytest.approx(0, abs=1e-6)
    assert curve.probability(20, -np.inf, np.inf) == pytest.approx(1)
    assert curve.settings_within(-1, np.inf, 0.01) == (-np.inf, np.inf)


DATA = {
    "settings": [[1, 2, np.nan], [[1, 2, 3]], "abc", None, ["1", "2", "3"], [True, False, True], [1, 2, np.inf],
                 np.ma.array([1, 2, 3], mask=[0, 0, 1])],
    "outputs": [[1, 2, np.nan], [1, 2], [1, 2, 0], [1, 2, -1], None, np.ma.array([1, 2, 3], mask=[0, 0, 1])],
    "weights": [[1, 2], [1, 2, 0], [1, 2, -1], [1, 2, np.nan], 1.0, [1], "abc", True, [[1, 2, 3]]],
    "fill": [[0.1], 0.1, [0.1, 0.2], [0.1, 0.2, np.nan], [0.1, 0.2, np.inf], "half", [[0.1, 0.2, 0.3]]],
    "reading": [[0.1], 0.1, [0.1, 0.2, -0.1], [0.1, 0.2, np.nan], "0.1"],
    "family": ["lines", "LINE", None, 1, ["line"], True],
    "noise": ["Constant", "gamma", None, 0, True],
    "prior": [False, True, 0, "defaults", "none", [], {}, Prior],
    "dead_setting": ["1", np.nan, np.inf, True, [1]],
    "lowest": [np.nan, np.inf, None, "0", True, [0.0]],
    "span": [np.nan, np.inf, 0, -1, "60", True, [60.0]],
    "near": [np.nan, np.inf, 0, -1, "1", True],
    "closed": [np.nan, np.inf, "1", True],
    "fill_prior": [0, (0.1, 0), (0.1, -1), (0.1, np.nan), (np.nan, 0.1), (0.1,), None, "ab", (1, 2, 3)],
    "rows": [0, (1, 2), (-1, 2, 0), (1, 0, 0), (1, np.nan, 0), "abc", (1, 2, -1)],
    "parts": [0, (1, 2), (-1, 2, 0), (1, 0, 0), (1, np.nan, 0), "abc", (1, 2, -1)],
}  # fmt: skip


@pytest.mark.parametrize("name", DATA)
def test_data_that_no_curve_can_take_are_refused_by_name(name):
    for bad in DATA[name]:
        given = {"settings": [10.0, 20.0, 30.0], "outputs": [1.0, 2.0, 3.1], name: bad}
        if name == "dead_setting":
            given["prior"] = None
        with pytest.raises((InputError, NotEnoughCatches), match=name):
            fit_curve(**given)


def test_data_of_any_kind_of_number_give_the_same_curve():
    wanted = fit_curve(X, Y).params
    for kind in (list, tuple, pd.Series, pd.array, lambda y: [Decimal(each) for each in y]):
        assert fit_curve(kind(X.tolist()), kind(Y.tolist())).params == wanted


PRIORS = {
    "dead": [np.nan, "0", None], "dead_spread": [0, -1, np.nan], "bend": [0, -1, np.nan], "bend_spread": [-1, np.nan],
    "correlation": [1, -1, 2, np.nan], "tails": [0, -1, np.nan], "level_at": [np.nan, None],
    "repeatability": [(), 0.05, ((1, 0.05),), ((0.5, 0.05, 4),), ((1, 0, 4),), ((1, 0.05, 0),), "abc", None],
    "own": [(), 1.0, ((0.5, 1.0),), ((1.0, 2.0),), ((1.0, np.nan),)],
    "level": [1.0, np.nan, "1"], "level_spread": [0.1, -1, np.nan], "name": ["", "historie", None, 1],
}  # fmt: skip


@pytest.mark.parametrize("name", PRIORS)
def test_a_prior_that_cannot_be_is_refused_by_name(name):
    for bad in PRIORS[name]:
        with pytest.raises(InputError, match=name):
            Prior(**{name: bad})
