"""The classical line against a reference library, and the sets of settings it gives."""

import numpy as np
import pytest
from hypothesis import given, strategies as st

from predictor.curves import fit_curve
from predictor.curves.classical import _quadratic_set


@pytest.mark.slow
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


@pytest.mark.parametrize(
    ("a", "b", "c", "pieces"),
    [
        (0.0, 0.0, -1.0, ((-np.inf, np.inf),)),
        (0.0, 0.0, 1.0, ()),
        (0.0, 2.0, -4.0, ((-np.inf, 11.0),)),
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


@pytest.mark.parametrize("noise", ["proportional", "constant"])
def test_catches_without_any_scatter_leave_one_setting_and_not_none(noise):
    """Reference: exact arithmetic. The outputs are 2 x / 84, so 1/3 is reached at 14 and nowhere else."""
    x = np.array([10.0, 12, 14, 16, 18])
    found = fit_curve(x, 2 * x / 84, prior=None, noise=noise).setting_for(28 / 84)
    assert (found.estimate, found.lower, found.upper) == pytest.approx((14.0, 14.0, 14.0), rel=1e-12)
    assert found.shape == "finite"
