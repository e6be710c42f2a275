"""Turns, rows and circumference to area; output, rate and target catch from one to the other."""

from __future__ import annotations

from predictor.drill import Drill


def catch_area(turns: float, rows: float, circumference_m: float, spacing_m: float) -> float:
    """Ground that a catch stands for.

    Parameters
    ----------
    turns : float
        Drive-wheel turns.
    rows : float
        Row units caught.
    circumference_m, spacing_m : float
        Rolling circumference and row spacing, metres.

    Returns
    -------
    float
        Square metres.

    Examples
    --------
    A wheel 8 ft around, rows 7.5 in apart, 20 turns, one row: 100 square feet (worksheet of a soil-health
    outreach programme).

    >>> round(catch_area(20, 1, 8 * 0.3048, 7.5 * 0.0254) / 0.3048**2, 9)
    100.0
    """
    return turns * circumference_m * spacing_m * rows


def output_for_rate(rate_g_m2: float, drill: Drill, field_factor: float = 1.0) -> float:
    """Output a stationary catch must show for a rate in the field.

    Parameters
    ----------
    rate_g_m2 : float
        Bulk rate, carrier included, grams per square metre.
    drill : Drill
    field_factor : float
        Field rate over stationary rate, > 0.

    Returns
    -------
    float
        Grams per row per turn.
    """
    return rate_g_m2 * catch_area(1, 1, drill.rolling_circumference_m, drill.row_spacing_m) / field_factor


def rate_for_output(output: float, drill: Drill, field_factor: float = 1.0) -> float:
    """Rate in the field of an output; the inverse of `output_for_rate`.

    Parameters
    ----------
    output : float
        Grams per row per turn.
    drill : Drill
    field_factor : float

    Returns
    -------
    float
        Grams per square metre.
    """
    return output * field_factor / catch_area(1, 1, drill.rolling_circumference_m, drill.row_spacing_m)


def target_catch_g(rate_g_m2: float, drill: Drill, turns: float, rows: float, field_factor: float = 1.0) -> float:
    """Weight to catch for a bulk rate.

    Parameters
    ----------
    rate_g_m2 : float
        Bulk rate, carrier included, grams per square metre.
    drill : Drill
    turns, rows : float
        Of the catch.
    field_factor : float
        Field rate over stationary rate, > 0.

    Returns
    -------
    float
        Grams over all caught rows.
    """
    return output_for_rate(rate_g_m2, drill, field_factor) * turns * rows
