"""One lot as the checks for slips see it: its catches, their curve, and what was known before."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from predictor.curves.base import Curve
from predictor.curves.prior import Prior
from predictor.domain.control import Control, Floats
from predictor.domain.drill import CatchDefaults, Drill, SeedBox
from predictor.domain.trials import Trials


@dataclass(frozen=True, eq=False)
class Seen:
    """One lot of a box, fitted. It is compared by identity."""

    box: SeedBox
    control: Control  # Of the box; where it has two, the lever on the drive in hand
    lot: str
    used: Trials  # The catches that the curve was fitted to, in the order they were made
    curve: Curve
    refit: Callable[[Trials], Curve]  # The line of other catches (or of these, changed), with all else alike
    prior: Prior  # What was known before; with a level where earlier lots have one
    target: float  # Wanted output, grams per row per turn
    low: float  # Smallest and largest output within tolerance
    high: float
    confidence: float
    drill: Drill | None

    @property
    def defaults(self) -> CatchDefaults:
        """How a catch of the box is usually made."""
        return self.drill.catch_of(self.box) if self.drill else CatchDefaults()


def alike(*columns: Floats) -> tuple[np.ndarray, np.ndarray]:
    """Rows with the same numbers in all columns: the group of each row, and the first row of each group."""
    order = np.lexsort(columns[::-1])
    new = np.r_[True, np.any([np.diff(each[order]) != 0 for each in columns], axis=0)]
    group = np.empty(len(order), dtype=int)
    group[order] = np.cumsum(new) - 1
    return group, order[new]
