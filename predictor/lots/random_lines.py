"""Lots that differ in level and in slope, as random effects, to the last digits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import optimize

from predictor.domain.control import Floats
from predictor.lots.parallel import Codes, sums_of

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
    sums = _sums(ys - offset, (xs - shift) / size, lot)
    # trial steps may run off to where the criterion has no value; only where the search ends matters
    with np.errstate(all="ignore"):
        theta = _best_theta(sums)
        least = math.nan if theta is None else float(sums.criterion(theta))
    if theta is None or not math.isfinite(least):
        raise ValueError("The data cannot separate level, slope and scatter.")
    found = sums.solve(theta)
    if not found.total > 1e-24 * sums.yy:
        raise ValueError("The lines leave no scatter, so nothing can be estimated from it.")
    within = found.total / (sums.n - 2)
    factor = np.array([[theta[0], 0.0], [theta[1], theta[2]]])
    rest = [
        sums.y - sums.count * found.beta[0] - sums.x * found.beta[1],
        sums.xy - sums.x * found.beta[0] - sums.xx * found.beta[1],
    ]
    g, h = factor.T @ rest
    d, b, a = found.small
    blup = (factor @ np.stack([d * g + b * h, b * g + a * h])).T
    back = np.array([[1.0, -shift / size], [0.0, 1 / size]])
    return RandomLines(
        beta=back @ found.beta + np.array([offset, 0.0]),
        se=np.sqrt(np.diag(back @ (within * np.linalg.inv(found.info)) @ back.T)),
        cov=within * back @ factor @ factor.T @ back.T,
        within=within,
        criterion=least + 2 * math.log(size),
        blup=blup @ back.T,
    )


@dataclass(frozen=True, eq=False)
class _Solved:
    """Generalised least squares at one relative factor."""

    beta: Numbers
    info: Numbers
    info_det: Any
    total: Any  # Weighted sum of squares
    det: Numbers  # Determinant of each lot's part, and the entries of its inverse
    small: tuple[Numbers, Numbers, Numbers]


@dataclass(frozen=True, eq=False)
class _Sums:
    """Sums over the catches of each lot, shape (L,): number, x, x^2, y, x y; and the sum of y^2 over all n."""

    n: int
    count: Floats
    x: Floats
    xx: Floats
    y: Floats
    xy: Floats
    yy: float

    def solve(self, theta: Numbers) -> _Solved:
        """Fit at this relative factor.

        Lot by lot V^-1 = 1 - Z T (1 + T'Z'Z T)^-1 T'Z', written out for 2 x 2, so that complex steps pass through and
        thousands of lots cost a few passes over columns.
        """
        t1, t2, t3 = theta
        p, r = self.count * t1 + self.x * t2, self.x * t3  # Z'Z T
        u, v = self.x * t1 + self.xx * t2, self.xx * t3
        a, b, d = 1 + t1 * p + t2 * u, t1 * r + t2 * v, 1 + t3 * v
        det = a * d - b * b
        a, b, d = a / det, b / det, d / det
        g, h = t1 * self.y + t2 * self.xy, t3 * self.xy  # T'Z'y
        left, right = d * g - b * h, a * h - b * g
        cross = self.x.sum() - (d * p * u - b * (p * v + r * u) + a * r * v).sum()
        first = self.count.sum() - (d * p * p - 2 * b * p * r + a * r * r).sum()
        last = self.xx.sum() - (d * u * u - 2 * b * u * v + a * v * v).sum()
        level, slope = (self.y - p * left - r * right).sum(), (self.xy - u * left - v * right).sum()
        info_det = first * last - cross * cross
        beta = np.array([last * level - cross * slope, first * slope - cross * level]) / info_det
        total = self.yy - (g * left + h * right).sum() - beta[0] * level - beta[1] * slope
        return _Solved(beta, np.array([[first, cross], [cross, last]]), info_det, total, det, (d, -b, a))

    def criterion(self, theta: Numbers) -> Any:
        """-2 x the restricted log likelihood, profiled over everything but the relative factor."""
        found, free = self.solve(theta), self.n - 2
        return free * (1 + np.log(2 * np.pi * found.total / free)) + np.log(found.det).sum() + np.log(found.info_det)


def _sums(y: Floats, x: Floats, lot: Codes) -> _Sums:
    count, *sums = (sums_of(each, lot) for each in (np.ones_like(x), x, x * x, y, x * y))
    return _Sums(len(y), count, sums[0], sums[1], sums[2], sums[3], float(y @ y))


def _best_theta(sums: _Sums) -> Floats | None:
    """Relative factor at which the criterion is least; None where it has no least value."""

    def gradient(theta: Floats) -> Floats:
        step = 1e-30
        return np.array([sums.criterion(theta + 1j * step * unit).imag / step for unit in np.eye(3)])

    def value(theta: Floats) -> float:
        found = float(sums.criterion(theta.astype(complex)).real)
        return found if math.isfinite(found) else 1e300  # steps that ran off are turned back

    found = [
        optimize.minimize(value, [scale, 0.0, scale], jac=gradient, method="BFGS", options={"gtol": 1e-7 * sums.n})
        for scale in (0.3, 1.0, 3.0)
    ]
    found = [result for result in found if np.isfinite(result.x).all() and result.fun < 1e299]
    if not found:
        return None
    theta: Floats = min(found, key=lambda result: float(result.fun)).x
    for _ in range(12):
        now = gradient(theta)
        if not np.isfinite(now).all():
            return None
        bend = np.column_stack(
            [(gradient(theta + 1e-5 * unit) - gradient(theta - 1e-5 * unit)) / 2e-5 for unit in np.eye(3)]
        )
        if not np.isfinite(bend).all():
            break
        step = np.linalg.lstsq((bend + bend.T) / 2, now, rcond=1e-10)[0]
        if not np.abs(gradient(theta - step)).max() < np.abs(now).max():  # also where there is no number
            break
        theta = theta - step
    return theta * np.where(np.array([theta[0], theta[0], theta[2]]) < 0, -1.0, 1.0)
