"""Curves whose uncertainty at each setting is that of one Student-t: those without shapes to average over."""

from abc import abstractmethod

import numpy as np
from scipy.special import stdtr, stdtrit

from predictor.curves.asked import Of
from predictor.curves.base import Curve
from predictor.domain.control import Floats


class StudentCurve(Curve):
    """A curve whose uncertainty is one Student-t at each setting, given by its mean, its variance and `df`."""

    @abstractmethod
    def _variance(self, x: Floats) -> Floats:
        """Variance of the mean at settings of shape (m,)."""

    def _quantile(self, x: Floats, share: Floats, of: Of, weight: Floats, extra_variance: float = 0.0) -> Floats:
        middle = self._mean(x)
        square = self._variance(x) + extra_variance * middle**2
        if of == "next":
            square = square + self._noise_variance(middle) / weight
        return np.asarray(middle + stdtrit(self.df, share) * np.sqrt(square))

    def _noise_variance(self, middle: Floats) -> Floats:
        return (self.spread * (np.abs(middle) if self.noise == "proportional" else np.ones(middle.shape))) ** 2

    def _probability_next(self, x: Floats, output: float, weight: float) -> float:
        middle = self._mean(x)
        scale = np.sqrt(self._variance(x) + self._noise_variance(middle) / weight)
        with np.errstate(divide="ignore", invalid="ignore"):
            below = stdtr(self.df, (output - middle) / scale)
        return float(np.where(scale > 0, below, middle <= output)[0])

    def _probability(self, x: Floats, low: float, high: float, extra_variance: float) -> Floats:
        middle = self._mean(x)
        scale = np.sqrt(self._variance(x) + extra_variance * middle**2)
        with np.errstate(divide="ignore", invalid="ignore"):
            chance = stdtr(self.df, (high - middle) / scale) - stdtr(self.df, (low - middle) / scale)
        return np.where(scale > 0, chance, (low <= middle) & (middle <= high))
