"""Where a function of one number is nought. To load the library's root finder takes longer than to compare lots."""

from __future__ import annotations

import math
from collections.abc import Callable

MOST_STEPS = 200


def root_between(of: Callable[[float], float], low: float, high: float, *, near: float = 1e-12) -> float:
    """The root of a function with different signs at both ends, to `near` or to the last digit.

    Source: Chandrupatla (1997), Advances in Engineering Software 28, 145-149 (from memory): inverse quadratic steps
    where three points call for one, else halving. A test holds it against `scipy.optimize.brentq`.
    """
    new, old, before = high, low, low  # the last point, the other end of the bracket, and the point left behind
    f_new, f_old = of(new), of(old)
    if f_new == 0 or f_old == 0:
        return new if f_new == 0 else old
    if (f_new > 0) == (f_old > 0):
        raise ValueError(f"No root lies between {low:g} and {high:g}: the function has one sign at both.")
    share = 0.5
    for _ in range(MOST_STEPS):
        at = new + share * (old - new)
        f_at = of(at)
        if (f_at > 0) == (f_new > 0):
            before, f_before = new, f_new
        else:
            before, f_before, old, f_old = old, f_old, new, f_new
        new, f_new = at, f_at
        best = new if abs(f_new) < abs(f_old) else old
        least = (2 * math.ulp(best) + near / 2) / abs(old - new) if old != new else 1.0
        if least > 0.5 or f_new == 0:
            return best
        xi, phi = (new - old) / (before - old), (f_new - f_old) / (f_before - f_old)
        share = 0.5
        if phi**2 < xi and (1 - phi) ** 2 < 1 - xi:
            share = f_new / (f_old - f_new) * f_before / (f_old - f_before)
            share += (before - new) / (old - new) * f_new / (f_before - f_new) * f_old / (f_before - f_old)
        share = min(max(share, least), 1 - least)
    return best
