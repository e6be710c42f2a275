"""Figures of the example that a new job starts with, in sentences."""

from __future__ import annotations

import math

from predictor.domain.result import Remark
from predictor.format import listed
from predictor.units import METRES


def drill_read(remark: Remark) -> str:
    """What drill.toml still has of the example."""
    return f"drill.toml still holds {_what(remark)} of the example. Replace them with those of your drill."


def drill_waits(remark: Remark) -> str:
    """Why no box is locked, and how to say that the figures are right."""
    wheel = "" if math.isnan(remark["covers_m"]) else " Roll the loaded drill ten turns to get its circumference."
    return (
        f"drill.toml still holds {_what(remark)} of the example.{wheel} Write your drill's name and figures there. If "
        'they are right as they are, add the day you measured them: measured = "2026-03-14"'
    )


def _what(remark: Remark) -> str:
    """The figures that are as in the example."""
    if math.isnan(remark["covers_m"]):
        return "the rows and the row spacing"
    unit = "ft" if remark["units"] == "us" else "m"
    return f"the figures ({remark['covers_m'] / METRES[unit]:.4g} {unit} a turn)"


def lots_read(remark: Remark) -> str:
    """Which lots of plan.csv are those of the example."""
    lots = remark["lots"]
    what = "a lot" if len(lots) == 1 else "lots"
    return f"plan.csv still holds {what} of the example: {listed(lots)}. Put your lots in place of them."


def lots_wait(remark: Remark) -> str:
    """Why a box is not locked."""
    return f"{lots_read(remark)} If a lot is yours, write its own name."
