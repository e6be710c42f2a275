"""How the output of a box falls while it empties, and when to refill it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from predictor.advice.lot_fit import Stationary
from predictor.advice.setup import FILL_CHAFFY
from predictor.domain.drill import SeedBox

# Change of output with the filling of a box (1/4, 1/2, 2/3) allowed to drills: 10 %, Indian teaching notes, Performance
# requirements for a seed drill (read; wording of IS 6813, inferred). From full to nearly empty is our reading of it.
FILL_OTHER_RANGE = 0.10
# No box is run emptier than this, whatever its output does; common practice.
LEAST_CHAFFY, LEAST_OTHER = 1 / 3, 1 / 4


def fill_effect(box: SeedBox, standing: Stationary | None) -> tuple[float, Literal["seen", "chaffy", "assumed"]]:
    """Log output of a full box over an empty one, and where it is from: the catches, published or assumed."""
    if standing is not None and standing.fill_effect is not None:
        return standing.fill_effect, "seen"
    return (FILL_CHAFFY[0], "chaffy") if box.holds == "chaffy" else (FILL_OTHER_RANGE, "assumed")


@dataclass(frozen=True)
class Refill:
    """When to refill a box."""

    at: float  # Filling, a fraction
    loss: float  # By how much less comes out then than from a half-full box, a fraction
    measured: bool  # Whether catches at several fillings showed that; else it is the usual effect


def refill(box: SeedBox, standing: Stationary | None, tolerance: float) -> Refill:
    """When to refill: where output has fallen by half the tolerance, and never below a quarter (chaffy: a third)."""
    effect, basis = fill_effect(box, standing)
    effect, least = max(effect, 0.0), LEAST_CHAFFY if box.holds == "chaffy" else LEAST_OTHER
    at = least if effect <= 0 else min(max(0.5 - tolerance / 2 / effect, least), 0.5)
    return Refill(at, -math.expm1(-effect * (0.5 - at)), basis == "seen")
