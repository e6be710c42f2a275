"""How many catches are still to come before a setting can be locked, and what stands in the way of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr

from predictor.curves.base import Curve

# More further catches than this are not worth their seed and time: longer ones are.
MOST_MORE_CATCHES = 10


@dataclass(frozen=True)
class Prospect:
    """What further catches can do for one curve and target."""

    curve: Curve
    openings: np.ndarray  # Settings the control has, ascending
    target: float  # Grams per row per turn
    tolerance: float
    confidence: float
    row_variance: float  # Variance that repeating the same rows leaves, a fraction squared

    def more_catches(self, x: float, noise: float | None = None, row_variance: float | None = None):
        """Catches still needed at a setting, and what stands in the way where they are too many.

        The posterior of the log mean at x narrows with each catch as that of a normal mean does, and the setting can be
        mended to half a step; the count is the smallest whose chance then reaches the confidence.
        """
        noise = self.likely_noise() if noise is None else noise
        row_variance = self.row_variance if row_variance is None else row_variance
        lower, middle, upper = self._log_mean(x)
        variance = max(((upper - lower) / 2) ** 2, 1e-12)
        off = self._step_left(x, middle)
        df = max(self.curve.df, 3.0)
        counts = np.arange(1, 61)
        narrowed = 1 / (1 / variance + counts / max(noise, 1e-9) ** 2)
        sd = np.sqrt(narrowed + row_variance)
        limits = np.log1p([self.tolerance, -self.tolerance])
        reached = stdtr(df + counts, (limits[0] - off) / sd) - stdtr(df + counts, (limits[1] - off) / sd)
        enough = np.flatnonzero(reached >= self.confidence)
        if len(enough) and counts[enough[0]] <= MOST_MORE_CATCHES:
            return int(counts[enough[0]]), ""
        forever = np.sqrt(row_variance) if row_variance > 0 else 1e-12
        with_rows = stdtr(df + 60, (limits[0] - off) / forever) - stdtr(df + 60, (limits[1] - off) / forever)
        if row_variance > 0 and with_rows < self.confidence and abs(off) < self.tolerance / 2:
            return None, "rows"
        centred = stdtr(df + counts, limits[0] / sd) - stdtr(df + counts, limits[1] / sd)
        good = np.flatnonzero(centred >= self.confidence)
        if not len(good) or counts[good[0]] > MOST_MORE_CATCHES:
            return None, "noise"
        return None, "off"

    def likely_noise(self) -> float:
        """Repeatability that the next catches are likely to show: without the long tail that few catches leave open."""
        return self.curve.likely_noise

    def _log_mean(self, x: float):
        """Middle of the log mean output at x against target, and one standard deviation either side."""
        ends = self.curve.quantile(x, [0.1587, 0.5, 0.8413])
        return np.log(np.maximum(ends, 1e-300) / self.target)

    def _step_left(self, x: float, middle: float) -> float:
        """How far off target the best setting must be expected to stay: half a step of a fine control, or all of it."""
        others = np.sort(np.abs(self.openings - x))
        if len(others) < 2:
            return float(middle)
        near = np.array([x, x + others[1]])
        rise = np.diff(np.log(np.maximum(np.asarray(self.curve.mean(near)), 1e-300)))[0]
        return float(np.sign(middle) * min(abs(middle), abs(rise) / 2))
