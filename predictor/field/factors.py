"""The field factor of each box, from its field checks: it corrects the target catch."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from predictor.domain.checks import FieldCheck
from predictor.domain.drill import Drill
from predictor.domain.result import Remark
from predictor.field.comparing import NOTHING, Compared, Evidence, KnownOf, Maybe, compare, limited
from predictor.field.model import Model
from predictor.field.results import BoxFactor, FieldResult
from predictor.field.slips import sifted

# A trend is looked for in this many checks of a box, on as many days.
ENOUGH_FOR_TREND = 4


def compare_checks(checks: Sequence[FieldCheck], drill: Drill, known_of: KnownOf) -> list[Compared]:
    """Every check against its target and the standing drill of its season, slips found out."""
    return sifted([compare(check, drill, known_of) for check in checks], drill)


def usable(compared: Sequence[Compared]) -> list[Evidence]:
    """What the checks that fit say of the field factors; a fault is one of its lot and season only."""
    return [each.evidence for each in compared if each.evidence and each.finding == "fits" and not each.evidence.towed]


def field_factors(compared: Sequence[Compared], drill: Drill) -> FieldResult:
    """Rates achieved, and the field factor of each box that a check says something of, by `Model`."""
    boxes = box_factors(usable(compared), drill)
    mixed = tuple(each.box for each in boxes if not each.alone)
    remarks = (Remark("field.never_alone", {"boxes": mixed}),) if mixed else ()
    return FieldResult(tuple(each.result for each in compared), boxes, remarks, drill.units)


def box_factors(evidence: Sequence[Evidence], drill: Drill) -> tuple[BoxFactor, ...]:
    """Factors of all boxes together, from the checks that say something of them."""
    found = []
    for box, estimate in zip(drill.boxes, Model(evidence, drill).factors(), strict=True):
        mine = [each for each in evidence if box.name in each.names]
        if not mine:
            continue
        alone = [each for each in mine if each.names == [box.name]]
        limits = limited(math.exp(estimate.location), estimate.reach)
        counts = len(alone), len(mine) - len(alone)
        found.append(BoxFactor(box.name, *limits, estimate.sd, estimate.dof, *counts, *_trend(alone)))
    return tuple(found)


def _trend(alone: Sequence[Evidence]) -> Maybe:
    """Change of the factor in 30 days with Student's limits, by least squares."""
    days = np.array([datetime.date.fromisoformat(each.check.date).toordinal() for each in alone], dtype=float)
    if len(np.unique(days)) < ENOUGH_FOR_TREND:
        return NOTHING
    (slope, _), spread = np.polyfit((days - days.mean()) / 30, [each.log_factor for each in alone], 1, cov=True)
    reach = float(stdtrit(len(days) - 2, 0.975)) * math.sqrt(spread[0, 0])
    return math.expm1(slope), math.expm1(slope - reach), math.expm1(slope + reach)
