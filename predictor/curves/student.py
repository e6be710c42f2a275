"""Student-t probabilities for mixtures of many components with few different degrees of freedom."""

from functools import lru_cache
from itertools import pairwise

import numpy as np
from scipy.special import stdtr, stdtrit

from predictor.domain.control import Floats

# u = z / sqrt(4 + z^2) takes the whole line to (-1, 1); a straight line between this many points is wrong by less than
# 1e-7 (from two degrees of freedom up), which a test checks, and costs a twentieth of the exact function.
_POINTS = 8193
_U = np.linspace(-1.0, 1.0, _POINTS)

# Stretches of rows with equal degrees of freedom.
Segments = list[tuple[slice, float]]


@lru_cache(maxsize=512)
def _table(dof: float) -> tuple[Floats, Floats]:
    with np.errstate(divide="ignore"):
        values: Floats = np.asarray(stdtr(dof, 2 * _U / np.sqrt(1 - _U**2)), dtype=float)
    return values, np.diff(values)


def segments_of(dof: Floats) -> Segments:
    """Stretches of rows with equal degrees of freedom."""
    edges = [0, *(np.flatnonzero(np.diff(dof)) + 1).tolist(), len(dof)]
    return [(slice(start, stop), float(dof[start])) for start, stop in pairwise(edges)]


def mixture_cdf(segments: Segments, z: Floats) -> Floats:
    """Student-t distribution function, row by row."""
    with np.errstate(invalid="ignore"):
        place = z / np.sqrt(4 + z * z)
    # An infinite z is infinity over infinity above: put it at its end.
    lost = np.isnan(place)
    if lost.any():
        place[lost] = np.sign(z[lost])
    place = (place + 1.0) * (_POINTS - 1) / 2
    cell = np.minimum(place.astype(np.intp), _POINTS - 2)
    place -= cell
    result = np.empty_like(place)
    for rows, dof in segments:
        table, steps = _table(dof)
        result[rows] = table[cell[rows]] + place[rows] * steps[cell[rows]]
    return result


def quantiles(dof: Floats, shares: Floats) -> Floats:
    """Student-t quantiles, shape (K, m), for each of K degrees of freedom, few of them different."""
    values, inverse = np.unique(dof, return_inverse=True)
    return np.asarray(stdtrit(values[:, None], shares[None, :])[inverse])
