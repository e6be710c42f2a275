"""A monotone cubic spline for boxes whose curve is neither straight nor simply bent.

It is a cubic B-spline whose coefficients never fall, held towards a straight line by a penalty on its curvature. No
single penalty is chosen: curves of many penalties are averaged, weighted by their restricted likelihood. So the
interval widens where smooth and wavy curves disagree, in gaps between catches and beyond them.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.special import softmax

from predictor.curves.asked import Of
from predictor.curves.base import PriorName
from predictor.curves.catches import Catches, settled
from predictor.curves.estimate import Pieces, SettingEstimate
from predictor.curves.prior import Repeatability
from predictor.curves.roots import Function, increasing_root
from predictor.curves.student_curve import StudentCurve
from predictor.domain.control import Floats
from predictor.errors import NotEnoughCatches

FEWEST_SETTINGS = 5
MOST_INNER_KNOTS = 6
# Penalties from "as good as a line" to "as good as free", relative to the information in the catches.
PENALTIES = 10.0 ** np.arange(5.0, -5.0, -1.0)
_ORDER = 4  # cubic


@dataclass(frozen=True, eq=False, kw_only=True)
class SplineCurve(StudentCurve):
    """A monotone spline averaged over penalties; p coefficients, m penalties."""

    family = "spline"
    knots: Floats = field(repr=False)  # Knots of the B-spline, 0 at `low` and 1 at `high`; beyond them it is straight
    coefficients: Floats = field(repr=False)  # Shape (m, p)
    covariances: Floats = field(repr=False)  # Shape (m, p, p)
    weight: Floats = field(repr=False)  # Of each penalty; adds to 1

    @property
    def params(self) -> dict[str, float]:
        """Mean outputs at the ends and the middle of the settings caught."""
        return self._at_three(self._mean)

    @property
    def std_errors(self) -> dict[str, float]:
        """Standard errors of `params`."""
        return self._at_three(lambda x: np.sqrt(self._variance(x)))

    def _at_three(self, function: Function) -> dict[str, float]:
        x = np.array([self.low, (self.low + self.high) / 2, self.high])
        return {f"output_at_{at:g}": float(value) for at, value in zip(x, function(x), strict=True)}

    def _basis(self, x: Floats) -> Floats:
        return _straight_beyond((x - self.low) / (self.high - self.low), self.knots)

    def _mean(self, x: Floats) -> Floats:
        return np.asarray(self._basis(x) @ self.coefficients.T @ self.weight)

    def _variance(self, x: Floats) -> Floats:
        basis = self._basis(x)
        each = basis @ self.coefficients.T
        within = np.einsum("ij,mjk,ik->im", basis, self.covariances, basis)
        return np.asarray((within + (each - (each @ self.weight)[:, None]) ** 2) @ self.weight)

    def relative_variance_of_ratio(self, x: Floats, reference: float) -> Floats:
        """Variance of the log of the mean at settings over that at another one, of first order, shape (m,)."""
        basis, there = self._basis(x), self._basis(np.array([reference]))
        apart = basis / (basis @ self.coefficients.T @ self.weight)[:, None]
        apart = apart - there / (there @ self.coefficients.T @ self.weight)[:, None]
        each = apart @ self.coefficients.T
        within = np.einsum("ij,mjk,ik->im", apart, self.covariances, apart)
        return np.asarray((within + (each - (each @ self.weight)[:, None]) ** 2) @ self.weight)

    def _setting_for(self, output: float, level: float, of: Of) -> SettingEstimate:
        """All settings whose interval holds the output, up to one range either side.

        Since the curve never falls, a lower limit holds for all higher settings too, and an upper one for all lower.
        """
        grid = np.linspace(2 * self.low - self.high, 2 * self.high - self.low, 1201)
        least, most = self._mean(grid[[0, -1]])
        root = increasing_root(lambda x: self._mean(x) - output, grid[:1], grid[-1:])
        estimate = float(root[0]) if least <= output <= most else np.nan
        lower, upper = self.interval(grid, level, of)
        inside = np.maximum.accumulate(lower) <= output
        inside &= output <= np.minimum.accumulate(upper[::-1])[::-1]
        return SettingEstimate.of_pieces(estimate, _stretches(grid, inside))


def _stretches(grid: Floats, inside: npt.NDArray[np.bool_]) -> Pieces:
    """Runs of grid points that are inside, as stretches; one that touches an end of the grid is unbounded there."""
    edges = np.flatnonzero(np.diff(np.r_[False, inside, False].astype(int)))
    between = np.r_[-np.inf, (grid[:-1] + grid[1:]) / 2, np.inf]
    return tuple((low, high) for low, high in between[edges].reshape(-1, 2).tolist())


def fit_spline(catches: Catches, known: Repeatability | None = None, prior: PriorName | None = None) -> SplineCurve:
    """Fit a monotone cubic spline.

    Source: Ramsay (1988), Statist. Sci. 3, 425-441 (monotone splines); Eilers & Marx (1996), Statist. Sci. 11,
    89-121; Wahba (1983), J. R. Stat. Soc. B 45, 133-150 (the interval). All cited from memory.
    """
    at, which = np.unique(catches.settings, return_inverse=True)
    if len(at) < FEWEST_SETTINGS:
        raise NotEnoughCatches(
            f"A spline needs catches at {FEWEST_SETTINGS} or more settings; there are {len(at)}. Fit a line."
        )
    low, high = float(at[0]), float(at[-1])
    knots = _knots((at - low) / (high - low))
    basis, rough = _straight_beyond((at - low) / (high - low), knots), _roughness(knots)
    cv, worth = (0.0, 0.0)
    if known is not None and catches.noise == "proportional":
        for inside in (catches.rows, catches.parts):
            known = known if inside is None else known.after(inside.square, inside.df)
        cv, worth = known.cv, known.worth
    floor = 0.0 if known is None or catches.reading is None else float(np.mean(catches.reading**2))

    def fit(weights: Floats) -> SplineCurve:
        means = _means(catches.outputs, weights, which)
        coefficients, covariances, weight, df, square = _averaged(basis, rough, means)
        # The noise of a catch, and all that follows from it, is never below the smallest possible.
        variance = max((df * square + worth * cv**2) / (df + worth), floor)
        return SplineCurve(
            noise=catches.noise,
            prior=prior,
            n=len(catches),
            df=df + worth,
            spread=float(np.sqrt(variance)),
            low=low,
            high=high,
            knots=knots,
            coefficients=coefficients,
            covariances=variance * covariances,
            weight=weight,
        )

    return settled(catches, fit, smallest=1e-3, tolerance=1e-8, most=12)


class _Means(NamedTuple):
    """What a fit needs of n catches: their mean at each of G settings. No fit then grows with the catches."""

    n: int
    size: float  # Mean weight of a catch
    output: Floats  # (G,)
    weight: Floats  # Sum of weights over `size`, (G,)
    within: float  # Weighted sum of squares of the catches about the mean at their setting


def _means(outputs: Floats, weights: Floats, which: np.ndarray) -> _Means:
    size = float(np.mean(weights))
    share = weights / size
    weight = np.asarray(np.bincount(which, weights=share), dtype=float)
    mean = np.bincount(which, weights=share * outputs) / weight
    return _Means(len(outputs), size, mean, weight, float(np.sum(share * (outputs - mean[which]) ** 2)))


def _knots(distinct: Floats) -> Floats:
    """Inner knots at quantiles of the distinct settings, one for every two of these; ends repeated."""
    count = min(max(len(distinct) // 2 - 1, 1), MOST_INNER_KNOTS)
    inner = np.quantile(distinct, np.linspace(0, 1, count + 2)[1:-1])
    return np.concatenate([np.zeros(_ORDER), inner, np.ones(_ORDER)])


def b_spline(x: Floats, knots: Floats, order: int = _ORDER, derivative: int = 0) -> Floats:
    """A derivative of all B-splines of an order at `x` in the closed range of the knots, shape (len(x), p)."""
    from scipy.interpolate import BSpline

    return np.asarray(BSpline(knots, np.eye(len(knots) - order), order - 1)(x, derivative))


def _straight_beyond(at: Floats, knots: Floats) -> Floats:
    """Basis at `at`, continued straight outside 0 to 1."""
    inside = np.clip(at, 0.0, 1.0)
    return b_spline(inside, knots) + (at - inside)[:, None] * b_spline(inside, knots, derivative=1)


def _roughness(knots: Floats) -> Floats:
    """Matrix R with |R c|^2 the integral of the squared second derivative; exact, since that is piecewise linear."""
    edges = np.unique(knots)
    middle, half = (edges[1:] + edges[:-1]) / 2, np.diff(edges) / 2
    points = np.r_[middle - half / np.sqrt(3), middle + half / np.sqrt(3)]
    return np.asarray(np.sqrt(np.r_[half, half])[:, None] * b_spline(points, knots, derivative=2))


def monotone_least_squares(basis: Floats, y: Floats, rough: Floats | None = None) -> Floats:
    """Coefficients that never fall and fit best in least squares, with rows of a penalty below."""
    from scipy.optimize import nnls

    p = basis.shape[1]
    rows = basis if rough is None else np.vstack([basis, rough])
    right = np.r_[y, np.zeros(len(rows) - len(y))]
    steps = np.tri(p)
    # The first coefficient is free in sign: it enters as the difference of two.
    design = np.column_stack([rows @ steps, -(rows @ steps[:, 0])])
    scale = np.maximum(np.linalg.norm(design, axis=0), 1e-300)
    solution, _ = nnls(design / scale, right, maxiter=50 * p)
    solution = solution / scale
    solution[0] -= solution[-1]
    return np.asarray(steps @ solution[:-1])


def _averaged(basis: Floats, rough: Floats, means: _Means) -> tuple[Floats, Floats, Floats, float, float]:
    """Fit under every penalty, and weigh each by its restricted likelihood.

    Coefficients (m, p), covariances for noise 1 (m, p, p), weights (m,), degrees of freedom, and the variance of a
    catch of weight 1.
    """
    root = np.sqrt(means.weight)
    design, target = basis * root[:, None], means.output * root
    if len(design) > design.shape[1]:  # the same least squares in as many rows as coefficients, and what none explains
        turned, design = np.linalg.qr(design)
        short = turned.T @ target
        outside = means.within + float(np.sum((target - turned @ short) ** 2))
        target = short
    else:
        outside = means.within
    unit = np.trace(design.T @ design) / np.trace(rough.T @ rough)
    strengths = np.asarray(PENALTIES * float(unit))
    parts = [_penalised(design, target, outside, np.sqrt(each) * rough, each, means.n) for each in strengths.tolist()]
    scores, free, covariances = (np.array(each) for each in zip(*parts, strict=True))
    keep = scores > scores.max() + np.log(1e-4)
    weight = softmax(scores[keep])
    coefficients = np.array([monotone_least_squares(design, target, np.sqrt(each) * rough) for each in strengths[keep]])
    df = max(means.n - float(weight @ free[keep]), 1.0)
    left = outside + float(weight @ ((target[:, None] - design @ coefficients.T) ** 2).sum(axis=0))
    return coefficients, covariances[keep] / means.size, weight, df, means.size * left / df


def _penalised(
    design: Floats, target: Floats, outside: float, rough: Floats, strength: float, n: int
) -> tuple[float, float, Floats]:
    """Log restricted likelihood of a smooth fit, its free parameters and its covariance for noise 1."""
    p = design.shape[1]
    information = design.T @ design
    matrix = information + rough.T @ rough
    factor = np.linalg.cholesky(matrix + 1e-13 * np.trace(matrix) / p * np.eye(p))
    root = np.linalg.inv(factor)
    inverse = root.T @ root
    whole = float(target @ target) + outside
    left = float(target @ (target - design @ (inverse @ (design.T @ target))))
    square = max(outside + left, 1e-13 * whole)
    # The noise is profiled out; two coefficients (a line) are not penalised.
    score = -0.5 * (n - 2) * np.log(square) + 0.5 * (p - 2) * np.log(strength) - np.log(np.diag(factor)).sum()
    return float(score), float(np.sum(inverse * information)), inverse
