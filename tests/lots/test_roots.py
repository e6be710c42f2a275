"""The root finder against the library's (scipy)."""

import math

import pytest
from hypothesis import given, settings, strategies as st
from scipy import optimize

from predictor.lots.roots import root_between

CURVES = {
    "line": lambda x, a: x - a,
    "steep": lambda x, a: math.exp(20 * x) - math.exp(20 * a),
    "flat": lambda x, a: (x - a) ** 3,
    "saturating": lambda x, a: math.atan(50 * (x - a)),
    "step": lambda x, a: 1.0 if x > a else -1.0,
}


@pytest.mark.parametrize("name", CURVES)
@settings(max_examples=60, deadline=None)
@given(st.floats(-0.99, 1.99))
def test_it_finds_the_root_that_the_library_finds(name, a):
    """scipy.optimize.brentq, to its own tolerance; where a curve is flat about its root, the root that was put in."""
    of = lambda x: CURVES[name](x, a)  # noqa: E731
    found = root_between(of, -1.0, 2.0)
    known = a if name == "flat" else optimize.brentq(of, -1.0, 2.0, xtol=1e-12)
    assert found == pytest.approx(known, abs=1e-4 if name == "flat" else 1e-11)


def test_it_needs_few_looks():
    looks = []
    root_between(lambda x: looks.append(x) or math.exp(3 * x) - 2, -1.0, 2.0)
    assert len(looks) < 14


def test_an_end_may_be_the_root_and_one_sign_is_refused():
    assert root_between(lambda x: x, 0.0, 1.0) == 0.0
    assert root_between(lambda x: x - 1, 0.0, 1.0) == 1.0
    with pytest.raises(ValueError, match="one sign"):
        root_between(lambda x: x + 5, 0.0, 1.0)
