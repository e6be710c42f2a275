"""Figures that hardly any drill or plan has, in sentences."""

from __future__ import annotations

import math

from predictor.domain.result import Remark
from predictor.format import figures
from predictor.units import METRES, SQUARE_METRES_PER_SQUARE_FOOT


def _length(metres: float, unit: str) -> str:
    return f"{metres / METRES[unit]:.3g} {unit}"


def wheel(remark: Remark) -> str:
    """A rolling circumference that is more like a diameter, or like several turns."""
    unit = "ft" if remark["units"] == "us" else "m"
    around = remark["metres"]
    likely = (
        f"Is it the diameter? Around, such a wheel has {_length(around * math.pi, unit)}."
        if remark["small"]
        else "Is it the distance of several turns, or in another unit?"
    )
    return f"drill.toml: few drive wheels cover {_length(around, unit)} in a turn. {likely}"


def spacing(remark: Remark) -> str:
    """Rows that are nearer or farther than on other drills."""
    metres, us = remark["metres"], remark["units"] == "us"
    here = _length(metres, "in" if us else "cm")
    return f"drill.toml: few drills have rows {here} apart. Check the number and its unit."


def width(remark: Remark) -> str:
    """More width than a drill has."""
    unit = "ft" if remark["units"] == "us" else "m"
    return (
        f"drill.toml: {remark['rows']} rows make the drill {_length(remark['metres'], unit)} wide. Check the rows, and "
        "the row spacing and its unit."
    )


def seeds(remark: Remark) -> str:
    """Fewer or more seeds than are drilled."""
    per_ft2 = figures(remark["per_m2"] * SQUARE_METRES_PER_SQUARE_FOOT)
    how = "few" if remark["few"] else "many"
    return (
        f"plan.csv: {per_ft2} live seeds/ft2 ({figures(remark['per_m2'])}/m2) in all boxes together are {how} for a "
        "drilled mix. Check the rates and their unit, whether they are PLS or bulk, and the counts of seeds."
    )
