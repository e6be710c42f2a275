"""Roots of increasing functions, many at once."""

from collections.abc import Callable

import numpy as np

from predictor.domain.control import Floats

Function = Callable[[Floats], Floats]


def increasing_root(
    function: Function, low: Floats, high: Floats, tolerance: float = 1e-12, closeness: float = 0.0
) -> Floats:
    """Where an increasing function crosses zero, for many brackets at once.

    Source: Regula falsi with the Illinois weight, Dowell & Jarratt (1971), BIT 11, 168-174 (cited from memory). Every
    third step halves the bracket.
    """
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    below, above = function(low), function(high)
    last = x = 0.5 * (low + high)
    for step in range(120):
        if step % 3 == 2:
            x = 0.5 * (low + high)
        else:
            with np.errstate(divide="ignore", invalid="ignore"):
                x = low - below * (high - low) / (above - below)
            x = np.where((x > low) & (x < high), x, 0.5 * (low + high))
        value = function(x)
        up = value >= 0
        # An end that stays twice loses half its weight, so that the other moves too.
        below = np.where(up, below * np.where(last >= x, 0.5, 1.0), value)
        above = np.where(up, value, above * np.where(last <= x, 0.5, 1.0))
        low, high = np.where(up, low, x), np.where(up, x, high)
        moved = np.abs(x - last)
        last = x
        if np.all(
            (high - low <= tolerance) | (np.abs(value) <= closeness) | ((moved <= 0.01 * tolerance) & (step % 3 != 2))
        ):
            break
    return x


def share_root(
    function: Callable[[Floats], tuple[Floats, Floats]],
    shares: Floats,
    start: Floats,
    low: Floats,
    high: Floats,
    tolerance: float,
) -> Floats:
    """Where distribution functions reach given shares: Newton steps on log odds, kept inside brackets.

    `function` gives the distribution functions at some points, and their slopes; all arrays are of shape (m,).
    """
    goal, low, high = logit(shares), low.copy(), high.copy()
    x = np.clip(start, low, high)
    for _ in range(60):
        value, slope = function(x)
        off = logit(value) - goal
        np.copyto(high, x, where=off >= 0)
        np.copyto(low, x, where=off <= 0)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            step = np.where(off == 0, 0.0, off * value * (1 - value) / slope)
        after = x - step
        there = np.abs(step) <= tolerance
        x = np.where(there | ((after > low) & (after < high)), after, 0.5 * (low + high))
        if np.all(there | (high - low <= tolerance)):
            break
    return x


def weighted_median(values: Floats, weight: Floats) -> Floats:
    """Median of each column of `values`, shape (K, m), under weights of shape (K,) that add to 1."""
    order = np.argsort(values, axis=0)
    middle = (np.cumsum(weight[order], axis=0) < 0.5).sum(axis=0)
    return np.asarray(
        np.take_along_axis(values, order, axis=0)[np.minimum(middle, len(weight) - 1), np.arange(values.shape[1])]
    )


def logit(share: Floats) -> Floats:
    """Log odds; nearly straight in the tails of a mixture, where roots are looked for."""
    share = np.clip(share, 1e-12, 1 - 1e-12)
    return np.log(share / (1 - share))
