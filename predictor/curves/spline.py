"""A monotone cubic spline for boxes whose curve is neither straight nor simply bent.

A cubic B-spline whose coefficients never fall, held towards a straight line by a penalty on its curvature. How strongly
is not chosen but averaged over, by restricted likelihood, so that the interval widens where smooth and wavy curves
disagree: in gaps between catches and beyond them.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import stdtr, stdtrit

from predictor.curves.base import Curve, Of, SettingEstimate, check_level, increasing_root, like
from predictor.errors import NotEnoughCatches

FEWEST_SETTINGS = 5
MOST_INNER_KNOTS = 6
# Penalties from "as good as a line" to "as good as free", relative to the information in the catches.
PENALTIES = 10.0 ** np.arange(5.0, -5.0, -1.0)
_ORDER = 4  # cubic


@dataclass(frozen=True)
class SplineCurve(Curve):
    """A monotone spline averaged over penalties; p coefficients, m penalties."""

    noise: str
    prior: str | None
    n: int
    df: float
    low: float  # Lowest and highest setting caught; beyond them every curve goes on straight
    high: float
    knots: np.ndarray = field(repr=False)  # Knots of the B-spline on the scale 0 to 1
    coefficients: np.ndarray = field(repr=False)
    covariances: np.ndarray = field(repr=False)
    weight: np.ndarray = field(repr=False)  # Of each penalty; adds to 1
    residual: float = 0.0  # Noise of one catch: coefficient of variation, or standard deviation
    family: str = "spline"

    @property
    def spread(self) -> float:
        """Noise of one catch."""
        return self.residual

    @property
    def params(self) -> dict[str, float]:
        """Mean outputs at the ends and the middle of the settings caught."""
        return {f"output_at_{x:g}": float(self.mean(x)) for x in (self.low, (self.low + self.high) / 2, self.high)}

    @property
    def std_errors(self) -> dict[str, float]:
        """Standard errors of `params`."""
        return {
            f"output_at_{x:g}": float(np.sqrt(self._square(np.array([x]))[0]))
            for x in (self.low, (self.low + self.high) / 2, self.high)
        }

    def _basis(self, x) -> np.ndarray:
        at = (np.atleast_1d(np.asarray(x, dtype=float)).ravel() - self.low) / (self.high - self.low)
        return _straight_beyond(at, self.knots)

    def _square(self, x) -> np.ndarray:
        """Variance of the mean at `x`: within each penalty, and between them."""
        basis = self._basis(x)
        each = basis @ self.coefficients.T
        within = np.einsum("ij,mjk,ik->im", basis, self.covariances, basis)
        centre = each @ self.weight
        return (within + (each - centre[:, None]) ** 2) @ self.weight

    def mean(self, x):
        """See `Curve.mean`; averaged over the penalties."""
        return like(x, (self._basis(x) @ self.coefficients.T @ self.weight).reshape(np.shape(x)))

    def interval(self, x, level: float = 0.95, of: Of = "mean"):
        """See `Curve.interval`."""
        check_level(level)
        middle = np.atleast_1d(np.asarray(self.mean(x))).ravel()
        square = self._square(x)
        if of == "next":
            square = square + (self.residual * (np.abs(middle) if self.noise == "proportional" else 1.0)) ** 2
        half = stdtrit(self.df, (1 + level) / 2) * np.sqrt(square)
        shape = np.shape(x)
        return like(x, (middle - half).reshape(shape)), like(x, (middle + half).reshape(shape))

    def probability(self, x, low: float, high: float, extra_variance: float = 0.0):
        """See `Curve.probability`."""
        middle = np.atleast_1d(np.asarray(self.mean(x))).ravel()
        scale = np.sqrt(self._square(x) + extra_variance * middle**2) + 1e-300
        chance = stdtr(self.df, (high - middle) / scale) - stdtr(self.df, (low - middle) / scale)
        return like(x, chance.reshape(np.shape(x)))

    def setting_for(self, output: float, level: float = 0.95, of: Of = "mean") -> SettingEstimate:
        """See `Curve.setting_for`: all settings whose interval holds the output, looked for one range either side.

        A curve that never falls is below its upper limits further on, and above its lower limits before.
        """
        check_level(level)
        span = self.high - self.low
        ends = np.array([self.low - span, self.high + span])

        def excess(x):
            return np.asarray(self.mean(x)) - output

        at_ends = excess(ends)
        if at_ends[0] > 0 or at_ends[1] < 0:
            estimate = np.nan
        else:
            estimate = float(increasing_root(excess, ends[:1], ends[1:])[0])
        grid = np.linspace(ends[0], ends[1], 1201)
        lower, upper = self.interval(grid, level, of)
        upper = np.minimum.accumulate(upper[::-1])[::-1]
        lower = np.maximum.accumulate(lower)
        inside = (lower <= output) & (output <= upper)
        return SettingEstimate.of_pieces(estimate, _stretches(grid, inside))

    def with_noise_floor(self, floor: float) -> SplineCurve:
        """The same curve with the noise of a catch, and all that follows from it, never below `floor`."""
        factor = max(1.0, floor / max(self.residual, 1e-300))
        return replace(self, residual=self.residual * factor, covariances=self.covariances * factor**2)


def _stretches(grid: np.ndarray, inside: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Runs of grid points inside, as stretches; one that touches an end of the grid is unbounded there."""
    edges = np.flatnonzero(np.diff(np.r_[False, inside, False].astype(int)))
    pieces = []
    for start, stop in zip(edges[::2], edges[1::2] - 1, strict=True):
        left = -np.inf if start == 0 else float((grid[start - 1] + grid[start]) / 2)
        right = np.inf if stop == len(grid) - 1 else float((grid[stop] + grid[stop + 1]) / 2)
        pieces.append((left, right))
    return tuple(pieces)


def fit_spline(
    settings,
    outputs,
    *,
    noise: str,
    weights=None,
    prior: str | None = None,
    known_cv: float = 0.0,
    cv_weight: float = 0.0,
) -> SplineCurve:
    """Fit a monotone cubic spline.

    Source: Ramsay (1988), Statist. Sci. 3, 425-441 (monotone splines); Eilers & Marx (1996), Statist. Sci. 11,
    89-121; Wahba (1983), J. R. Stat. Soc. B 45, 133-150 (the interval). All cited from memory.
    """
    x, y = np.asarray(settings, dtype=float), np.asarray(outputs, dtype=float)
    distinct = np.unique(x)
    if len(distinct) < FEWEST_SETTINGS:
        raise NotEnoughCatches(
            f"A spline needs catches at {FEWEST_SETTINGS} or more settings; there are {len(distinct)}. Fit a line."
        )
    w = np.ones(len(x)) if weights is None else np.asarray(weights, dtype=float)
    low, high = float(distinct[0]), float(distinct[-1])
    at = (x - low) / (high - low)
    knots = _knots((distinct - low) / (high - low))
    basis, rough = _straight_beyond(at, knots), _roughness(knots)
    fit = _averaged(basis, rough, y, w)
    if noise == "proportional":
        smallest = 1e-3 * float(np.mean(np.abs(y)))
        mean = np.maximum(basis @ fit[0].T @ fit[2], smallest)
        for _ in range(12):
            fit = _averaged(basis, rough, y, w / mean**2, known_cv, cv_weight)
            new = np.maximum(basis @ fit[0].T @ fit[2], smallest)
            settled = np.allclose(new, mean, rtol=1e-8, atol=0)
            mean = new
            if settled:
                break
    coefficients, covariances, weight, df, residual = fit
    return SplineCurve(noise, prior, len(x), df, low, high, knots, coefficients, covariances, weight, residual)


def _knots(distinct: np.ndarray) -> np.ndarray:
    """Inner knots at quantiles of the distinct settings, one for every two of these; ends repeated."""
    count = min(max(len(distinct) // 2 - 1, 1), MOST_INNER_KNOTS)
    inner = np.quantile(distinct, np.linspace(0, 1, count + 2)[1:-1])
    return np.r_[np.zeros(_ORDER), inner, np.ones(_ORDER)]


def b_spline(x: np.ndarray, knots: np.ndarray, order: int) -> np.ndarray:
    """Values of all B-splines of an order at `x` in the closed range of the knots.

    Source: De Boor (1978), A Practical Guide to Splines, recurrence (cited from memory).
    """
    count = len(knots) - 1
    last = np.flatnonzero(np.diff(knots) > 0)[-1]
    cell = np.minimum(np.searchsorted(knots, x, side="right") - 1, last)
    values = (cell[:, None] == np.arange(count)[None, :]).astype(float)
    for k in range(2, order + 1):
        rise, fall = knots[k - 1 : -1] - knots[:-k], knots[k:] - knots[1 : len(knots) - k + 1]
        with np.errstate(divide="ignore", invalid="ignore"):
            left = np.where(rise > 0, (x[:, None] - knots[None, :-k]) / rise, 0.0)
            right = np.where(fall > 0, (knots[None, k:] - x[:, None]) / fall, 0.0)
        values = left * values[:, :-1] + right * values[:, 1:]
    return values


def _derivative(x: np.ndarray, knots: np.ndarray, times: int) -> np.ndarray:
    """Derivative of every cubic B-spline at `x`, as a matrix to multiply coefficients with."""
    matrix = np.eye(len(knots) - _ORDER)
    inner, order = knots, _ORDER
    for _ in range(times):
        width = inner[order:-1] - inner[1:-order]
        with np.errstate(divide="ignore"):
            scale = np.where(width > 0, (order - 1) / width, 0.0)
        matrix = scale[:, None] * np.diff(matrix, axis=0)
        inner, order = inner[1:-1], order - 1
    return b_spline(x, inner, order) @ matrix


def _straight_beyond(at: np.ndarray, knots: np.ndarray) -> np.ndarray:
    """Basis at `at`, continued straight outside 0 to 1."""
    inside = np.clip(at, 0.0, 1.0)
    return b_spline(inside, knots, _ORDER) + (at - inside)[:, None] * _derivative(inside, knots, 1)


def _roughness(knots: np.ndarray) -> np.ndarray:
    """Matrix R with |R c|^2 the integral of the squared second derivative; exact, it is piecewise linear."""
    edges = np.unique(knots)
    middle, half = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    points = np.r_[middle - half / np.sqrt(3), middle + half / np.sqrt(3)]
    return np.sqrt(np.r_[half, half])[:, None] * _derivative(points, knots, 2)


def monotone_least_squares(basis: np.ndarray, y: np.ndarray, rough: np.ndarray | None = None) -> np.ndarray:
    """Coefficients that never fall and fit best in least squares, with rows of a penalty below."""
    from scipy.optimize import nnls

    p = basis.shape[1]
    rows = basis if rough is None else np.vstack([basis, rough])
    right = y if rough is None else np.r_[y, np.zeros(len(rough))]
    steps = np.tril(np.ones((p, p)))
    # the first coefficient is free in sign: it enters as the difference of two
    design = np.column_stack([rows @ steps, -(rows @ steps[:, 0])])
    scale = np.maximum(np.linalg.norm(design, axis=0), 1e-300)
    solution, _ = nnls(design / scale, right, maxiter=50 * p)
    solution = solution / scale
    solution[0] -= solution[-1]
    return steps @ solution[:-1]


def _averaged(
    basis: np.ndarray, rough: np.ndarray, y: np.ndarray, w: np.ndarray, known_cv: float = 0.0, cv_weight: float = 0.0
):
    """Coefficients and covariances for every penalty, their weights, degrees of freedom and noise."""
    n, p = basis.shape
    root = np.sqrt(w / np.mean(w))
    design, target = basis * root[:, None], y * root
    information, penalty = design.T @ design, rough.T @ rough
    unit = np.trace(information) / np.trace(penalty)
    scores, free, covariances, residuals = [], [], [], []
    for share in PENALTIES:
        strength = share * unit
        matrix = information + strength * penalty
        factor = np.linalg.cholesky(matrix + 1e-13 * np.trace(matrix) / p * np.eye(p))
        inverse = np.linalg.inv(factor)
        inverse = inverse.T @ inverse
        smooth = inverse @ (design.T @ target)
        # restricted likelihood with the noise profiled out; two coefficients (a line) are not penalised
        square = float(target @ (target - design @ smooth))
        square = max(square, 1e-13 * float(target @ target))
        scores.append(
            -0.5 * (n - 2) * np.log(square) + 0.5 * (p - 2) * np.log(strength) - np.log(np.diag(factor)).sum()
        )
        free.append(float(np.sum(inverse * information)))
        covariances.append(inverse)
        residuals.append(square)
    weight = np.exp(np.array(scores) - max(scores))
    keep = weight > 1e-4 * weight.max()
    weight = weight[keep] / weight[keep].sum()
    chosen = PENALTIES[keep]
    coefficients = np.array([monotone_least_squares(design, target, np.sqrt(share * unit) * rough) for share in chosen])
    fitted = design @ coefficients.T
    df = max(n - float(weight @ np.array(free)[keep]), 1.0)
    left = float(weight @ ((target[:, None] - fitted) ** 2).sum(axis=0))
    # a catch of weight w has variance residual^2 / w, and the rows above were divided by the mean weight
    variance = (left + cv_weight * known_cv**2 / np.mean(w)) / (df + cv_weight)
    residual = float(np.sqrt(variance * np.mean(w)))
    return coefficients, variance * np.array(covariances)[keep], weight, df + cv_weight, residual
