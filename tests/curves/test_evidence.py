"""The evidence of catches under a curve, against direct integration of the same model over all its unknowns."""

import numpy as np
import pytest

from predictor.curves.fit import fit_curve
from predictor.curves.prior import Prior, Repeatability

# A straight line with an unknown dead setting, so that three unknowns are left: dead setting, level and noise.
PRIOR = Prior(bend_spread=0.0, repeatability=((0.75, 0.03, 5.0), (0.25, 0.11, 8.0)))
SETTINGS = np.array([30.0, 36.0, 36.0, 42.0])


def directly(outputs):
    """Log evidence up to a constant: a sum over a fine grid of dead setting, log noise and log level."""
    dead = np.linspace(-0.6, SETTINGS.min() / 60 - 1e-4, 400)[:, None, None]
    log_sd = np.linspace(np.log(0.005), np.log(1.5), 120)[None, :, None]
    shape = np.log(SETTINGS[:, None, None, None] / 60 - dead)
    middle = float(np.mean(np.log(outputs) - np.log(SETTINGS / 60)))
    level = middle + np.linspace(-2.5, 2.5, 301)[None, None, :]
    variance = np.exp(2 * log_sd)
    total = PRIOR.log_density(dead, np.zeros(1)) + Repeatability(PRIOR.repeatability).log_density(log_sd)
    for each, y in zip(shape, np.log(outputs), strict=True):
        off = y - (level + each - variance / 2)  # noise with mean one
        total = total - 0.5 * (off**2 / variance + np.log(variance))
    return float(np.logaddexp.reduce(total, axis=None))


@pytest.mark.slow
@pytest.mark.parametrize("factor", [1.1, 1.5, 2.0, 4.0])
def test_evidence_changes_as_direct_integration_says(factor):
    outputs = 0.02 * SETTINGS * np.array([1.0, 1.03, 0.98, 1.01])
    changed = outputs * np.array([1.0, 1.0, 1.0, factor])
    fits = [fit_curve(SETTINGS, each, family="line", prior=PRIOR, span=60.0) for each in (outputs, changed)]
    found = fits[1].log_evidence - fits[0].log_evidence
    assert found == pytest.approx(directly(changed) - directly(outputs), abs=0.1)


def test_a_factor_common_to_all_catches_changes_no_evidence():
    outputs = 0.02 * SETTINGS * np.array([1.0, 1.03, 0.98, 1.01])
    fits = [fit_curve(SETTINGS, each, family="line", prior=PRIOR, span=60.0) for each in (outputs, 28.35 * outputs)]
    assert fits[1].log_evidence == pytest.approx(fits[0].log_evidence, abs=1e-6)
