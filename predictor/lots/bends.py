"""How much the bends of lots may differ where they are taken as one: its variance, by restricted likelihood.

A test of one shape says that shapes differ, never that they do not, and thin catches seldom reject shapes that differ.
So bends of lots are taken as random about the common one, and how much they differ is averaged over.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from predictor.domain.control import Floats
from predictor.lots.parallel import parallel_lines
from predictor.lots.shapes import DEAD_SPREAD, LotCurves

# The grid of log(1 + standard deviation): its points, where it ends, and how far below the best a point counts. With
# many lots the likelihood is nearly normal, and few points are enough.
POINTS, END, FAR = 41, 8.0, 20.0
FEW_POINTS, VERY_MANY_LOTS = 11, 1000
# Starts are averaged over so many variances, and beyond so many lots go by one.
POINTS_OF_STARTS, MANY_LOTS = 5, 100


@dataclass(frozen=True, eq=False)
class BendNoise:
    """What is known of the variance of lots' bends: a distribution over it, arrays of shape (g,)."""

    variance: Floats
    weight: Floats  # Of each variance; they add up to 1
    catch: Floats  # Variance of catches that goes with it
    df: int  # Degrees of freedom of Student's t, given the variance
    share: Floats  # Weight of each lot in the common bend, shape (L,); 0 where that was assumed

    def points(self) -> Floats:
        """A few variances of equal weight in place of all: of each part of them the mean standard deviation."""
        few = 1 if len(self.share) > MANY_LOTS else POINTS_OF_STARTS  # many lots leave little open
        reached, spread = (
            np.append(0.0, np.cumsum(each)) for each in (self.weight, self.weight * np.sqrt(self.variance))
        )
        return np.asarray(
            (few * np.diff(np.interp(np.linspace(0, 1, few + 1), reached, spread))) ** 2, dtype=np.float64
        )

    def of_difference(self, answer: Floats, other: float = 0.0, reference: int | None = None) -> Floats:
        """How often the variance of bends is in that of each log height less that of a reference lot.

        A height answers to its own lot's bend, and by the common bend to all of them; `other` is the answer of the
        reference lot's. Without one, the heights stand by themselves. A last answer may be that of a lot not yet seen.
        """
        share, apart = np.append(self.share, 0.0)[: len(answer)], answer - other
        held = 0.0 if reference is None else float(share[reference])
        rest = np.maximum(float(self.share @ self.share) - share**2 - held**2, 0.0)
        both = (answer - share * apart) ** 2 + (other + held * apart) ** 2 + rest * apart**2
        if reference is not None:
            both[reference] = 0.0
        return np.asarray(both, dtype=np.float64)


def bend_noise(common: LotCurves) -> BendNoise | None:
    """How much the bends of lots may differ, about the curve fitted to all; None where no catches tell.

    Given the ratio of the variance of bends to that of catches, slopes within lots are known as well as these two
    allow, and the common bend and the variance of catches have closed forms. The ratio r of standard deviations, on the
    scale of how settings spread within lots, has the weight 1/(1 + r), as for a new lot in `random_levels`. Dead
    settings that differ by more than about `DEAD_SPREAD` of the control's range are taken as unusual beforehand.

    Source: Patterson and Thompson (1971), Biometrika 58, 545-554 (REML).
    """
    catches, bend = common.catches, float(common.bend[0])
    away = catches.opening - float(common.middle[0])
    x = away / (1 + bend * away)
    lines = parallel_lines(catches.log_output - np.log1p(bend * away), x, catches.lot, catches.lot)
    tells = ~np.isnan(lines.slope)
    spread, slope, lots = np.where(tells, lines.spread, 0.0), np.where(tells, lines.slope, 0.0), len(lines.count)
    df = len(x) - lots - 1
    if lots < 2 or df < 1 or not tells.any():
        return None
    scale, least = float(spread.sum()) / len(x), df * catches.floor

    def at(grid: Floats) -> tuple[Floats, Floats]:
        """Logs of the likelihood, and variances of catches."""
        wider = 1 + np.expm1(grid)[:, None] ** 2 * spread / scale
        info = spread / wider
        mean = (info @ slope) / info.sum(axis=1)
        square = np.maximum(lines.ss + (info * (slope - mean[:, None]) ** 2).sum(axis=1), max(least, 1e-300))
        logs = -0.5 * (np.log(wider).sum(axis=1) + np.log(info.sum(axis=1)) + df * np.log(square))
        return logs, square / df

    points = POINTS if lots < VERY_MANY_LOTS else FEW_POINTS
    grid = np.linspace(0.0, END, points)
    for _ in range(5):
        logs, catch = at(grid)
        variance = np.expm1(grid) ** 2 * catch / scale
        logs -= np.log1p(variance / _usual(common) ** 2)
        held = np.flatnonzero(logs > logs.max() - FAR)
        if len(held) > points / 2:
            break
        grid = np.linspace(grid[max(held[0] - 1, 0)], grid[min(held[-1] + 1, points - 1)], points)
    weight = np.exp(logs - logs.max())
    share = np.zeros(lots) if common.assumed else spread / spread.sum()
    return BendNoise(variance, weight / weight.sum(), catch, df, share)


def _usual(common: LotCurves) -> float:
    """Standard deviation of bends that is about what dead settings of lots may differ by."""
    control = common.catches.control
    span = float(np.abs(common.catches.opening).max()) or 1.0 if control is None else control.span
    return float(common.bend[0]) ** 2 * DEAD_SPREAD * span
