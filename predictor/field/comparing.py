"""A field check, compared with its target and with the standing drill."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from predictor.advice.lot_fit import Stationary
from predictor.domain.catch import rate_for_output
from predictor.domain.checks import FieldCheck
from predictor.domain.control import Floats, Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark
from predictor.domain.seed import BoxPlan, Plan
from predictor.field.ground import Ground, ground_of
from predictor.field.results import CheckResult
from predictor.field.seeds import counted_limits
from predictor.field.usual import CHECK_SPREAD, CHECK_SPREAD_WORTH, LEAST_FACTOR, MOST_FACTOR

# Box and lot to whether the lot was towed, so that it says nothing of the standing drill.
Towed = Callable[[SeedBox, str], bool]
# Box, lot and setting to what the box gives there while the drill stands; None without catches of that lot.
Standing = Callable[[SeedBox, str, Setting], Stationary | None]


@dataclass(frozen=True)
class Evidence:
    """What one check says of the field factors of its boxes."""

    check: FieldCheck
    log_factor: float
    variance: float  # Of the check itself
    shares: Floats  # Part of each box in the standing output
    sds: Floats  # What the catches leave open, for each box
    count_sds: Floats  # What the count of seeds in a gram leaves open, for each box; 0 where seed was weighed

    @property
    def log_sd(self) -> float:
        """Spread of this check alone, that of the catches and of the count of seeds included."""
        return math.sqrt(self.variance + float(np.sum(self.shares**2 * (self.sds**2 + self.count_sds**2))))

    @property
    def names(self) -> list[str]:
        """Its boxes."""
        return [part.box.name for part in self.check.parts]


# A value with its lower and upper limit.
Limited = tuple[float, float, float]
Maybe = tuple[float | None, float | None, float | None]
NOTHING: Maybe = (None, None, None)


def compare(
    check: FieldCheck, drill: Drill, plan: Plan | None, standing: Standing, towed: Towed
) -> tuple[CheckResult, Evidence | None]:
    """Compare a check with the plan and with the standing drill."""
    entries = [entry for part in check.parts if plan and (entry := plan.target(part.box.name, part.lot))]
    ground = ground_of(check, drill, entries)
    target = _target(check, plan, entries, ground)
    known = [standing(part.box, part.lot, part.setting) for part in check.parts]
    found = _evidence(check, drill, entries, [each for each in known if each is not None], ground)
    missing = [part for part, each in zip(check.parts, known, strict=True) if each is None]
    code = "field.towed" if any(towed(part.box, part.lot) for part in missing) else "field.no_catch"
    no_catch = Remark(code, {"lots": ", ".join(part.lot for part in missing)}) if missing else None
    why_not = next((each for each in (found, target, no_catch) if isinstance(each, Remark)), None)
    evidence = found if isinstance(found, Evidence) else None
    count_sd = None
    if check.counted and not isinstance(target, Remark):
        seeds = np.array([each.pure_seeds_per_m2 for each in entries]) * ground.parts
        count_sd = float(np.linalg.norm(seeds * [each.seeds_log_sd for each in entries]) / seeds.sum())
    planned = None if isinstance(target, Remark) else target
    return _result(check, planned, count_sd, evidence, ground, why_not), evidence


def _target(check: FieldCheck, plan: Plan | None, entries: list[BoxPlan], ground: Ground) -> float | Remark:
    """Rate of the plan, or why there is none."""
    if len(entries) == len(check.parts):
        rates = [each.pure_seeds_per_m2 if check.counted else each.bulk_rate for each in entries]
        target = float(np.sum(rates * ground.parts))
        return target if np.isfinite(target) else Remark("field.seeds_unknown")
    for part in check.parts:
        # a lot that was mixed in goes by the name of its blend or bag
        if plan and (filling := plan.filling_of(part.box.name, part.lot)):
            return Remark("field.part_of_blend", {"lot": part.lot, "blend": filling})
    return Remark("field.count_not_planned" if check.counted else "field.not_planned")


def _evidence(
    check: FieldCheck, drill: Drill, entries: list[BoxPlan], known: list[Stationary], ground: Ground
) -> Evidence | Remark | None:
    """What a check says of the factor, or why it is not used; None where catches or the seeds in a gram lack."""
    if len(known) < len(check.parts):
        return None
    if check.counted and check.seeds == 0:
        return Remark("field.no_seed")
    outputs = np.array(
        [
            rate_for_output(float(np.exp(each.log_output)), drill, part.box)
            for each, part in zip(known, check.parts, strict=True)
        ]
    )
    outputs = outputs * ground.parts
    achieved, variance = check.rate, CHECK_SPREAD**2
    if check.counted:
        if len(entries) < len(known):
            return None
        outputs = outputs * [each.pure_seeds_per_m2 / each.bulk_rate for each in entries]
        # half a seed is added, as is usual for logarithms of small counts; the limits of the rate are exact
        achieved = (check.seeds + 0.5) / ground.area_m2
        variance += 1 / (check.seeds + 0.5)
    factor = achieved / outputs.sum()
    if not np.isfinite(factor):
        return None
    if not LEAST_FACTOR <= factor <= MOST_FACTOR:
        return Remark("field.too_far", {"factor": factor})
    sds = np.array([each.log_sd for each in known])
    counts = np.array([each.seeds_log_sd for each in entries]) if check.counted else np.zeros(len(sds))
    return Evidence(check, float(np.log(factor)), variance, outputs / outputs.sum(), sds, counts)


def _result(
    check: FieldCheck,
    target: float | None,
    count_sd: float | None,
    found: Evidence | None,
    ground: Ground,
    why_not: Remark | None,
) -> CheckResult:
    """The check as it is shown. What one check tells is worth few checks, so its limits are those of Student."""
    boxes, lots, settings = zip(*((part.box.name, part.lot, part.setting.text) for part in check.parts), strict=True)
    seen = check.seeds if check.counted else check.used_g
    achieved = None if math.isnan(ground.area_m2) else seen / ground.area_m2
    t = float(stdtrit(CHECK_SPREAD_WORTH, 0.975))
    ratio, factor = NOTHING, NOTHING
    if target is not None and achieved is not None:
        ratio = limited(achieved / target, t * CHECK_SPREAD)
        if count_sd is not None:
            planned = ground.area_m2 * target
            lower, upper = counted_limits(check.seeds, count_sd)
            ratio = achieved / target, lower / planned, upper / planned
    if found is not None:
        factor = limited(math.exp(found.log_factor), t * found.log_sd)
    return CheckResult(
        check.date,
        *(boxes, lots, settings),
        "counted" if check.counted else "weighed",
        achieved,
        target,
        *ratio,
        *factor,
        count_sd,
        why_not,
        check.line,
    )


def limited(middle: float, log_reach: float) -> Limited:
    return middle, middle * math.exp(-log_reach), middle * math.exp(log_reach)
