"""The restricted likelihood of lots as random effects, worked out at any answer: both optima are held against it.

It is written from the formulas for one mean and two variances, and shares no code with the fit that it judges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from predictor.domain.control import Floats


@dataclass(frozen=True, eq=False)
class Restricted:
    """Catches of lots: how many, their mean, and the sum of squares within lots.

    Source: Searle, Casella and McCulloch (1992), Variance Components, section 6.6 (from memory).
    """

    count: Floats
    mean: Floats
    within_ss: float

    @classmethod
    def of(cls, y: Floats, lot: np.ndarray) -> Restricted:
        """The sums of responses by lot."""
        count = np.bincount(lot).astype(float)
        mean = np.bincount(lot, y) / count
        mean += np.bincount(lot, y - mean[lot]) / count
        return cls(count, mean, float(((y - mean[lot]) ** 2).sum()))

    def best_mean(self, between: float, within: float) -> float:
        """The mean over lots, given the variances."""
        weight = self.count / (within + self.count * between)
        first = float(self.mean[0])  # so that digits are kept
        return first + float(weight @ (self.mean - first) / weight.sum())

    def criterion(self, between: float, within: float) -> float:
        """-2 x the restricted log likelihood."""
        n, lots = float(self.count.sum()), len(self.count)
        size = within + self.count * between
        weight = self.count / size
        off = self.mean - self.best_mean(between, within)
        log_det = (n - lots) * math.log(within) + float(np.log(size).sum()) + math.log(float(weight.sum()))
        return (n - 1) * math.log(2 * math.pi) + log_det + self.within_ss / within + float(weight @ off**2)

    def far(self, between: float, within: float) -> float:
        """How far one step of Fisher scoring leads from these variances, in standard errors.

        At a variance of nothing between lots only a step upwards counts.
        """
        score, information = self._score(between, within)
        if between <= 0 and score[0] <= 0:
            return float(abs(score[1]) / math.sqrt(information[1, 1]))
        step = np.linalg.solve(information, score)
        return float(np.max(np.abs(step) / np.sqrt(np.diag(np.linalg.inv(information)))))

    def _score(self, between: float, within: float) -> tuple[Floats, Floats]:
        """Derivatives of the restricted log likelihood by the two variances, and their information."""
        size = within + self.count * between
        a, total = self.count / size, float((self.count / size).sum())
        off = self.mean - self.best_mean(between, within)
        square, cube = self.count / size**2, float((self.count / size**3).sum())
        rest = float(((self.count - 1) / within**2 + 1 / size**2).sum())
        trace_within = float(((self.count - 1) / within + 1 / size).sum()) - float(square.sum()) / total
        score = -0.5 * np.array(
            [
                total - float(a @ a) / total - float((a * off) @ (a * off)),
                trace_within - self.within_ss / within**2 - float(square @ off**2),
            ]
        )
        inner = np.diag(a) - np.outer(a, a) / total
        both = square - 2 * square * a / total + (a / total) ** 2 * float(square.sum())
        last = rest - 2 * cube / total + (float(square.sum()) / total) ** 2
        cross = 0.5 * float(both.sum())
        return score, np.array([[0.5 * float((inner**2).sum()), cross], [cross, 0.5 * last]])
