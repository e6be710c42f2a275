"""Settings at which a curve may reach a wanted output: one stretch, half the scale, two half-lines, all or nothing."""

from dataclasses import dataclass
from typing import Literal, Self

import numpy as np

Pieces = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class SettingEstimate:
    """Settings at which a curve may reach a wanted output.

    Attributes
    ----------
    estimate : float
        The setting at which the curve itself reaches the output; NaN where it never does.
    lower, upper : float
        Ends of the smallest stretch that holds all of the set, on the scale of the settings fitted. A side that the
        data do not bound is infinite. `lower` is never above `upper`; both are NaN where the set is empty.
    shape : {"finite", "one-sided", "whole scale", "two pieces", "none"}
    pieces : tuple of (float, float)
        The set itself, ascending: one stretch, two half-lines, or nothing.

    Examples
    --------
    >>> from predictor import fit_curve
    >>> curve = fit_curve([10, 20, 30], [1.0, 2.0, 3.1], prior=None, noise="constant")
    >>> curve.setting_for(2.0).shape
    'finite'
    """

    estimate: float
    lower: float
    upper: float
    shape: Literal["finite", "one-sided", "whole scale", "two pieces", "none"]
    pieces: Pieces

    @classmethod
    def of_pieces(cls, estimate: float, pieces: Pieces) -> Self:
        """Name the shape of a set of settings.

        Parameters
        ----------
        estimate : float
            The setting at which the curve itself reaches the output.
        pieces : tuple of (float, float)
            Ascending stretches, lower <= upper in each.

        Returns
        -------
        SettingEstimate
        """
        if not pieces:
            return cls(estimate, np.nan, np.nan, "none", ())
        lower, upper = pieces[0][0], pieces[-1][1]
        if len(pieces) > 1:
            return cls(estimate, lower, upper, "two pieces", pieces)
        unbounded = int(np.isinf(lower)) + int(np.isinf(upper))
        return cls(estimate, lower, upper, ("finite", "one-sided", "whole scale")[unbounded], pieces)
