"""What each kind of curve answers behind the methods of `Curve`, which have checked what is asked."""

from abc import ABC, abstractmethod
from typing import ClassVar

import numpy as np

from predictor.curves.asked import Of
from predictor.curves.estimate import SettingEstimate
from predictor.domain.control import Floats
from predictor.numbers import Range


class Answers(ABC):
    """The answers of one kind of curve: settings are finite, outputs in order, words known."""

    _outputs: ClassVar[Range] = Range()  # For which a setting can be asked
    spread: float

    @abstractmethod
    def _mean(self, x: Floats) -> Floats:
        """Mean output at settings of shape (m,)."""

    @abstractmethod
    def _quantile(self, x: Floats, share: Floats, of: Of, weight: Floats, extra_variance: float = 0.0) -> Floats:
        """Quantiles, all of shape (m,)."""

    @abstractmethod
    def _probability_next(self, x: Floats, output: float, weight: float) -> float:
        """Probability that the next catch at a setting, of shape (1,), gives at most an output."""

    @abstractmethod
    def _probability(self, x: Floats, low: float, high: float, extra_variance: float) -> Floats:
        """Probability that the mean at settings of shape (m,) lies between two outputs."""

    @abstractmethod
    def _setting_for(self, output: float, level: float, of: Of) -> SettingEstimate:
        """Setting at which the mean output equals a wanted one."""

    def _noise_of(self, weight: float) -> float:
        return self.spread / float(np.sqrt(weight))

    def _none(self, x: Floats, low: float, high: float, extra_variance: float) -> float:
        """Probability that the mean lies between two outputs at none of several settings, ascending."""
        if np.max(self._probability(x, low, high, extra_variance)) >= 0.5:
            return 0.0
        too_much = self._probability(x[:1], high, np.inf, extra_variance)
        too_little = self._probability(x[-1:], 0.0, low, extra_variance)
        return float(max(too_much[0], too_little[0]))

    def _within(self, low: float, high: float, doubt: float) -> tuple[float, float]:
        """Stretch outside of which no setting is likely to give an output between two outputs."""
        return -np.inf, np.inf
