"""Lots that differ in level and in slope, as random effects, to the last digits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize


@dataclass(frozen=True)
class RandomLines:
    """Lots that differ in level and slope, by REML.

    Attributes
    ----------
    beta, se : ndarray, shape (2,)
        Level at x = 0 and slope of the average lot; standard errors.
    cov : ndarray, shape (2, 2)
        Covariance of the lots' departures in level and slope.
    within : float
        Variance between catches of a lot at one x.
    criterion : float
        -2 x the restricted log likelihood.
    blup : ndarray, shape (L, 2)
        Predicted departures of each lot.
    beta_cov : ndarray, shape (2, 2)
        Covariance of `beta`.
    """

    beta: np.ndarray
    se: np.ndarray
    cov: np.ndarray
    within: float
    criterion: float
    blup: np.ndarray
    beta_cov: np.ndarray


def random_lines(y, x, group) -> RandomLines:
    """REML for y = (level + lot) + (slope + lot's slope) x + catch.

    The profiled criterion is a function of the three entries of the relative Cholesky factor; its gradient is taken
    by complex steps, exact to rounding, and its root by Newton, so the digits do not end where an optimiser stops.

    Parameters
    ----------
    y, x : array_like, shape (n,)
    group : array_like of int, shape (n,)
        Codes 0..L-1, each present.

    Returns
    -------
    RandomLines

    Raises
    ------
    ValueError
        Fewer than three lots, or fewer catches than the model has to spend.

    References
    ----------
    Laird and Ware (1982), Biometrics 38, 963-974. Bates and DebRoy (2004), J. Multivar. Anal. 91, 1-17 (profile in
    the relative factor). Squire and Trapp (1998), SIAM Rev. 40, 110-112 (complex steps).
    """
    y, x, group = np.asarray(y, dtype=float), np.asarray(x, dtype=float), np.asarray(group)
    lots = int(group.max()) + 1
    if lots < 3 or len(y) < lots + 4:
        raise ValueError(f"Lots that differ in two ways need at least 3 lots and {lots + 4} catches.")
    shift, size, offset = float(x.mean()), float(x.std()) or 1.0, float(y.mean())
    parts = _line_parts(y - offset, (x - shift) / size, group)
    theta = _best_theta(parts, len(y), lots)
    beta, info, total, small = _lines_at(parts, theta, len(y))
    within = total / (len(y) - 2)
    factor = np.array([[theta[0], 0.0], [theta[1], theta[2]]])
    beta_cov = within * np.linalg.inv(info)
    score = parts.zy - np.einsum("gij,j->gi", parts.zz, beta)
    blup = np.einsum("ij,gj->gi", factor, np.einsum("gij,jk,gk->gi", small, factor.T, score))
    back = np.array([[1.0, -shift / size], [0.0, 1 / size]])
    moved = back @ beta + np.array([offset, 0.0])
    cov = within * back @ factor @ factor.T @ back.T
    beta_cov = back @ beta_cov @ back.T
    value = float(_lines_criterion(parts, theta, len(y)).real) + 2 * math.log(size)
    return RandomLines(moved, np.sqrt(np.diag(beta_cov)), cov, within, value, blup @ back.T, beta_cov)


@dataclass(frozen=True)
class _Parts:
    zz: np.ndarray  # (L, 2, 2) sums of [1, x][1, x]'
    zy: np.ndarray  # (L, 2)
    yy: float


def _line_parts(y, x, group) -> _Parts:
    def total(values):
        return np.bincount(group, weights=values)

    ones, sx, sxx = total(np.ones_like(x)), total(x), total(x * x)
    zz = np.stack([np.stack([ones, sx], -1), np.stack([sx, sxx], -1)], -2)
    return _Parts(zz, np.stack([total(y), total(x * y)], -1), float(y @ y))


def _lines_pieces(parts: _Parts, theta):
    """Information, right side and y'V^-1 y at a relative factor; plain algebra, so complex steps pass through."""
    t1, t2, t3 = theta
    factor = np.array([[t1, t1 * 0], [t2, t3]])
    inner = np.einsum("ji,gjk,kl->gil", factor, parts.zz, factor)
    a, b, d = 1 + inner[:, 0, 0], inner[:, 0, 1], 1 + inner[:, 1, 1]
    det = a * d - b * b
    small = np.stack([np.stack([d, -b], -1), np.stack([-b, a], -1)], -2) / det[:, None, None]
    left = np.einsum("ji,gjk->gik", factor, parts.zz)
    right = np.einsum("ji,gj->gi", factor, parts.zy)
    info = parts.zz.sum(axis=0) - np.einsum("gji,gjk,gkl->il", left, small, left)
    vector = parts.zy.sum(axis=0) - np.einsum("gji,gjk,gk->i", left, small, right)
    square = parts.yy - np.einsum("gi,gij,gj->", right, small, right)
    return info, vector, square, det, small


def _lines_criterion(parts: _Parts, theta, n):
    info, vector, square, det, _ = _lines_pieces(parts, theta)
    info_det = info[0, 0] * info[1, 1] - info[0, 1] * info[1, 0]
    total = (
        square
        - (
            info[1, 1] * vector[0] ** 2
            - (info[0, 1] + info[1, 0]) * vector[0] * vector[1]
            + info[0, 0] * vector[1] ** 2
        )
        / info_det
    )
    return (n - 2) * (1 + np.log(2 * np.pi * total / (n - 2))) + np.log(det).sum() + np.log(info_det)


def _lines_at(parts: _Parts, theta, n):
    info, vector, square, _, small = _lines_pieces(parts, theta)
    beta = np.linalg.solve(info, vector)
    return beta, info, float(square - vector @ beta), small


def _best_theta(parts: _Parts, n: int, lots: int) -> np.ndarray:
    def gradient(theta):
        step = 1e-30
        return np.array([_lines_criterion(parts, theta + 1j * step * unit, n).imag / step for unit in np.eye(3)])

    def value(theta):
        return float(_lines_criterion(parts, theta.astype(complex), n).real)

    starts = [np.array([scale, 0.0, scale]) for scale in (0.3, 1.0, 3.0)]
    found = [
        optimize.minimize(value, start, jac=gradient, method="BFGS", options={"gtol": 1e-7 * n}) for start in starts
    ]
    theta = min(found, key=lambda result: result.fun).x
    for _ in range(12):
        now = gradient(theta)
        bend = np.column_stack(
            [(gradient(theta + 1e-5 * unit) - gradient(theta - 1e-5 * unit)) / 2e-5 for unit in np.eye(3)]
        )
        step = np.linalg.lstsq((bend + bend.T) / 2, now, rcond=1e-10)[0]
        if np.abs(gradient(theta - step)).max() >= np.abs(now).max():
            break
        theta = theta - step
    return theta * np.where(np.array([theta[0], theta[0], theta[2]]) < 0, -1.0, 1.0)
