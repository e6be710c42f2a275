"""Whether catches were as repeatable in one season as in another, by a test that stands heavy tails."""

from __future__ import annotations

import numpy as np
from scipy import special

from predictor.domain.codes import Codes, coded
from predictor.domain.control import Floats
from predictor.lots.parallel import sums_of
from predictor.lots.results import SameRepeatability


def same_repeatability(residual: Floats, free: Floats, season: Codes, floor: float) -> SameRepeatability | None:
    """Test one repeatability for all seasons from residuals of which each has a part `free` of the scatter of a catch.

    Tests that compare variances, such as Bartlett's, take the normal shape for granted: with heavy tails they find
    differences that are not there. Sizes of residuals stand it. Residuals of one lot in one season depend on each
    other, so each counts by its part that is free: two catches of a lot tell as much as one.

    Gives None with fewer than two seasons, or with no degree of freedom left. `floor` is the least variance.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        size = np.maximum(np.abs(residual) / np.sqrt(free), np.sqrt(floor))
    known = (free > 1e-9) & (sums_of(free, season) >= 1 - 1e-9)[season]
    group = coded(season[known])[1]
    return levene(size[known], free[known], group)


def levene(size: Floats, weight: Floats, group: Codes) -> SameRepeatability | None:
    """Levene's test: an analysis of variance of the sizes of departures from a centre, each with a weight.

    Source: Levene (1960), in Contributions to Probability and Statistics, 278-292; Brown and Forsythe (1974), J. Am.
    Stat. Assoc. 69, 364-367 (other centres).
    """
    count = sums_of(weight, group)
    groups, df = len(count), float(count.sum()) - len(count)
    if groups < 2 or df < 0.5:
        return None
    mean = sums_of(size * weight, group) / count
    whole = float(size @ weight) / count.sum()
    within = float(weight @ (size - mean[group]) ** 2)
    if within <= 0:
        return None
    value = float(count @ (mean - whole) ** 2) / (groups - 1) / (within / df)
    return SameRepeatability("Levene", value, float(special.fdtrc(groups - 1, df, value)), groups)
