"""What was taken as given of the catches of a lot, since no row and no answer says it."""

from __future__ import annotations

import numpy as np

from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Trials


def taken_as_given(catches: Trials, box: SeedBox, drill: Drill | None) -> Remark | None:
    """What was taken as given of the catches that count, for one line; None where there is no catch.

    Each is a fact that the numbers cannot show: a weight of the seed alone, turns, rows, and whether the meters were
    charged. What a row states, or what the technician was asked, is stated; the rest is taken from the drill file.
    """
    used = catches.where(catches.counts)
    if not len(used):
        return None
    return Remark("slips.given", {"box": box.name, "weights": "alone", "turns": float(used.turns[-1])})


def states(catches: Trials, what: str) -> np.ndarray:
    """Which catches state something: "turns", "rows", "charged" or "tare"; bool, shape (n,)."""
    return np.array([what in each.split() for each in catches.stated.tolist()], dtype=bool)
