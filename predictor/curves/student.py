"""Student-t probabilities for mixtures of many components with few different degrees of freedom."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.special import stdtr, stdtrit

# u = z / sqrt(4 + z^2) takes the whole line to (-1, 1); a straight line between this many points is wrong by less than
# 1e-7 (from two degrees of freedom up), which a test checks, and costs a twentieth of the exact function.
_POINTS = 8193
_U = np.linspace(-1.0, 1.0, _POINTS)


@lru_cache(maxsize=512)
def _table(dof: float) -> tuple[np.ndarray, np.ndarray]:
    with np.errstate(divide="ignore"):
        values = stdtr(dof, 2 * _U / np.sqrt(1 - _U**2))
    return values, np.diff(values)


def segments_of(dof: np.ndarray):
    """Stretches of rows with equal degrees of freedom, each with its table."""
    edges = np.flatnonzero(np.diff(dof)) + 1
    ends = zip(np.r_[0, edges].tolist(), np.r_[edges, len(dof)].tolist(), strict=True)
    return [(slice(start, stop), *_table(float(dof[start]))) for start, stop in ends]


def mixture_cdf(segments, z: np.ndarray) -> np.ndarray:
    """Student-t distribution function, row by row."""
    with np.errstate(invalid="ignore"):
        place = z / np.sqrt(4 + z * z)
    # an infinite z is infinity over infinity above: put it at its end
    lost = np.isnan(place)
    if lost.any():
        place[lost] = np.sign(z[lost])
    place = (place + 1.0) * (_POINTS - 1) / 2
    cell = np.minimum(place.astype(np.intp), _POINTS - 2)
    place -= cell
    result = np.empty_like(place)
    for rows, table, steps in segments:
        result[rows] = table[cell[rows]] + place[rows] * steps[cell[rows]]
    return result


def quantiles(dof: np.ndarray, share: float) -> np.ndarray:
    """Student-t quantile for each of k degrees of freedom, few of them different."""
    values, inverse = np.unique(dof, return_inverse=True)
    return stdtrit(values, share)[inverse]
