"""Figures of a drill or a plan that can be, but hardly ever are: asked about once, and never in the way."""

from __future__ import annotations

import math

from predictor.domain.drill import Drill
from predictor.domain.result import Remark
from predictor.domain.seed import Plan
from predictor.units import METRES, SQUARE_METRES_PER_SQUARE_FOOT

# What hardly any drill has, all common practice: press wheels of 14 in to tractor tyres of 5 ft, across; rows nearer
# than 5 in or farther than 3 ft apart; more than 45 ft of width.
WHEEL_M = (14 * math.pi * METRES["in"], 5 * math.pi * METRES["ft"])
SPACING_M = (5 * METRES["in"], 3.05 * METRES["ft"])
WIDEST_M = 45 * METRES["ft"]
# Live seeds in a square metre, 4 and 150 in a square foot, of all boxes together: mixes are drilled at 20 to 100, pure
# stands of large seed at fewer; common practice.
FEW_SEEDS, MANY_SEEDS = 4 / SQUARE_METRES_PER_SQUARE_FOOT, 150 / SQUARE_METRES_PER_SQUARE_FOOT


def remarks(drill: Drill, plan: Plan | None) -> list[Remark]:
    """What to look at again before the first catch."""
    return [*_of_drill(drill), *_of_plan(plan)]


def _of_drill(drill: Drill) -> list[Remark]:
    """Remarks on the wheel, the spacing and the width."""
    found, units = list[Remark](), {"units": drill.units}
    around, width = drill.rolling_circumference_m, drill.rows * drill.row_spacing_m
    if drill.measured:
        return []
    if around is not None and not WHEEL_M[0] <= around <= WHEEL_M[1]:
        found.append(Remark("files.odd_wheel", {"metres": around, "small": around < WHEEL_M[0], **units}))
    if not SPACING_M[0] <= drill.row_spacing_m <= SPACING_M[1]:
        found.append(Remark("files.odd_spacing", {"metres": drill.row_spacing_m, **units}))
    elif width > WIDEST_M:
        found.append(Remark("files.odd_width", {"metres": width, "rows": drill.rows, **units}))
    return found


def _of_plan(plan: Plan | None) -> list[Remark]:
    """A remark on a mix with far fewer or more seeds than are drilled; fillings of a box in turn are not added up."""
    boxes: dict[str, list[float]] = {}
    for each in plan.boxes if plan else ():
        boxes.setdefault(each.box.name, []).append(each.seeds_per_m2)
    total = sum(max(each) for each in boxes.values())
    if not boxes or math.isnan(total) or FEW_SEEDS <= total <= MANY_SEEDS:
        return []
    return [Remark("files.odd_seeds", {"per_m2": total, "few": total < FEW_SEEDS})]
