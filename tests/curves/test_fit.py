"""The one door to every curve: which one it takes, and what it refuses."""

import numpy as np
import pytest

from predictor.curves import fit_curve
from predictor.curves.catches import Inside
from predictor.errors import InputError, NotEnoughCatches
from tests import golden


def test_auto_takes_the_spline_only_where_a_line_leaves_a_pattern():
    rng = np.random.default_rng(8)
    x = np.repeat(np.linspace(10, 90, 9), 2)
    noise = np.exp(0.02 * rng.standard_normal(18))
    stepped = 0.3 + 3 / (1 + np.exp(-(x - 50) / 4))
    assert fit_curve(x, stepped * noise, lowest=0.0, span=100.0).family == "spline"
    assert fit_curve(x, 0.05 * x * noise, lowest=0.0, span=100.0).family == "line"


def test_a_spline_needs_eight_catches_and_five_settings():
    """Eight by default; where a spline is asked for, five settings will do. Seven catches always get a line."""
    x = np.array([10.0, 30, 45, 50, 55, 70, 90, 90])
    y = (0.3 + 3 / (1 + np.exp(-(x - 50) / 4))) * np.exp(0.01 * np.random.default_rng(8).standard_normal(8))
    assert fit_curve(x, y, lowest=0.0, span=100.0).family == "spline"
    assert fit_curve(x[:7], y[:7], lowest=0.0, span=100.0).family == "line"
    assert fit_curve(x[:5], y[:5], family="spline").family == "spline"
    with pytest.raises(NotEnoughCatches):
        fit_curve(np.r_[x[:4], x[:4]], np.r_[y[:4], y[:4]], family="spline")


X = np.repeat(np.arange(5.0, 30.0, 5.0), 2)
REFUSED = [
    ([1.0], [1.0, 2.0], {}),
    ([1.0, np.nan], [1.0, 2.0], {}),
    ([1.0, 2.0], [1.0, 0.0], {}),
    ([1.0, 2.0], [1.0, 2.0], {"family": "cubic"}),
    ([1.0, 2.0], [1.0, 2.0], {"noise": "wild"}),
    ([1.0, 2.0], [1.0, 2.0], {"prior": "flat"}),
    ([1.0, 2.0], [1.0, 2.0], {"weights": [1.0, -1.0]}),
    ([1.0, 2.0], [1.0, 2.0], {"fill": [0.5]}),
    ([1.0, 2.0], [1.0, 2.0], {"dead_setting": 0.0}),
    (X, X, {"family": "spline", "dead_setting": 0.0, "prior": None}),
    (X, X, {"noise": "constant", "fill": np.zeros(10)}),
    (X, X, {"family": "spline", "fill": np.zeros(10)}),
]
TOO_FEW = [
    ([1.0, 2.0], [1.0, 2.0], {"prior": None}),
    ([1.0], [1.0], {"prior": None, "dead_setting": 0.0}),
    ([1.0, 1.0, 1.0], [1.0, 2.0, 1.5], {"prior": None}),
    ([], [], {}),
    ([1.0, 2.0, 3.0], [1.0, 2.0, 3.0], {"family": "spline"}),
]


@pytest.mark.parametrize(("x", "y", "options"), REFUSED)
def test_what_no_curve_can_take_is_refused(x, y, options):
    with pytest.raises(ValueError, match=r"\.$") as caught:
        fit_curve(x, y, **options)
    assert not isinstance(caught.value, NotEnoughCatches)


@pytest.mark.parametrize(("x", "y", "options"), TOO_FEW)
def test_too_few_catches_without_a_prior_are_refused(x, y, options):
    with pytest.raises(NotEnoughCatches):
        fit_curve(x, y, **options)


def test_words_of_what_is_refused():
    messages = []
    for x, y, options in REFUSED + TOO_FEW:
        with pytest.raises(ValueError, match=r"\.$") as caught:
            fit_curve(x, y, **options)
        messages.append(str(caught.value))
    for question in (lambda: fit_curve(X, X).interval(20.0, 95), lambda: fit_curve(X, X).setting_for(0.0)):
        with pytest.raises(ValueError, match=r"\.$") as caught:
            question()
        messages.append(str(caught.value))
    assert len(set(messages)) > 15
    golden.check("curve-errors", "\n".join(messages))


def test_what_only_a_prior_can_use_is_refused_without_one():
    inside = {"rows": Inside(0.02, 8.0), "parts": Inside(0.02, 3.0), "reading": np.full(10, 0.3)}
    for_a_prior = {"fill": np.zeros(10), **inside, "near": 4.0, "closed": 0.5, "lowest": 1.0, "span": 99.0}
    for name, value in for_a_prior.items():
        with pytest.raises(InputError, match=name):
            fit_curve(X, X, prior=None, **{name: value})


@pytest.mark.parametrize("name", ["fill", "near", "closed"])
def test_what_a_spline_would_pass_by_is_refused(name):
    with pytest.raises(InputError, match=name):
        fit_curve(X, X, family="spline", **{name: np.zeros(10) if name == "fill" else 1.0})
