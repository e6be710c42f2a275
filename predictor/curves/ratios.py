"""How many times as much one setting gives as another: the level of the curve cancels in it."""

from __future__ import annotations

import numpy as np

from predictor.curves.base import Curve
from predictor.curves.bent import ShapeCurve
from predictor.curves.shapes import log_shapes
from predictor.curves.spline import SplineCurve
from predictor.domain.control import Floats

# So much is subtracted of the log output of a shape that is shut: nothing comes there.
SHUT = -700.0


def log_ratio(curve: Curve, x: Floats, reference: float) -> tuple[Floats, Floats]:
    """Log of the mean output at settings over that at another one: mean and standard deviation, each of shape (m,).

    Of shapes it is exact over their grid. Of a spline the variance of the ratio is that of first order. Of any other
    curve the two outputs are taken to be independent, which makes the limits too wide rather than too narrow.
    """
    if isinstance(curve, ShapeCurve):
        shapes, both = curve.shapes, np.append(x, reference)
        logs = np.maximum(log_shapes(both, shapes.dead, shapes.bend, shapes.reference), SHUT)
        ratios = logs[:, :-1] - logs[:, -1:]
        middle = shapes.weight @ ratios
        return np.asarray(middle), np.sqrt(shapes.weight @ (ratios - middle) ** 2)
    at, there = np.maximum(curve.mean(x), 1e-300), max(curve.mean(reference), 1e-300)
    if isinstance(curve, SplineCurve):
        variance = curve.relative_variance_of_ratio(x, reference)
    else:
        ends = [curve.quantile(each, [0.1587, 0.8413]) for each in (x[:, None], reference)]
        spreads = [np.diff(np.log(np.maximum(each, 1e-300)), axis=-1)[..., 0] / 2 for each in ends]
        variance = np.where(x == reference, 0.0, spreads[0] ** 2 + spreads[1] ** 2)
    return np.log(at / there), np.sqrt(variance)
