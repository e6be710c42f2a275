"""Lots that differ in level and in slope, as random effects, to the last digits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize


@dataclass(frozen=True)
class RandomLines:
    """Lots that differ in level and slope, by REML."""

    beta: np.ndarray  # Level at x = 0 and slope of the average lot; standard errors
    se: np.ndarray
    cov: np.ndarray  # Covariance of the lots' departures in level and slope
    within: float  # Variance between catches of a lot at one x
    criterion: float  # -2 x the restricted log likelihood
    blup: np.ndarray  # Predicted departures of each lot
    beta_cov: np.ndarray  # Covariance of `beta`


def random_lines(y, x, group) -> RandomLines:
    """REML for y = (level + lot) + (slope + lot's slope) x + catch.

    The profiled criterion is a function of the three entries of the relative Cholesky factor; its gradient is taken
    by complex steps, exact to rounding, and its root by Newton, so the digits do not end where an optimiser stops.

    Source: Laird and Ware (1982), Biometrics 38, 963-974. Bates and DebRoy (2004), J. Multivar. Anal. 91, 1-17
    (profile in the relative factor). Squire and Trapp (1998), SIAM Rev. 40, 110-112 (complex steps).
    """
    y, x, group = np.asarray(y, dtype=float), np.asarray(x, dtype=float), np.asarray(group)
    lots = int(group.max()) + 1
    if lots < 3 or len(y) < lots + 4:
        raise ValueError(f"Lots that differ in two ways need at least 3 lots and {lots + 4} catches.")
    shift, size, offset = float(x.mean()), float(x.std()) or 1.0, float(y.mean())
    parts = _line_parts(y - offset, (x - shift) / size, group)
    # trial steps may run off where the criterion has no value; only where the search ends matters
    with np.errstate(all="ignore"):
        theta = _best_theta(parts, len(y), lots)
        least = math.nan if theta is None else float(_lines_criterion(parts, theta, len(y)).real)
    if not math.isfinite(least):
        raise ValueError("Level, slope and catches cannot be told apart in these data.")
    beta, info, total, small = _lines_at(parts, theta, len(y))
    if not total > 1e-24 * parts.yy:
        raise ValueError("The lines fit without any scatter left: nothing can be told from it.")
    within = total / (len(y) - 2)
    factor = np.array([[theta[0], 0.0], [theta[1], theta[2]]])
    beta_cov = within * np.linalg.inv(info)
    rest = np.stack(
        [parts.y - parts.count * beta[0] - parts.x * beta[1], parts.xy - parts.x * beta[0] - parts.xx * beta[1]]
    )
    g, h = factor.T @ rest
    d, b, a = small
    blup = (factor @ np.stack([d * g + b * h, b * g + a * h])).T
    back = np.array([[1.0, -shift / size], [0.0, 1 / size]])
    moved = back @ beta + np.array([offset, 0.0])
    cov = within * back @ factor @ factor.T @ back.T
    beta_cov = back @ beta_cov @ back.T
    value = least + 2 * math.log(size)
    return RandomLines(moved, np.sqrt(np.diag(beta_cov)), cov, within, value, blup @ back.T, beta_cov)


@dataclass(frozen=True)
class _Parts:
    """Sums over the catches of each lot, shape (L,): number, x, x^2, y, x y; and the sum of y^2 over all."""

    count: np.ndarray
    x: np.ndarray
    xx: np.ndarray
    y: np.ndarray
    xy: np.ndarray
    yy: float


def _line_parts(y, x, group) -> _Parts:
    def total(values):
        return np.bincount(group, weights=values)

    return _Parts(total(np.ones_like(x)), total(x), total(x * x), total(y), total(x * y), float(y @ y))


def _lines_pieces(parts: _Parts, theta):
    """Information, right side, y'V^-1 y and each lot's determinant and inverse at a relative factor.

    Lot by lot V^-1 = 1 - Z T (1 + T'Z'Z T)^-1 T'Z', written out for 2 x 2, so that complex steps pass through and
    thousands of lots cost a few passes over columns.
    """
    t1, t2, t3 = theta
    p, r = parts.count * t1 + parts.x * t2, parts.x * t3  # Z'Z T
    u, v = parts.x * t1 + parts.xx * t2, parts.xx * t3
    a, b, d = 1 + t1 * p + t2 * u, t1 * r + t2 * v, 1 + t3 * v
    det = a * d - b * b
    a, b, d = a / det, b / det, d / det
    g, h = t1 * parts.y + t2 * parts.xy, t3 * parts.xy  # T'Z'y
    left, right = d * g - b * h, a * h - b * g
    cross = parts.x.sum() - (d * p * u - b * (p * v + r * u) + a * r * v).sum()
    info = np.array(
        [
            [parts.count.sum() - (d * p * p - 2 * b * p * r + a * r * r).sum(), cross],
            [cross, parts.xx.sum() - (d * u * u - 2 * b * u * v + a * v * v).sum()],
        ]
    )
    vector = np.array([(parts.y - p * left - r * right).sum(), (parts.xy - u * left - v * right).sum()])
    return info, vector, parts.yy - (g * left + h * right).sum(), det, (d, -b, a)


def _lines_criterion(parts: _Parts, theta, n):
    info, vector, square, det, _ = _lines_pieces(parts, theta)
    info_det = info[0, 0] * info[1, 1] - info[0, 1] * info[1, 0]
    total = (
        square
        - (info[1, 1] * vector[0] ** 2 - 2 * info[0, 1] * vector[0] * vector[1] + info[0, 0] * vector[1] ** 2)
        / info_det
    )
    return (n - 2) * (1 + np.log(2 * np.pi * total / (n - 2))) + np.log(det).sum() + np.log(info_det)


def _lines_at(parts: _Parts, theta, n):
    info, vector, square, _, small = _lines_pieces(parts, theta)
    beta = np.linalg.solve(info, vector)
    return beta, info, float(square - vector @ beta), small


def _best_theta(parts: _Parts, n: int, lots: int) -> np.ndarray | None:
    """Where the criterion is least; None where it has no least value."""

    def gradient(theta):
        step = 1e-30
        return np.array([_lines_criterion(parts, theta + 1j * step * unit, n).imag / step for unit in np.eye(3)])

    def value(theta):
        found = float(_lines_criterion(parts, theta.astype(complex), n).real)
        return found if math.isfinite(found) else 1e300  # steps that ran off are turned back

    starts = [np.array([scale, 0.0, scale]) for scale in (0.3, 1.0, 3.0)]
    found = [
        optimize.minimize(value, start, jac=gradient, method="BFGS", options={"gtol": 1e-7 * n}) for start in starts
    ]
    found = [result for result in found if np.isfinite(result.x).all() and result.fun < 1e299]
    if not found:
        return None
    theta = min(found, key=lambda result: result.fun).x
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
