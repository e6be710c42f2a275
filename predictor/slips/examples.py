"""Whether a drill file or a plan still holds figures of the example that a new job starts with."""

from __future__ import annotations

import math

from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark
from predictor.domain.seed import LotPlan, Plan
from predictor.slips.finding import Finding
from predictor.units import METRES

NAME = "My drill"
# Rows, row spacing and rolling circumference in metres, as the two templates have them; a test compares.
FIGURES = {"us": (12, 7.5 * METRES["in"], 7.2 * METRES["ft"]), "metric": (12, 0.19, 2.2)}
BOXES = {
    "chaffy": Sprockets({"1": 12 / 36, "2": 15 / 36, "3": 15 / 30, "4": 18 / 30, "5": 20 / 28}),
    "small": Lever(0, 40, 0.5),
}
LOTS = {
    "chaffy": {"example a": "little bluestem", "example b": "indiangrass"},
    "small": {"example c": "switchgrass"},
}
# Judgement: who has not touched a figure has hardly measured it, and found the very same.
UNTOUCHED = 0.9


def example_drill(drill: Drill) -> dict[str, object] | None:
    """What of a drill file is as the example has it, where nobody can have measured it; None where it was measured.

    The wheel's circumference is what is left longest, since measuring it takes a field. A drill of another name may
    have the example's, but hardly with its rows, its spacing and its boxes besides.
    """
    rows, spacing, circumference = FIGURES[drill.units]
    around = drill.rolling_circumference_m
    if drill.measured:
        return None
    same_wheel = around is None or math.isclose(around, circumference)
    same_rows = drill.rows == rows and math.isclose(drill.row_spacing_m, spacing)
    same_boxes = {each.name: each.control for each in drill.boxes} == BOXES
    untouched = same_wheel and (around is not None or same_rows) if drill.name == NAME else same_rows and same_boxes
    if not (same_wheel and untouched):
        return None
    return {"name": drill.name, "covers_m": math.nan if around is None else around, "units": drill.units}


def example_lots(plan: Plan | None) -> list[LotPlan]:
    """Lots of a plan that are those of the example."""
    lots = () if plan is None else plan.lots
    return [lot for lot in lots if LOTS.get(lot.box.lower(), {}).get(lot.lot.lower()) == lot.species.lower()]


def remarks(drill: Drill, plan: Plan | None) -> list[Remark]:
    """What a job should be told before its first catch."""
    found, lots = example_drill(drill), example_lots(plan)
    return [
        *([Remark("files.example_drill", found)] if found else []),
        *([Remark("files.example_lots", {"lots": tuple(lot.lot for lot in lots)})] if lots else []),
    ]


def findings(drill: Drill, plan: Plan | None, box: SeedBox, lot: str) -> tuple[Finding, ...]:
    """What no box and lot may be locked on: figures of the example file."""
    drill_values = example_drill(drill)
    lots = tuple(each.lot for each in example_lots(plan) if (each.box, each.filling.lower()) == (box.name, lot.lower()))
    found = []
    if drill_values is not None:
        found.append(Finding("example_drill", box.name, lot, (), UNTOUCHED, True, drill_values))
    if lots:
        found.append(Finding("example_lots", box.name, lot, (), UNTOUCHED, True, {"lots": lots}))
    return tuple(found)
