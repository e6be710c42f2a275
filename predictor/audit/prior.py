"""What was known beforehand contributed: the setting with the history of the box, without, and by catches alone."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from predictor.advice.aim import Aim
from predictor.advice.case import weigh
from predictor.advice.lot_fit import LotFit
from predictor.audit.readings import readings
from predictor.audit.results import View
from predictor.curves.base import Curve
from predictor.curves.classical import FlatLine

LEVEL = 0.95
# The limits of one standard deviation either side.
LOW, HIGH = 0.1587, 0.8413


def view(name: str, fit: LotFit, aim: Aim, classical: FlatLine | None = None) -> View | None:
    """What a fit says of the setting, and how many catches its knowledge is worth; None where it has no curve."""
    if fit.curve is None or not len(fit.openings):
        return None
    case = weigh(fit, aim)
    ideal = fit.curve.setting_for(aim.target_output, LEVEL)
    return View(
        name,  # type: ignore[arg-type]
        ideal.estimate,
        ideal.lower,
        ideal.upper,
        readings(fit.control, ideal.estimate, ideal.lower, ideal.upper),
        fit.control.at(float(fit.openings[case.nearest])).text,
        float(case.real_chance[case.nearest]),
        None if classical is None else worth(fit.curve, classical, aim.target_output),
    )


def by_catches_alone(fit: LotFit, classical: FlatLine, aim: Aim) -> View | None:
    """The same by the classical line."""
    return view("classical", replace(fit, curve=classical), aim)


def worth(curve: Curve, classical: FlatLine, target_output: float) -> float | None:
    """How many catches the knowledge is worth: by how much it narrows the mean output where the target is reached.

    The variance of a mean falls as one over the number of catches. So n catches with knowledge, whose limits are r
    times as narrow, are as good as n r^2 without. It is below 0 where knowledge makes the answer less sure, as by a
    repeatability that is larger than these few catches happen to show.
    """
    at = classical.setting_for(target_output, LEVEL).estimate
    if not math.isfinite(at):
        return None
    widths = []
    for each in (classical, curve):
        low, high = np.asarray(each.quantile([at, at], [LOW, HIGH])).tolist()
        if not low > 0 or not high > low:
            return None
        widths.append(math.log(high / low))
    return classical.n * ((widths[0] / widths[1]) ** 2 - 1)
