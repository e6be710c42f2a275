"""The ground of a field check, where the boxes of one check may feed different rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from predictor.domain.checks import FieldCheck
from predictor.domain.control import Floats
from predictor.domain.drill import Drill


@dataclass(frozen=True)
class Ground:
    """The ground of a check: what its boxes give together is taken over it, though they may feed different rows."""

    area_m2: float  # NaN where it is not known
    parts: Floats  # Of each box, the ground that it sows over this area


def ground_of(check: FieldCheck, drill: Drill, seeds: Floats) -> Ground:
    """The ground of the widest box where seed was weighed.

    Where seeds were counted in a row that all boxes feed, each box has its spacing, and the pure seeds that each should
    give on a square metre weight them; NaN where they are not known.
    """
    boxes = [part.box for part in check.parts]
    if not check.counted:
        widths = np.array([drill.width_of(box) for box in boxes])
        return Ground(check.area_m2, widths / widths.max())
    spacings = np.array([drill.spacing_of(box) for box in boxes])
    middle = float(spacings[0])
    if np.ptp(spacings) > 1e-9:
        middle = float(np.sum(spacings * seeds) / np.sum(seeds))
    return Ground(check.row_m * middle, spacings / middle)
