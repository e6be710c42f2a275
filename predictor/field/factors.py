"""The field factor of each box, from its field checks: it corrects the target catch."""

from __future__ import annotations

import datetime
import math

import numpy as np
from scipy.special import stdtrit

from predictor.domain.catch import slips
from predictor.domain.checks import FieldChecks
from predictor.domain.control import Floats
from predictor.domain.drill import Drill
from predictor.domain.result import Remark
from predictor.domain.seed import Plan
from predictor.field.comparing import NOTHING, Evidence, Maybe, Standing, Towed, compare, limited
from predictor.field.results import BoxFactor, FieldResult
from predictor.field.usual import CHECK_SPREAD_WORTH, FIELD_CENTRE, OWN_SPREAD, SHARED_SPREAD

# A trend is looked for in this many checks of a box, on as many days.
ENOUGH_FOR_TREND = 4


def field_factors(
    checks: FieldChecks, drill: Drill, plan: Plan | None, standing: Standing, towed: Towed = lambda box, lot: False
) -> FieldResult:
    """Rates achieved, and the field factor of each box.

    log(achieved / standing) = shared + own part of the box + error. Where boxes are weighed together, their own parts
    count by their share of the standing output. The shared part has a normal prior about log 0.918, the mean of
    published factors, and the own parts about 0. The error has the spread of single checks, that of Poisson for counts,
    and what the catches leave open, which is the same for all
    checks of one box and lot. One unknown scale multiplies all of it (inverse gamma, worth four checks), so the limits
    are those of Student. The closed form is that of the linear model with a conjugate prior (Gelman et al. 2013,
    Bayesian Data Analysis, ch. 14, from memory).
    """
    compared = [compare(check, drill, plan, standing, towed) for check in checks.checks]
    evidence = [each for _, each in compared if each is not None]
    boxes = _solve(evidence, drill) if evidence else ()
    mixed = tuple(each.box for each in boxes if not each.alone)
    remarks = (Remark("field.never_alone", {"boxes": mixed}),) if mixed else ()
    return FieldResult(tuple(result for result, _ in compared), boxes, remarks, drill.units)


def _solve(evidence: list[Evidence], drill: Drill) -> tuple[BoxFactor, ...]:
    """Factors of all boxes together, from the checks that say something of them."""
    names = [box.name for box in drill.boxes if any(box.name in each.names for each in evidence)]
    design = np.zeros((len(evidence), 1 + len(names)))
    design[:, 0] = 1.0
    # What the catches of a lot leave open is the same in all its checks, and so is what its count of seeds leaves open
    common: dict[tuple[str, str, str], Floats] = {}
    for i, each in enumerate(evidence):
        for k, (part, share) in enumerate(zip(each.check.parts, each.shares, strict=True)):
            design[i, 1 + names.index(part.box.name)] = share
            for kind, sds in (("catches", each.sds), ("count", each.count_sds)):
                key = (kind, part.box.name, part.lot.lower())
                common.setdefault(key, np.zeros(len(evidence)))[i] = share * sds[k]
    noise = np.diag([each.variance for each in evidence]) + sum(np.outer(each, each) for each in common.values())
    prior = np.diag([SHARED_SPREAD**2, *[OWN_SPREAD**2] * len(names)])
    # the published figures are taken to be of drive wheels, which slip; they say nothing of a motor
    usual = np.array([math.log(FIELD_CENTRE) if slips(drill, drill.box(name)) else 0.0 for name in names])
    seen = np.array([each.log_factor for each in evidence]) - design[:, 1:] @ usual
    spread = design @ prior @ design.T + noise
    gain = np.linalg.solve(spread, design @ prior).T
    dof = CHECK_SPREAD_WORTH + len(evidence)
    scale = (CHECK_SPREAD_WORTH + float(seen @ np.linalg.solve(spread, seen))) / dof
    # a box's factor is the sum of the shared part and its own
    pick = np.column_stack([np.ones(len(names)), np.eye(len(names))])
    middle = usual + pick @ gain @ seen
    sds = np.sqrt(np.diag(scale * pick @ (prior - gain @ design @ prior) @ pick.T))
    t = float(stdtrit(dof, 0.975))
    found = []
    for k, name in enumerate(names):
        alone = [each for each in evidence if each.names == [name]]
        together = sum(name in each.names for each in evidence) - len(alone)
        limits = limited(math.exp(middle[k]), t * float(sds[k]))
        found.append(BoxFactor(name, *limits, float(sds[k]), dof, len(alone), together, *_trend(alone)))
    return tuple(found)


def _trend(alone: list[Evidence]) -> Maybe:
    """Change of the factor in 30 days with Student's limits, by least squares."""
    days = np.array([datetime.date.fromisoformat(each.check.date).toordinal() for each in alone], dtype=float)
    if len(np.unique(days)) < ENOUGH_FOR_TREND:
        return NOTHING
    (slope, _), spread = np.polyfit((days - days.mean()) / 30, [each.log_factor for each in alone], 1, cov=True)
    reach = float(stdtrit(len(days) - 2, 0.975)) * math.sqrt(spread[0, 0])
    return math.expm1(slope), math.expm1(slope - reach), math.expm1(slope + reach)
