"""Turns, rows and circumference to area; output, rate and target catch from one to the other."""

from __future__ import annotations

from predictor.domain.drill import Drill


def catch_area(turns: float, rows: float, circumference_m: float, spacing_m: float) -> float:
    """Ground that a catch stands for."""
    return turns * circumference_m * spacing_m * rows


def output_for_rate(rate_g_m2: float, drill: Drill, field_factor: float = 1.0) -> float:
    """Output a stationary catch must show for a rate in the field."""
    return rate_g_m2 * catch_area(1, 1, drill.rolling_circumference_m, drill.row_spacing_m) / field_factor


def rate_for_output(output: float, drill: Drill, field_factor: float = 1.0) -> float:
    """Rate in the field of an output; the inverse of `output_for_rate`."""
    return output * field_factor / catch_area(1, 1, drill.rolling_circumference_m, drill.row_spacing_m)


def target_catch_g(rate_g_m2: float, drill: Drill, turns: float, rows: float, field_factor: float = 1.0) -> float:
    """Weight to catch for a bulk rate."""
    return output_for_rate(rate_g_m2, drill, field_factor) * turns * rows
