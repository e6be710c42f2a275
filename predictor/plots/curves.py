"""A fitted curve as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from predictor.curves.base import Curve
from predictor.plots.style import BLUE, axes_or_new, dress

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_curve(curve: Curve, axes: Axes | None = None) -> Axes:
    """Mean, its limits, and those of the next catch, a little beyond the settings caught."""
    axes = axes_or_new(axes, 7.0, 4.0)
    margin = 0.25 * (curve.high - curve.low) or 0.3 * abs(curve.high) or 1.0
    x = np.linspace(curve.low - margin, curve.high + margin, 121)
    axes.fill_between(x, *curve.interval(x, of="next"), color=BLUE, alpha=0.14, lw=0, label="95 % of next catches")
    axes.fill_between(x, *curve.interval(x), color=BLUE, alpha=0.28, lw=0, label="95 % limits of the mean")
    axes.plot(x, curve.mean(x), color=BLUE, lw=2, label="mean")
    axes.set_xlim(x[0], x[-1])
    axes.set_xlabel("setting: opening of the lever or drive ratio")
    axes.set_ylabel("g per row per turn")
    dress(axes, f"Output against setting, {curve.family}")
    axes.legend(fontsize=8, frameon=False)
    return axes
