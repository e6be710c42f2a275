"""What a calibration aims at."""

from __future__ import annotations

import math
from dataclasses import dataclass

from predictor.advice.history import History
from predictor.domain.arguments import NOT_NEGATIVE, POSITIVE, kind, number, real, several
from predictor.errors import InputError

TOLERANCE = 0.10  # common practice: 5 to 10 % is asked of a catch test
CONFIDENCE = 0.95


@dataclass(frozen=True)
class Aim:
    """What is wanted of one box, and what is known beforehand.

    Attributes
    ----------
    target_output : float
        Wanted mean output, grams per row per turn, > 0.
    tolerance : float
        How far the true mean rate may lie from target, a fraction between 0 and 1.
    confidence : float
        Chance at which a setting may be locked, at least 0.5 and below 1.
    history : History or None
        What earlier lots of the box say; None for ordinary knowledge.
    field_factor : float
        Field rate over stationary rate, > 0: for rates shown. The target output is corrected for it already. It is 1
        for a lot that was towed, since slip is in its catches.

    slip : tuple of (float, float) or None
        Measured field factor with the standard uncertainty of its logarithm, for catches of the standing drill in a lot
        that was towed; None where there is none, and they are left out.

    Raises
    ------
    InputError
        A number is out of its range.
    """

    target_output: float
    tolerance: float = TOLERANCE
    confidence: float = CONFIDENCE
    history: History | None = None
    field_factor: float = 1.0
    slip: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        for name in ("target_output", "tolerance", "confidence"):
            object.__setattr__(self, name, real(getattr(self, name), name))
        object.__setattr__(self, "field_factor", number(self.field_factor, "field_factor", POSITIVE))
        kind(self.history, "history", (History, type(None)), "a History, as `learn_history` gives, or None")
        if self.slip is not None:
            factor, spread = several(self.slip, "slip", (POSITIVE, NOT_NEGATIVE), "a factor and its uncertainty")
            object.__setattr__(self, "slip", (factor, spread))
        if not (math.isfinite(self.target_output) and self.target_output > 0):
            raise InputError(f"The target must be above 0 grams per row per turn; got {self.target_output}.")
        if not 0 < self.tolerance < 1:
            raise InputError(f"The tolerance must be a fraction between 0 and 1, such as 0.10; got {self.tolerance}.")
        if not 0.5 <= self.confidence < 1:
            raise InputError(f"The confidence must be at least 0.5 and below 1, such as 0.95; got {self.confidence}.")

    @property
    def near(self) -> float:
        """Output near which a curve should hold: the target, uncorrected, so that one fit serves before and after."""
        return self.target_output * self.field_factor

    @property
    def low(self) -> float:
        """Smallest output within tolerance."""
        return self.target_output * (1 - self.tolerance)

    @property
    def high(self) -> float:
        """Largest output within tolerance."""
        return self.target_output * (1 + self.tolerance)
