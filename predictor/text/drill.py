"""What the drill does, in words: the rows that a box feeds."""

from __future__ import annotations

from predictor.domain.drill import Drill, SeedBox
from predictor.units import METRES, Units


def fed_rows(drill: Drill, box: SeedBox, units: Units) -> str:
    """Which rows a box feeds, where they are not all rows of the drill; else "".

    Examples
    --------
    >>> from predictor.domain.control import Lever
    >>> box = SeedBox("legume", "small", Lever(0, 40), rows=6)
    >>> fed_rows(Drill("made up", 12, 0.1905, 2.2, (box,)), box, "us")
    '6 of 12 rows, 15 in apart'
    """
    if box.rows is None:
        return ""
    unit = "in" if units == "us" else "cm"
    return f"{box.rows} of {drill.rows} rows, {drill.spacing_of(box) / METRES[unit]:.4g} {unit} apart"
