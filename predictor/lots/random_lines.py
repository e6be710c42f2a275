"""Lots that differ in level and in slope, as random effects, to the last digits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from predictor.domain.codes import Codes
from predictor.domain.control import Floats
from predictor.lots.parallel import sums_of

# Real, or complex where a derivative is taken by a complex step.
Numbers = npt.NDArray[Any]


@dataclass(frozen=True, eq=False)
class RandomLines:
    """Lots that differ in level and slope, by restricted maximum likelihood."""

    beta: Floats  # Level at x = 0 and slope of the average lot; standard errors
    se: Floats
    cov: Floats  # Covariance of the lots' departures in level and slope
    within: float  # Variance between catches of a lot at one x
    criterion: float  # -2 x the restricted log likelihood
    blup: Floats  # Predicted departures of each lot


def random_lines(y: npt.ArrayLike, x: npt.ArrayLike, group: npt.ArrayLike) -> RandomLines:
    """Fit y = (level + lot) + (slope + lot's slope) x + catch, with lots and catches normal.

    The profiled criterion is a function of the three entries of the relative Cholesky factor. Its gradient is taken
    by complex steps, exact to rounding, and its root by Newton, so the digits do not end where an optimiser stops.

    Source: Laird and Ware (1982), Biometrics 38, 963-974. Bates and DebRoy (2004), J. Multivar. Anal. 91, 1-17
    (profile in the relative factor). Squire and Trapp (1998), SIAM Rev. 40, 110-112 (complex steps).
    """
    ys, xs, lot = np.asarray(y, dtype=float), np.asarray(x, dtype=float), np.asarray(group)
    lots = int(lot.max()) + 1
    if lots < 3 or len(ys) < lots + 4:
        raise ValueError(f"Lots that differ in two ways need at least 3 lots and {lots + 4} catches.")
    shift, size, offset = float(xs.mean()), float(xs.std()) or 1.0, float(ys.mean())
    sums = _Sums(ys - offset, (xs - shift) / size, lot)
    # trial steps may run off to where the criterion has no value; only where the search ends matters
    with np.errstate(all="ignore"):
        theta = _best_theta(sums)
        found = _Solved(sums, theta)
    if not math.isfinite(found.criterion):
        raise ValueError("The data cannot separate level, slope and scatter.")
    within = float(found.total) / (sums.n - 2)
    factor = np.array([[theta[0], 0.0], [theta[1], theta[2]]])
    level, slope = found.beta
    g, h = factor.T @ [sums.y - sums.count * level - sums.x * slope, sums.xy - sums.x * level - sums.xx * slope]
    d, b, a = found.small
    blup = (factor @ np.stack([d * g + b * h, b * g + a * h])).T
    back = np.array([[1.0, -shift / size], [0.0, 1 / size]])
    return RandomLines(
        beta=back @ found.beta + np.array([offset, 0.0]),
        se=np.sqrt(np.diag(back @ (within * np.linalg.inv(found.info)) @ back.T)),
        cov=within * back @ factor @ factor.T @ back.T,
        within=within,
        criterion=float(found.criterion) + 2 * math.log(size),
        blup=blup @ back.T,
    )


class _Sums:
    """Sums over the catches of each lot, shape (L,): number, x, x^2, y, x y; and the sum of y^2 over all n."""

    def __init__(self, y: Floats, x: Floats, lot: Codes):
        self.n, self.yy = len(y), float(y @ y)
        self.count, self.x, self.xx, self.y, self.xy = (
            sums_of(each, lot) for each in (np.ones_like(x), x, x * x, y, x * y)
        )


class _Solved:
    """Generalised least squares at one relative factor.

    Lot by lot V^-1 = 1 - Z T (1 + T'Z'Z T)^-1 T'Z', written out for 2 x 2, so that complex steps pass through and
    thousands of lots cost a few passes over columns.
    """

    def __init__(self, sums: _Sums, theta: Numbers):
        t1, t2, t3 = theta
        p, r = sums.count * t1 + sums.x * t2, sums.x * t3  # Z'Z T
        u, v = sums.x * t1 + sums.xx * t2, sums.xx * t3
        a, b, d = 1 + t1 * p + t2 * u, t1 * r + t2 * v, 1 + t3 * v
        det = a * d - b * b
        a, b, d = a / det, b / det, d / det
        g, h = t1 * sums.y + t2 * sums.xy, t3 * sums.xy  # T'Z'y
        left, right = d * g - b * h, a * h - b * g
        cross = sums.x.sum() - (d * p * u - b * (p * v + r * u) + a * r * v).sum()
        first = sums.count.sum() - (d * p * p - 2 * b * p * r + a * r * r).sum()
        last = sums.xx.sum() - (d * u * u - 2 * b * u * v + a * v * v).sum()
        level, slope = (sums.y - p * left - r * right).sum(), (sums.xy - u * left - v * right).sum()
        info_det = first * last - cross * cross
        self.small = d, -b, a  # inverse of each lot's part
        self.info: Numbers = np.array([[first, cross], [cross, last]])
        self.beta: Numbers = np.array([last * level - cross * slope, first * slope - cross * level]) / info_det
        self.total = sums.yy - (g * left + h * right).sum() - self.beta[0] * level - self.beta[1] * slope
        # -2 x the restricted log likelihood, profiled over everything but the relative factor
        free = sums.n - 2
        self.criterion = free * (1 + np.log(2 * np.pi * self.total / free)) + np.log(det).sum() + np.log(info_det)


def _best_theta(sums: _Sums) -> Floats:
    """Relative factor at which the criterion is least; where it has no least value, one at which it is not finite."""
    from scipy import optimize

    def gradient(theta: Floats) -> Floats:
        step = 1e-30
        return np.array([_Solved(sums, theta + 1j * step * unit).criterion.imag / step for unit in np.eye(3)])

    def value(theta: Floats) -> float:
        found = float(_Solved(sums, theta.astype(complex)).criterion.real)
        return found if math.isfinite(found) else 1e300  # steps that ran off are turned back

    found = [
        optimize.minimize(value, [scale, 0.0, scale], jac=gradient, method="BFGS", options={"gtol": 1e-7 * sums.n})
        for scale in (0.3, 1.0, 3.0)
    ]
    theta: Floats = min(found, key=lambda result: float(result.fun)).x
    for _ in range(12):
        now = gradient(theta)
        bend = np.column_stack(
            [(gradient(theta + 1e-5 * unit) - gradient(theta - 1e-5 * unit)) / 2e-5 for unit in np.eye(3)]
        )
        if not (np.isfinite(now).all() and np.isfinite(bend).all()):
            break
        step = np.linalg.lstsq((bend + bend.T) / 2, now, rcond=1e-10)[0]
        if not np.abs(gradient(theta - step)).max() < np.abs(now).max():  # also where there is no number
            break
        theta = theta - step
    return theta * np.where(np.array([theta[0], theta[0], theta[2]]) < 0, -1.0, 1.0)
