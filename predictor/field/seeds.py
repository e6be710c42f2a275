"""Limits of a number of seeds that were counted in a row."""

from __future__ import annotations

import math

from scipy.special import gammaincinv

# Half width of normal 95 % limits in standard deviations.
NORMAL_95 = 1.959963984540054


def poisson_limits(count: float, level: float = 0.95) -> tuple[float, float]:
    """Exact limits for the mean of which a count is one draw.

    Source: Garwood (1936), Biometrika 28, 437-442.
    """
    tail = (1 - level) / 2
    lower = float(gammaincinv(count, tail)) if count > 0 else 0.0
    return lower, float(gammaincinv(count + 1, 1 - tail))


def counted_limits(seeds: float, log_sd: float) -> tuple[float, float]:
    """95 % limits of a mean by Poisson, widened by the error of the number of seeds that it is held against.

    The logarithms of both are added in quadrature, on each side.
    """
    lower, upper = poisson_limits(seeds)
    reach = NORMAL_95 * log_sd
    if seeds == 0:
        return 0.0, upper * math.exp(reach)
    down, up = math.hypot(math.log(seeds / lower), reach), math.hypot(math.log(upper / seeds), reach)
    return seeds * math.exp(-down), seeds * math.exp(up)
