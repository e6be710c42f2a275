"""The classical line: weighted least squares, Student-t intervals, Fieller limits. No prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr, stdtrit

from predictor.curves.base import Curve, Of, SettingEstimate, check_level, like
from predictor.errors import NotEnoughCatches

MOST_ITERATIONS = 100


@dataclass(frozen=True)
class FlatLine(Curve):
    """y = intercept + slope x, fitted around the weighted centre of the settings."""

    noise: str
    n: int
    df: float  # n less the free parameters
    centre: float  # Weighted mean of the settings; level and slope are uncorrelated there
    level: float
    slope: float
    level_var: float  # Their variances
    slope_var: float
    residual: float  # Noise of a catch of weight 1: standard deviation, or coefficient of variation
    family: str = "line"
    prior: None = None

    @property
    def spread(self) -> float:
        """Residual standard deviation, or coefficient of variation, on n - p degrees of freedom."""
        return self.residual

    @property
    def params(self) -> dict[str, float]:
        """Intercept and slope."""
        return {"intercept": self.level - self.slope * self.centre, "slope": self.slope}

    @property
    def std_errors(self) -> dict[str, float]:
        """Standard errors of intercept and slope."""
        return {
            "intercept": float(np.sqrt(self.level_var + self.centre**2 * self.slope_var)),
            "slope": float(np.sqrt(self.slope_var)),
        }

    @property
    def covariance(self) -> float:
        """Covariance of intercept and slope."""
        return -self.centre * self.slope_var

    def mean(self, x):
        """See `Curve.mean`."""
        return like(x, self.level + self.slope * (np.asarray(x, dtype=float) - self.centre))

    def _square(self, x, of: Of, weight: float) -> np.ndarray:
        """Variance of the mean, or of a catch around it, at `x`."""
        off = np.asarray(x, dtype=float) - self.centre
        square = self.level_var + off**2 * self.slope_var
        if of == "next":
            scale = np.abs(self.level + self.slope * off) if self.noise == "proportional" else 1.0
            square = square + (self.residual * scale) ** 2 / weight
        return square

    def interval(self, x, level: float = 0.95, of: Of = "mean", weight: float = 1.0):
        """See `Curve.interval`; Student-t."""
        check_level(level)
        half = stdtrit(self.df, (1 + level) / 2) * np.sqrt(self._square(x, of, weight))
        middle = self.mean(x)
        return like(x, middle - half), like(x, middle + half)

    def probability(self, x, low: float, high: float, extra_variance: float = 0.0):
        """See `Curve.probability`; the confidence distribution of the mean."""
        middle = np.asarray(self.mean(x))
        scale = np.sqrt(self._square(x, "mean", 1.0) + extra_variance * middle**2)
        with np.errstate(divide="ignore", invalid="ignore"):
            chance = stdtr(self.df, (high - middle) / scale) - stdtr(self.df, (low - middle) / scale)
        return like(x, np.where(scale > 0, chance, (low <= middle) & (middle <= high)))

    def setting_for(self, output: float, level: float = 0.95, of: Of = "mean", weight: float = 1.0) -> SettingEstimate:
        """See `Curve.setting_for`; Fieller's limits: all settings whose interval holds the output.

        Source: Fieller (1954), J. R. Stat. Soc. B 16, 175-185.
        """
        check_level(level)
        t_square = stdtrit(self.df, (1 + level) / 2) ** 2
        gap = output - self.level
        # (gap - slope d)^2 <= t^2 (var level + d^2 var slope + var catch), a quadratic in d = x - centre
        a = self.slope**2 - t_square * self.slope_var
        b = -gap * self.slope
        c = gap**2 - t_square * self.level_var
        if of == "next":
            noise = t_square * self.residual**2 / weight
            if self.noise == "proportional":
                a -= noise * self.slope**2
                b -= noise * self.level * self.slope
                c -= noise * self.level**2
            else:
                c -= noise
        with np.errstate(divide="ignore", invalid="ignore"):
            estimate = float(self.centre + np.divide(gap, self.slope)) if self.slope != 0 else np.nan
        return SettingEstimate.of_pieces(estimate, _quadratic_set(a, b, c, self.centre))


def _quadratic_set(a: float, b: float, c: float, centre: float) -> tuple[tuple[float, float], ...]:
    """Where a d^2 + 2 b d + c <= 0, moved by `centre`: one stretch, two half-lines, a half-line, all or nothing."""
    inf = float("inf")
    root_square = b * b - a * c
    if a == 0:
        if b == 0:
            return ((-inf, inf),) if c <= 0 else ()
        edge = centre - c / (2 * b)
        return ((-inf, edge),) if b > 0 else ((edge, inf),)
    if root_square < 0:
        return ((-inf, inf),) if a < 0 else ()
    # the form that does not subtract like from like
    q = -(b + np.copysign(np.sqrt(root_square), b))
    roots = sorted(centre + root for root in ((q / a, c / q) if q != 0 else (0.0, 0.0)))
    if a > 0:
        return ((float(roots[0]), float(roots[1])),)
    return ((-inf, float(roots[0])), (float(roots[1]), inf))


def fit_flat(settings, outputs, *, noise: str, weights=None, dead_setting: float | None = None) -> FlatLine:
    """Fit a line by weighted least squares; with proportional noise, until the weights 1/mean^2 settle.

    With proportional noise the fixed point of the iteration is that of a Gamma model with identity link and Pearson
    dispersion; other "constant CV" fits (weights from the observed outputs, normal maximum likelihood) differ on the
    same data.

    Source: McCullagh & Nelder (1989), Generalized Linear Models, 2nd ed., ch. 8 (cited from memory).
    """
    x, y = np.asarray(settings, dtype=float), np.asarray(outputs, dtype=float)
    given = np.ones(len(x)) if weights is None else np.asarray(weights, dtype=float)
    free = 1 if dead_setting is not None else 2
    if len(x) <= free:
        raise NotEnoughCatches(
            f"{len(x)} {'catch' if len(x) == 1 else 'catches'} and no prior: a line needs at least {free + 1}."
        )
    if free == 2 and np.ptp(x) == 0:
        raise NotEnoughCatches(f"All catches are at setting {x[0]:g} and there is no prior: a line needs two settings.")
    line = _weighted(x, y, given, dead_setting)
    if noise == "constant":
        return FlatLine("constant", len(x), len(x) - free, *line)
    smallest = 1e-6 * float(np.mean(np.abs(y)))
    for _ in range(MOST_ITERATIONS):
        mean = np.maximum(line[1] + line[2] * (x - line[0]), smallest)
        new = _weighted(x, y, given / mean**2, dead_setting)
        settled = np.allclose(new[:3], line[:3], rtol=1e-14, atol=0)
        line = new
        if settled:
            break
    return FlatLine("proportional", len(x), len(x) - free, *line)


def _weighted(x: np.ndarray, y: np.ndarray, w: np.ndarray, dead_setting: float | None):
    """Centre, level, slope, their variances and the residual noise; sums are of deviations, so digits are kept."""
    if dead_setting is not None:
        off = x - dead_setting
        information = float(w @ off**2)
        slope = float(w @ (off * y)) / information
        residual = float(w @ (y - slope * off) ** 2) / (len(x) - 1)
        return float(dead_setting), 0.0, slope, 0.0, residual / information, float(np.sqrt(residual))
    total = float(w.sum())
    centre, level = float(w @ x) / total, float(w @ y) / total
    off = x - centre
    drift = float(w @ off) / total
    centre, off = centre + drift, off - drift
    rise = y - level
    level_drift = float(w @ rise) / total
    level, rise = level + level_drift, rise - level_drift
    information = float(w @ off**2)
    slope = float(w @ (off * rise)) / information
    residual = float(w @ (rise - slope * off) ** 2) / (len(x) - 2)
    return centre, level, slope, residual / total, residual / information, float(np.sqrt(residual))
