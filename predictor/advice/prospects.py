"""How many catches are still to come before a setting can be locked, and what stands in the way of it."""

from __future__ import annotations

from dataclasses import dataclass
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


@dataclass(frozen=True, eq=False)
class Prospect:
    """What further catches can do for one curve and aim."""

    curve: Curve
    openings: Floats  # Settings the control has, ascending
    aim: Aim
    row_variance: float  # Variance that repeating the same rows leaves, a fraction squared

    def more_catches(
        self, x: float, noise: float | None = None, row_variance: float | None = None
    ) -> tuple[int | None, Cause]:
        """Catches still needed at an opening, and what stands in the way where they are too many.

        `noise` and `row_variance` stand in for those of the curve and the rows: as if catches were longer, or more
        rows were caught. The posterior of the log mean at x narrows with each catch as that of a normal mean does, and
        the setting can be mended to half a step; the count is the smallest whose chance then reaches the confidence.
        The cause "off" means that the nearest setting lies outside tolerance, or on its edge.
        """
        noise = self.curve.likely_noise if noise is None else noise
        row_variance = self.row_variance if row_variance is None else row_variance
        ends = self.curve.quantile(np.full(3, x), [0.1587, 0.5, 0.8413])
        lower, middle, upper = np.log(np.maximum(ends, 1e-300) / self.aim.target_output)
        variance = max(((upper - lower) / 2) ** 2, 1e-12)
        off = self._step_left(x, float(middle))
        df = max(self.curve.df, 3.0)
        counts = np.arange(1, 61)
        narrowed = 1 / (1 / variance + counts / max(noise, 1e-9) ** 2)
        sd = np.sqrt(narrowed + row_variance)
        above, below = np.log1p([self.aim.tolerance, -self.aim.tolerance]).tolist()

        def first(sd: npt.NDArray[np.floating], df: npt.NDArray[np.floating], off: float) -> int | None:
            reached = stdtr(df, (above - off) / sd) - stdtr(df, (below - off) / sd)
            enough = np.flatnonzero(reached >= self.aim.confidence)
            return int(enough[0]) + 1 if len(enough) else None

        count = first(sd, df + counts, off)
        if count is not None and count <= MOST_MORE_CATCHES:
            return count, ""
        forever = np.array([np.sqrt(row_variance) if row_variance > 0 else 1e-12])
        if row_variance > 0 and abs(off) < self.aim.tolerance / 2 and first(forever, np.array([df + 60]), off) is None:
            return None, "rows"
        centred = first(sd, df + counts, 0.0)
        return None, "noise" if centred is None or centred > MOST_MORE_CATCHES else "off"

    def _step_left(self, x: float, middle: float) -> float:
        """How far off target the best setting must be expected to stay: half a step of a fine control, or all of it."""
        others = np.sort(np.abs(self.openings - x))
        if len(others) < 2:
            return middle
        near = np.array([x, x + others[1]])
        rise = np.diff(np.log(np.maximum(self.curve.mean(near), 1e-300)))[0]
        return float(np.sign(middle) * min(abs(middle), abs(rise) / 2))
