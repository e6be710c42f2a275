"""The prior's density, against an independent implementation."""

import numpy as np
import pytest

from predictor.curves.prior import Prior, cold_prior

AT = np.linspace(-0.4, 0.5, 7)


def against_the_first(values):
    """The density is known up to a constant."""
    return values - values[0]


def test_without_a_bend_the_density_is_a_student_t():
    """Against scipy.stats.t."""
    from scipy import stats

    prior = Prior(dead=0.05, dead_spread=0.1, bend_spread=0.0, tails=5.0)
    theirs = stats.t(5.0, loc=0.05, scale=0.1).logpdf(AT)
    assert against_the_first(prior.log_density(AT, AT)) == pytest.approx(against_the_first(theirs), rel=1e-9)


@pytest.mark.parametrize("correlation", [0.0, -0.7])
def test_with_a_bend_the_density_is_a_bivariate_student_t(correlation):
    """Against scipy.stats.multivariate_t."""
    from scipy import stats

    prior = Prior(dead=0.05, dead_spread=0.1, bend=1.2, bend_spread=0.2, correlation=correlation, tails=4.0)
    shape = [[0.01, 0.02 * correlation], [0.02 * correlation, 0.04]]
    theirs = stats.multivariate_t([0.05, np.log(1.2)], shape, df=4.0).logpdf(np.column_stack([AT, AT[::-1]]))
    assert against_the_first(prior.log_density(AT, AT[::-1])) == pytest.approx(against_the_first(theirs), rel=1e-9)


def test_chaffy_seed_is_expected_to_scatter_more():
    assert cold_prior("chaffy").typical_cv > cold_prior("small").typical_cv
    assert cold_prior("small") == cold_prior(None)
