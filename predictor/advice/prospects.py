"""How many catches are still to come before a setting can be locked, and what stands in the way of it."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import stdtr

from predictor.advice.aim import Aim
from predictor.curves.base import Curve
from predictor.domain.control import Floats

# More further catches than this are not worth their seed and time: longer ones are.
MOST_MORE_CATCHES = 10
Cause = Literal["", "rows", "noise", "off"]


def more_catches(
    curve: Curve, openings: Floats, aim: Aim, x: float, row_variance: float, noise: float
) -> tuple[int | None, Cause]:
    """Catches still needed at an opening, and what stands in the way where they are too many.

    `openings` are the settings that the control has, ascending; `row_variance` is what repeating the same rows leaves,
    a fraction squared; `noise` is that of the catches to come. The posterior of the log
    mean at x narrows with each catch as that of a normal mean does, and the setting can be mended to half a step; the
    count is the smallest whose chance then reaches the confidence. The cause "off" means that the nearest setting lies
    outside tolerance, or on its edge.
    """
    ends = curve.quantile(np.full(3, x), [0.1587, 0.5, 0.8413])
    lower, middle, upper = np.log(np.maximum(ends, 1e-300) / aim.target_output)
    precision = 1 / max(((upper - lower) / 2) ** 2, 1e-12)
    off, df, counts = _step_left(curve, openings, x, float(middle)), max(curve.df, 3.0), np.arange(1, 61)
    sd = np.sqrt(1 / (precision + counts / max(noise, 1e-9) ** 2) + row_variance)
    above, below = np.log1p([aim.tolerance, -aim.tolerance]).tolist()

    def first(sd: npt.NDArray[np.floating], df: npt.NDArray[np.floating], off: float) -> float:
        reached = stdtr(df, (above - off) / sd) - stdtr(df, (below - off) / sd)
        return float(next(iter(np.flatnonzero(reached >= aim.confidence) + 1), np.inf))

    count = first(sd, df + counts, off)
    if count <= MOST_MORE_CATCHES:
        return int(count), ""
    if row_variance > 0 and abs(off) < aim.tolerance / 2:
        forever = first(np.array([np.sqrt(row_variance)]), np.array([df + 60]), off)
        if np.isinf(forever):
            return None, "rows"
    return None, "noise" if first(sd, df + counts, 0.0) > MOST_MORE_CATCHES else "off"


def _step_left(curve: Curve, openings: Floats, x: float, middle: float) -> float:
    """How far off target the best setting must be expected to stay: half a step of a fine control, or all of it."""
    others = np.sort(np.abs(openings - x))
    if len(others) < 2:
        return middle
    rise = np.diff(np.log(np.maximum(curve.mean([x, x + others[1]]), 1e-300)))[0]
    return float(np.sign(middle) * min(abs(middle), abs(rise) / 2))
