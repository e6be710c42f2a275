"""A fitted curve as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from predictor.curves.base import Curve
from predictor.plots.style import BAND, BLUE, axes_or_new, dress

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_curve(curve: Curve, axes: Axes | None = None) -> Axes:
    """Mean, its limits, and those of the next catch, a little beyond the settings caught."""
    axes = axes_or_new(axes, 6.4, 4.0)
    margin = 0.25 * (curve.high - curve.low) or 0.3 * abs(curve.high) or 1.0
    x = np.linspace(curve.low - margin, curve.high + margin, 121)
    axes.fill_between(x, *curve.interval(x), color=BAND, lw=0, label="95 % limits of the mean")
    for k, ends in enumerate(curve.interval(x, of="next")):
        axes.plot(x, ends, color=BLUE, lw=1, ls="--", label="" if k else "95 % of next catches")
    axes.plot(x, curve.mean(x), color=BLUE, lw=2, label="mean")
    axes.set_xlim(x[0], x[-1])
    axes.set_xlabel("setting: opening of the lever or drive ratio")
    axes.set_ylabel("g per row per turn")
    dress(axes, f"Output against setting, {curve.family}")
    axes.legend(fontsize=9, frameon=False)
    return axes
