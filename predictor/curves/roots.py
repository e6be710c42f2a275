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


def middle_bracket(function: Function, roots: Floats, weight: Floats, slack: float) -> tuple[Floats, Floats]:
    """Brackets for the root of a mixture, from the roots of its parts, shape (K, m).

    The middle mass of the parts' roots where it holds the root. The outermost parts, with next to no weight, would
    make the bracket thousands of times too wide.
    """
    order = np.argsort(roots, axis=0)
    ranked = np.take_along_axis(roots, order, axis=0)
    mass = np.cumsum(weight[order], axis=0)
    columns, last = np.arange(roots.shape[1]), len(weight) - 1
    near_low = ranked[np.minimum((mass < 0.05).sum(axis=0), last), columns]
    near_high = ranked[np.minimum((mass < 0.95).sum(axis=0), last), columns]
    at_low, at_high = function(near_low), function(near_high)
    low = np.where(at_low <= 0, near_low, ranked[0] - slack)
    high = np.where(at_high >= 0, near_high, ranked[-1] + slack)
    # A root outside the middle mass lies between its end and the outermost part.
    return np.where(at_high < 0, near_high, low), np.where(at_low > 0, near_low, high)


def logit(share: Floats) -> Floats:
    """Log odds; nearly straight in the tails of a mixture, where roots are looked for."""
    share = np.clip(share, 1e-12, 1 - 1e-12)
    return np.log(share / (1 - share))
