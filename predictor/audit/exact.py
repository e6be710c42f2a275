"""A weighted line in exact arithmetic: what both answers are held against, so that it is computed who is right."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction

import numpy as np

from predictor.domain.control import Floats

# More catches than this take longer than they are worth.
MOST = 2000


@dataclass(frozen=True)
class ExactLine:
    """Intercept, slope and their covariance by least squares, without any rounding before the last step."""

    intercept: Fraction
    slope: Fraction
    variance: Fraction  # Of a catch of weight 1
    v00: Fraction  # Variances and covariance of intercept and slope
    v01: Fraction
    v11: Fraction

    def values(self, output: float, t: float) -> dict[str, float | None]:
        """Every figure by its name, for a wanted output and a critical value of Student's t."""
        low, high = self._fieller(Fraction(output), Fraction(t))
        return {
            "intercept": float(self.intercept),
            "intercept_se": float(_root(self.v00)),
            "slope": float(self.slope),
            "slope_se": float(_root(self.v11)),
            "spread": float(_root(self.variance)),
            "setting": float((Fraction(output) - self.intercept) / self.slope) if self.slope else None,
            "setting_lower": low,
            "setting_upper": high,
        }

    def _fieller(self, output: Fraction, t: Fraction) -> tuple[float | None, float | None]:
        """Limits of the setting where they are finite."""
        a = self.slope**2 - t**2 * self.v11
        b = self.slope * (self.intercept - output) - t**2 * self.v01
        c = (self.intercept - output) ** 2 - t**2 * self.v00
        if a <= 0 or b * b < a * c:
            return None, None
        root = Fraction(_root(b * b - a * c))
        return float((-b - root) / a), float((-b + root) / a)


def exact_line(x: Floats, y: Floats, w: Floats) -> ExactLine | None:
    """The line of these very doubles; None for too many catches, and where they leave no degree of freedom."""
    if not 2 < len(x) <= MOST or np.ptp(x) == 0:
        return None
    xs, ys, ws = ([Fraction(each) for each in column.tolist()] for column in (x, y, w))
    total = _sum(ws)
    mean_x, mean_y = _sum(ws, xs) / total, _sum(ws, ys) / total
    sxx = _sum(ws, xs, xs) - total * mean_x**2
    sxy = _sum(ws, xs, ys) - total * mean_x * mean_y
    syy = _sum(ws, ys, ys) - total * mean_y**2
    slope = sxy / sxx
    variance = (syy - slope * sxy) / (len(xs) - 2)
    v11 = variance / sxx
    intercept = mean_y - slope * mean_x
    return ExactLine(intercept, slope, variance, variance / total + mean_x**2 * v11, -mean_x * v11, v11)


def _sum(*columns: list[Fraction]) -> Fraction:
    """Sum of the products of columns."""
    total = Fraction(0)
    for factors in zip(*columns, strict=True):
        total += math.prod(factors, start=Fraction(1))
    return total


def _root(value: Fraction) -> Decimal:
    """A square root to fifty digits."""
    with localcontext() as context:
        context.prec = 50
        return (Decimal(value.numerator) / Decimal(value.denominator)).sqrt()
