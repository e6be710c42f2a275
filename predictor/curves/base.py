"""What every fitted curve answers, whichever way it was fitted."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Literal

import numpy as np

Of = Literal["mean", "next"]


@dataclass(frozen=True)
class SettingEstimate:
    """Settings at which a curve may reach a wanted output.

    Attributes
    ----------
    estimate : float
        Where the curve itself reaches it; NaN where it never does.
    lower, upper : float
        Ends of the smallest stretch that holds all of the set, on the scale of the settings fitted. A side that the
        data do not bound is infinite. `lower > upper` never happens.
    shape : {"finite", "one-sided", "whole scale", "two pieces", "none"}
    pieces : tuple of (float, float)
        The set itself, ascending: one stretch, two half-lines, or nothing.
    """

    estimate: float
    lower: float
    upper: float
    shape: Literal["finite", "one-sided", "whole scale", "two pieces", "none"]
    pieces: tuple[tuple[float, float], ...]

    @classmethod
    def of_pieces(cls, estimate: float, pieces: tuple[tuple[float, float], ...]) -> SettingEstimate:
        """Name the shape of a set of settings.

        Parameters
        ----------
        estimate : float
        pieces : tuple of (float, float)
            Ascending stretches, lower <= upper in each.

        Returns
        -------
        SettingEstimate
            `lower` and `upper` are NaN where there are no pieces.
        """
        if not pieces:
            return cls(estimate, np.nan, np.nan, "none", ())
        lower, upper = pieces[0][0], pieces[-1][1]
        if len(pieces) > 1:
            shape = "two pieces"
        elif np.isinf(lower) and np.isinf(upper):
            shape = "whole scale"
        elif np.isinf(lower) or np.isinf(upper):
            shape = "one-sided"
        else:
            shape = "finite"
        return cls(estimate, lower, upper, shape, pieces)


class Curve(ABC):
    """Output of one box and lot against the setting, with what is known and not known about it.

    Settings are numbers on a scale where more is more: a lever's opening or a drive ratio. Outputs are grams per row
    per turn. Arrays go in and come out in one shape.

    Attributes
    ----------
    family : {"line", "spline"}
    noise : {"proportional", "constant"}
    prior : {"default", "history", None}
    n : int
        Catches it was fitted to.
    df : float
        Degrees of freedom behind its limits.
    """

    family: str
    noise: str
    prior: str | None
    n: int
    df: float

    @property
    @abstractmethod
    def params(self) -> dict[str, float]:
        """Estimated parameters by name."""

    @property
    @abstractmethod
    def std_errors(self) -> dict[str, float]:
        """Standard errors of `params` (posterior standard deviations where there is a prior)."""

    @property
    @abstractmethod
    def spread(self) -> float:
        """Noise of one catch: coefficient of variation, or standard deviation where the noise is constant."""

    @property
    def cv(self) -> float:
        """Repeatability: coefficient of variation of catches at one setting.

        Raises
        ------
        AttributeError
            The noise is constant; see `sd`.
        """
        if self.noise != "proportional":
            raise AttributeError("A curve with constant noise has .sd, not .cv.")
        return self.spread

    @property
    def sd(self) -> float:
        """Standard deviation of catches at one setting, grams per row per turn.

        Raises
        ------
        AttributeError
            The noise is proportional; see `cv`.
        """
        if self.noise != "constant":
            raise AttributeError("A curve with proportional noise has .cv, not .sd.")
        return self.spread

    @abstractmethod
    def mean(self, x):
        """Mean output at settings `x`.

        Parameters
        ----------
        x : float or array_like
            Settings, any shape.

        Returns
        -------
        float or ndarray, shape of `x`
            Grams per row per turn.
        """

    @abstractmethod
    def interval(self, x, level: float = 0.95, of: Of = "mean"):
        """Limits for the mean output at `x`, or for the next catch there.

        Parameters
        ----------
        x : float or array_like
            Settings, any shape.
        level : float
            Probability of the limits, 0 < level < 1.
        of : {"mean", "next"}

        Returns
        -------
        lower, upper : float or ndarray, shape of `x`
            Grams per row per turn.

        Raises
        ------
        ValueError
            `level` is not between 0 and 1.
        """

    @abstractmethod
    def setting_for(self, output: float, level: float = 0.95, of: Of = "mean") -> SettingEstimate:
        """Setting at which the mean output equals a wanted one, with limits.

        Parameters
        ----------
        output : float
            Wanted output, grams per row per turn.
        level : float
            Probability of the limits, 0 < level < 1.
        of : {"mean", "next"}
            Whether `output` is the mean wanted, or a single catch that was read.

        Returns
        -------
        SettingEstimate

        Raises
        ------
        ValueError
            `level` is not between 0 and 1.
        """

    @abstractmethod
    def probability(self, x, low: float, high: float, extra_variance: float = 0.0):
        """Probability that the mean output at `x` lies between two outputs.

        Parameters
        ----------
        x : float or array_like
            Settings, any shape.
        low, high : float
            Grams per row per turn, low <= high.
        extra_variance : float
            Variance of a relative error that all catches share (rows that were not caught), as a fraction squared.

        Returns
        -------
        float or ndarray, shape of `x`
        """


def check_level(level: float) -> None:
    """Refuse a probability that is none."""
    if not 0 < level < 1:
        raise ValueError(f"The level of an interval lies between 0 and 1, such as 0.95; got {level}.")


def increasing_root(function, low: np.ndarray, high: np.ndarray, tolerance: float = 1e-12, closeness: float = 0.0):
    """Where an increasing function crosses zero, for many brackets at once.

    Source: Regula falsi with the Illinois weight, Dowell & Jarratt (1971), BIT 11, 168-174 (cited from memory); every
    third step halves the bracket.
    """
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    below, above = function(low), function(high)
    last = x = 0.5 * (low + high)
    for step in range(120):
        if step % 3 == 2:
            x = 0.5 * (low + high)
        else:
            with np.errstate(divide="ignore", invalid="ignore"):
                x = low - below * (high - low) / (above - below)
            x = np.where((x > low) & (x < high), x, 0.5 * (low + high))
        value = function(x)
        up = value >= 0
        # an end that stays twice loses half its weight, so that the other moves too
        below = np.where(up, below * np.where(last >= x, 0.5, 1.0), value)
        above = np.where(up, value, above * np.where(last <= x, 0.5, 1.0))
        low, high = np.where(up, low, x), np.where(up, x, high)
        moved = np.abs(x - last)
        last = x
        if np.all(
            (high - low <= tolerance) | (np.abs(value) <= closeness) | ((moved <= 0.01 * tolerance) & (step % 3 != 2))
        ):
            break
    return x


def like(x, values: np.ndarray):
    """`values` as a float where `x` was one, else as an array."""
    return float(values) if np.ndim(x) == 0 else values
