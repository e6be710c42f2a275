"""Student-t mixtures, roots and the repeatability before and after catches."""

import numpy as np
import pytest

from predictor.curves import fit_curve
from predictor.curves.prior import Repeatability
from predictor.curves.roots import increasing_root
from predictor.curves.student import mixture_cdf, quantiles, segments_of
from tests.curves.made_up import catches


def test_student_table_is_right_to_its_promise():
    """Against scipy.special.stdtr."""
    from scipy.special import stdtr

    z = np.linspace(-60, 60, 20_001)[None, :]
    for dof, promise in ((2.0, 1e-7), (3.0, 1e-7), (6.0, 1e-7), (29.0, 1e-7), (1e4, 1e-7)):
        assert np.max(np.abs(mixture_cdf(segments_of(np.array([dof])), z) - stdtr(dof, z))) < promise
    ends = mixture_cdf(segments_of(np.array([3.0])), np.array([[-np.inf, np.inf]]))
    assert ends.tolist() == [[0.0, 1.0]]


def test_a_root_that_is_never_close_enough_is_the_best_found():
    found = increasing_root(lambda x: x - 0.3, np.zeros(1), np.ones(1), tolerance=-1.0, closeness=-1.0)
    assert found == pytest.approx([0.3])


def test_single_rows_and_earlier_knowledge_narrow_the_noise():
    x, y = catches([30, 32], 6)
    plain = fit_curve(x, y, lowest=0.0, span=60.0)
    told = fit_curve(x, y, lowest=0.0, span=60.0, extra_noise=(0.02, 20.0))
    assert told.cv < plain.cv


def test_noise_is_never_below_what_the_scale_can_show():
    curve = fit_curve([30, 30, 30, 40], [1.0, 1.0, 1.0, 1.34], lowest=0.0, span=60.0, noise_floor=0.2)
    assert curve.cv >= 0.2


def test_single_rows_tell_a_wild_box_from_a_tame_one():
    x, y = catches([30], 1)
    tame = fit_curve(x, y, lowest=0.0, span=60.0, extra_noise=(0.03, 10.0))
    wild = fit_curve(x, y, lowest=0.0, span=60.0, extra_noise=(0.13, 10.0))
    assert tame.cv < 0.05
    assert wild.cv > 0.10


def test_quantiles_undo_the_distribution_function():
    dof, shares = np.array([3.0, 3.0, 8.0]), np.array([0.01, 0.5, 0.9])
    found = mixture_cdf(segments_of(dof), quantiles(dof, shares))
    assert found == pytest.approx(np.broadcast_to(shares, (3, 3)), abs=1e-7)


def test_scatter_moves_the_repeatability_by_what_it_is_worth():
    """Scaled inverse chi-square with one kind: worth adds up, variances average by worth (Gelman et al. 2013, 2.6)."""
    seen = Repeatability(((1.0, 0.04, 6.0),)).after(square=12 * 0.08**2, df=12)
    ((share, cv, worth),) = seen.kinds
    assert (share, worth) == (1.0, 18.0)
    assert cv**2 == pytest.approx((6 * 0.04**2 + 12 * 0.08**2) / 18)
    assert seen.cv == pytest.approx(cv)
