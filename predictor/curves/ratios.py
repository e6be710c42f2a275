"""How many times as much one setting gives as another: the level of the curve cancels in it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from predictor.curves.base import Curve
from predictor.curves.bent import ShapeCurve
from predictor.curves.shapes import log_shapes
from predictor.curves.spline import SplineCurve
from predictor.domain.control import Floats

# So much is subtracted of the log output of a shape that is shut: nothing comes there.
SHUT = -700.0


class Ratios(NamedTuple):
    """Log of the mean output at m settings over that at another one, under each of K shapes."""

    logs: Floats  # Shape (K, m)
    sds: Floats  # What a shape leaves open, shape (K, m)
    weight: Floats  # Probability of each shape, shape (K,); adds to 1

    @property
    def middle(self) -> Floats:
        """Log of the mean ratio, shape (m,)."""
        return np.asarray(np.log(np.maximum(self.weight @ np.exp(np.minimum(self.logs, -SHUT)), 1e-300)))


def log_ratios(curve: Curve, x: Floats, reference: float) -> Ratios:
    """How many times as much the settings `x` give as another one does.

    Of shapes it is exact over their grid. Of a spline the variance of the ratio is that of first order. Of any other
    curve the two outputs are taken to be independent, which makes the limits too wide rather than too narrow.
    """
    if isinstance(curve, ShapeCurve):
        shapes, both = curve.shapes, np.append(x, reference)
        logs = np.maximum(log_shapes(both, shapes.dead, shapes.bend, shapes.reference), SHUT)
        ratios = logs[:, :-1] - logs[:, -1:]
        return Ratios(ratios, np.zeros_like(ratios), shapes.weight)
    at, there = np.maximum(curve.mean(x), 1e-300), max(curve.mean(reference), 1e-300)
    if isinstance(curve, SplineCurve):
        variance = curve.relative_variance_of_ratio(x, reference)
    else:
        ends = [curve.quantile(each, [0.1587, 0.8413]) for each in (x[:, None], reference)]
        spreads = [np.diff(np.log(np.maximum(each, 1e-300)), axis=-1)[..., 0] / 2 for each in ends]
        variance = np.where(x == reference, 0.0, spreads[0] ** 2 + spreads[1] ** 2)
    return Ratios(np.log(at / there)[None, :], np.sqrt(variance)[None, :], np.ones(1))


def log_ratio(curve: Curve, x: float, reference: float) -> tuple[float, float]:
    """Mean and standard deviation of such a log ratio, of two settings at which seed was seen to come.

    Shapes that are shut at one of them are left out: however unlikely, they would outweigh all others.
    """
    found = log_ratios(curve, np.array([x]), reference)
    logs, sds = found.logs[:, 0], found.sds[:, 0]
    weight = np.where(np.abs(logs) < -SHUT / 2, found.weight, 0.0)
    if not weight.any():
        return 0.0, -SHUT
    middle = float(np.average(logs, weights=weight))
    return middle, float(np.sqrt(np.average((logs - middle) ** 2 + sds**2, weights=weight)))
