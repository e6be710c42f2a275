"""Turns, rows and circumference to area; output, rate and target catch from one to the other."""

import math
from dataclasses import dataclass
from typing import Literal

from predictor.domain.drill import Counted, Drill, SeedBox
from predictor.domain.result import Remark
from predictor.units import METRES

# A scale that shows steps of more than this share of a catch adds an error that matters; common practice.
FINE_ENOUGH = 0.01
# Turning a wheel by hand more than this many times as often is worse than a finer scale; common practice.
MOST_TIMES = 4
# Metres of ground that an ordinary drive wheel covers in a turn: 7.2 ft, common practice.
ORDINARY_TURN_M = 7.2 * METRES["ft"]


Distance = Literal["ft", "m"]
Measured = Literal[Counted, Distance]


@dataclass(frozen=True)
class CatchSize:
    """How long a catch is, as people count it, and how many rows it takes.

    Attributes
    ----------
    length : float
    counted : {"wheel turns", "crank turns", "motor turns", "seconds", "ft", "m"}
        What `length` counts: a towed catch has a distance.
    rows : float
    """

    length: float
    counted: Measured
    rows: float


def catch_size(turns: float, rows: float, drill: Drill | None, box: SeedBox, towed: bool = False) -> CatchSize:
    """The size of a catch of a box; without a drill its turns are those of a wheel."""
    if drill is None:
        return CatchSize(turns, "wheel turns", rows)
    if not towed:
        return CatchSize(turns, drill.catch_of(box).counted, rows)
    unit: Distance = "ft" if drill.units == "us" else "m"
    return CatchSize(turns * drill.covers_of(box) / METRES[unit], unit, rows)


def wheel_turns(drill: Drill, box: SeedBox) -> float:
    """How many turns of an ordinary drive wheel the meters of a box make in one turn or second that is counted."""
    return 1.0 if drill.catch_of(box).counted == "wheel turns" else drill.covers_of(box) / ORDINARY_TURN_M


def slips(drill: Drill, box: SeedBox) -> bool:
    """Whether a wheel turns the meters of a box in the field, also where a crank turns them for a catch."""
    return drill.catch_of(box).counted in ("wheel turns", "crank turns")


def catch_area(turns: float, rows: float, covers_m: float, spacing_m: float) -> float:
    """Ground that the drill would cover during a catch, square metres."""
    return turns * covers_m * spacing_m * rows


def output_for_rate(rate_g_m2: float, drill: Drill, box: SeedBox, field_factor: float = 1.0) -> float:
    """Output a stationary catch of a box must show for a rate in the field."""
    return rate_g_m2 * catch_area(1, 1, drill.covers_of(box), drill.spacing_of(box)) / field_factor


def rate_for_output(output: float, drill: Drill, box: SeedBox, field_factor: float = 1.0) -> float:
    """Rate in the field of an output of a box; the inverse of `output_for_rate`."""
    return output / output_for_rate(1.0, drill, box, field_factor)


def target_catch_g(
    rate_g_m2: float, drill: Drill, box: SeedBox, turns: float, rows: float, field_factor: float = 1.0
) -> float:
    """Weight to catch from a box for a bulk rate."""
    return output_for_rate(rate_g_m2, drill, box, field_factor) * turns * rows


def coarse_scale(
    box: SeedBox, target_output: float, drill: Drill, turns: float, rows: int, towed: bool = False
) -> Remark | None:
    """A remark where the scale is too coarse for the target catch, with what mends it: more turns, rows or both."""
    step, target, all_rows = drill.catch.scale_resolution_g, target_output * turns * rows, drill.rows_of(box)
    times = step / FINE_ENOUGH / target
    if times <= 1 + 1e-9:
        return None
    values: dict[str, object] = {"box": box.name, "step_g": step, "share": step / target, "all_rows": all_rows}
    one, needed = catch_size(1, 1, drill, box, towed), rows * times
    values["counted"] = one.counted
    mends = {
        "more_turns": (turns * one.length * times, times <= MOST_TIMES),
        "more_rows": (needed, needed <= all_rows),
        "turns_of_all": (turns * one.length * needed / all_rows, rows < all_rows < needed <= MOST_TIMES * all_rows),
    }
    values |= {name: math.ceil(size - 1e-9) if possible else None for name, (size, possible) in mends.items()}
    return Remark("plan.coarse_scale", values)
