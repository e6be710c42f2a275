"""What was taken as given of the catches of a lot, since no row and no answer says it."""

from __future__ import annotations

import math

import numpy as np

from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Trials

# What a row may state, the most harmful first where it is wrong.
FACTS = ("tare", "turns", "rows", "charged")


def taken_as_given(catches: Trials, box: SeedBox, drill: Drill | None, *, carrier: bool = False) -> Remark | None:
    """What was taken as given of the catches that count, for one line; None where there is nothing to say.

    Each is a fact that the numbers cannot show. What a row states, or what the technician was asked, is stated; the
    rest is taken from the drill file, or as a good catch has it.
    """
    used = catches.where(catches.counts)
    if not len(used):
        return None
    unstated = {what: _lines(used, ~states(used, what)) for what in FACTS}
    covers = math.nan if drill is None or used.towed.all() else _covers(drill, box)
    fed = None if drill is None else drill.rows_of(box)
    single = any(each is not None and len(each) > 1 for each in used.rows_g)
    values = {
        "box": box.name,
        "unstated": {what: lines for what, lines in unstated.items() if lines is not None},
        "turns": float(used.turns[~states(used, "turns")][-1]) if unstated["turns"] is not None else math.nan,
        "rows": float(used.rows[~states(used, "rows")][-1]) if unstated["rows"] is not None else math.nan,
        "counted": "wheel turns" if drill is None else drill.catch_of(box).counted,
        "covers_m": covers,
        "units": "us" if drill is None else drill.units,
        "alike": fed is not None and not single and bool((used.rows < fed).all()),
        "carrier": carrier,
        "undated": _lines(used, used.date == "") if len(used) > 1 and (used.date != "").any() else None,
    }
    said = values["unstated"] or values["alike"] or carrier or covers == covers or values["undated"] is not None
    return Remark("slips.given", values) if said else None


def states(catches: Trials, what: str) -> np.ndarray:
    """Which catches state something: "turns", "rows", "charged" or "tare"; bool, shape (n,)."""
    return np.array([what in each.split() for each in catches.stated.tolist()], dtype=bool)


def _covers(drill: Drill, box: SeedBox) -> float:
    """Metres that a turn or second of a box covers; NaN where nobody gave them."""
    each = drill.catch_of(box).each_covers_m
    each = drill.rolling_circumference_m if each is None else each
    return math.nan if each is None else each


def _lines(used: Trials, mask: np.ndarray) -> tuple[int, ...] | None:
    """Lines of some catches: none where they are all of them, and None where there is no such catch."""
    if not mask.any():
        return None
    return () if mask.all() else tuple(used.line[mask].tolist())
