"""Turns, rows and circumference to area; output, rate and target catch from one to the other."""

import math

from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark

# A scale that shows steps of more than this share of a catch adds an error that matters; common practice.
FINE_ENOUGH = 0.01
# Turning a wheel by hand more than this many times as often is worse than a finer scale; common practice.
MOST_TIMES = 4


def catch_area(turns: float, rows: float, circumference_m: float, spacing_m: float) -> float:
    """Ground that the drill would cover during a catch, square metres."""
    return turns * circumference_m * spacing_m * rows


def output_for_rate(rate_g_m2: float, drill: Drill, box: SeedBox, field_factor: float = 1.0) -> float:
    """Output a stationary catch of a box must show for a rate in the field."""
    return rate_g_m2 * catch_area(1, 1, drill.rolling_circumference_m, drill.spacing_of(box)) / field_factor


def rate_for_output(output: float, drill: Drill, box: SeedBox, field_factor: float = 1.0) -> float:
    """Rate in the field of an output of a box; the inverse of `output_for_rate`."""
    return output / output_for_rate(1.0, drill, box, field_factor)


def target_catch_g(
    rate_g_m2: float, drill: Drill, box: SeedBox, turns: float, rows: float, field_factor: float = 1.0
) -> float:
    """Weight to catch from a box for a bulk rate."""
    return output_for_rate(rate_g_m2, drill, box, field_factor) * turns * rows


def coarse_scale(box: SeedBox, target_output: float, drill: Drill, turns: float, rows: int) -> Remark | None:
    """A remark where the scale is too coarse for the target catch, with what mends it: more turns, rows or both."""
    step, target, all_rows = drill.catch.scale_resolution_g, target_output * turns * rows, drill.rows_of(box)
    times = step / FINE_ENOUGH / target
    if times <= 1 + 1e-9:
        return None
    values = {"box": box.name, "step_g": step, "share": step / target, "all_rows": all_rows}
    needed = rows * times
    mends = {
        "more_turns": (turns * times, times <= MOST_TIMES),
        "more_rows": (needed, needed <= all_rows),
        "turns_of_all": (turns * needed / all_rows, rows < all_rows < needed <= MOST_TIMES * all_rows),
    }
    values |= {name: math.ceil(size - 1e-9) if possible else None for name, (size, possible) in mends.items()}
    return Remark("plan.coarse_scale", values)
