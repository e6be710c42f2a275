"""Where the mean catch lies, by the very probabilities that `chance` is made of."""

from __future__ import annotations

import numpy as np

from predictor.advice.result import Advice
from predictor.domain.control import Floats


def band(advice: Advice, openings: Floats) -> tuple[Floats, Floats]:
    """Limits of the mean at openings, grams over the next catch, with equal tails and the confidence of the advice."""
    assert advice.curve is not None
    left = (1 - advice.confidence) / 2
    lower, upper = (
        advice.curve.quantile(openings, share, extra_variance=advice.shared_sd**2) for share in (left, 1 - left)
    )
    size = advice.next_turns * advice.next_rows
    return np.maximum(lower, 0.0) * size, np.maximum(upper, 0.0) * size


def bar(advice: Advice, opening: float) -> tuple[float, float]:
    """Limits of the mean at one opening that lie inside the target zone where, and only where, it is sure enough.

    They hold the mean with the confidence of the advice, 95 in 100, whatever they show. Among all limits that do, they
    have equal tails, unless others fit the zone; then they are the nearest to those that fit. Limits that fit exist
    where, and only where, the chance is at least the confidence: what lies beyond the zone is then no more than what
    lies beyond the limits. Equal tails alone would not do. They lie inside only where the chance is enough, but a
    setting is seldom right in the middle of the zone: `python -m tests.benchmarks.bench_bar` found them to reach out of
    it at 36 of 80 settings that were sure enough, and these limits at none.
    """
    curve, aim, shared = advice.curve, advice.aim, advice.shared_sd**2
    assert curve is not None
    left = 1 - aim.confidence
    # so the probability of no output at all, which some curves have, counts to the lower tail
    below = 1 - curve.probability(opening, aim.low, np.inf, shared)
    above = curve.probability(opening, aim.high, np.inf, shared)
    fits = curve.probability(opening, aim.low, aim.high, shared) >= aim.confidence
    lower_tail = min(max(left / 2, below), left - above) if fits else left / 2
    # a tail of nothing has no end: what reaches the end of the zone is cut there
    shares = np.clip([lower_tail, 1 - left + lower_tail], 1e-12, 1 - 1e-12)
    lower, upper = np.maximum(curve.quantile(opening, shares, extra_variance=shared), 0.0).tolist()
    if fits:
        lower, upper = max(lower, aim.low), min(upper, aim.high)
    size = advice.next_turns * advice.next_rows
    return lower * size, upper * size
