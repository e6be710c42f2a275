"""What a check for slips weighs: how likely a slip is, and whether the rate would be out of tolerance if it is one."""

from __future__ import annotations

import numpy as np

from predictor.curves.base import Curve
from predictor.domain.control import Floats
from predictor.slips.seen import Seen

# A slip that is this likely is told, and a lock waits for it.
LIKELY = 0.2
# Where next to nothing is expected, no factor says how much more came.
LEAST_EXPECTED = 1e-6


def probability(prior: float, log_factor: float, log_choices: float = 0.0) -> float:
    """Probability of a slip, given how many times as probable it makes the catches (natural logarithm).

    Where it is one of many like it, the prior is shared among them; their number is given by its logarithm, since it
    may be larger than any float.
    """
    log_prior = np.log(prior) - log_choices
    log_odds = log_prior - np.log1p(-np.exp(log_prior)) + log_factor
    return float(1 / (1 + np.exp(-np.clip(log_odds, -700, 700))))


def log_times(output: Floats, expected: Floats) -> Floats:
    """How many times as much came as was expected, as a logarithm; at most a million times."""
    return np.asarray(np.log(output / np.maximum(expected, LEAST_EXPECTED * output)))


def lock_opening(seen: Seen) -> float:
    """Of the settings caught, the one most surely on target: the one that would be locked."""
    caught = np.unique(seen.used.opening)
    return float(caught[np.argmax(np.atleast_1d(seen.curve.probability(caught, seen.low, seen.high)))])


def spoils_lock(seen: Seen, curve: Curve) -> bool:
    """Whether the setting that would be locked is less sure than the confidence by another curve."""
    return float(curve.probability(lock_opening(seen), seen.low, seen.high)) < seen.confidence
