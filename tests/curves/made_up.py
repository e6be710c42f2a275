"""Made-up catches and one curve of every kind."""

import numpy as np
from hypothesis import strategies as st

from predictor.curves import fit_curve

settings_lists = st.lists(st.integers(5, 60), min_size=1, max_size=12)


def catches(xs, seed, cv=0.05, dead=2.0):
    rng = np.random.default_rng(seed)
    x = np.array(xs, dtype=float)
    return x, 0.05 * (x - dead) * np.exp(cv * rng.standard_normal(len(x)))


X, Y = catches(np.repeat(np.linspace(10, 55, 9), 2), 9)
CURVES = {
    "least squares": fit_curve(X, Y, prior=None),
    "least squares, constant noise": fit_curve(X, Y, prior=None, noise="constant"),
    "line": fit_curve(X, Y, family="line", lowest=0.0, span=60.0),
    "line, constant noise": fit_curve(X, Y, family="line", noise="constant", lowest=0.0, span=60.0),
    "spline": fit_curve(X, Y, family="spline"),
    "spline, constant noise": fit_curve(X, Y, family="spline", noise="constant"),
}
