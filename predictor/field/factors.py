"""Field checks: the rate achieved, and the field factor that corrects the target catch."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy.special import stdtrit

from predictor.advice.lot_fit import Stationary
from predictor.domain.catch import rate_for_output, slips
from predictor.domain.checks import FieldCheck, FieldChecks
from predictor.domain.control import Floats, Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark, Shown
from predictor.domain.seed import BoxPlan, Plan
from predictor.field.ground import Ground, ground_of
from predictor.field.seeds import counted_limits
from predictor.units import RATE_UNIT, SQUARE_METRES_PER_SQUARE_FOOT, Units, rate_in

# What is known before a check: published field rates over stationary ones are 0.95, 0.88, 0.96, 0.95 and 0.85 in five
# crops (Yousif, Gedarif University, field seasons 2006-2008, read; title and page not recorded). Their mean is 0.918,
# the standard deviation of their logarithms 5.5 %. Slip and jolting act on all boxes alike, and on each a little
# differently: how the 5.5 % divide is judgement. Without any check no target is corrected.
FIELD_CENTRE, SHARED_SPREAD, OWN_SPREAD = 0.918, 0.045, 0.032
# How single checks scatter (weighing back, area, slope): 4 %, common practice, worth this many checks.
CHECK_SPREAD, CHECK_SPREAD_WORTH = 0.04, 4.0
# A check further than this from the standing drill is a slip or a fault, not a factor; common practice.
LEAST_FACTOR, MOST_FACTOR = 0.5, 2.0
# A trend is looked for in this many checks of a box, on as many days.
ENOUGH_FOR_TREND = 4


@dataclass(frozen=True)
class CheckResult:
    """One field check against its target.

    Attributes
    ----------
    date : str
        As YYYY-MM-DD.
    boxes, lots, settings : tuple of str
        The boxes that ran, with the lot and the setting of each.
    kind : {"weighed", "counted"}
        Whether seed was weighed over an area, or seeds were counted in a length of row.
    achieved : float or None
        Bulk rate in grams per square metre, or pure seeds per square metre where they were counted; None where seeds
        were counted of boxes with different rows and the plan does not say how many are of each.
    target : float or None
        The same of the plan; None where the plan does not give it.
    ratio, ratio_lower, ratio_upper : float or None
        Achieved over target, with 95 % limits.
    factor, factor_lower, factor_upper : float or None
        Achieved over what the standing drill gives, with 95 % limits; None where the check was not used for the factor.
    count_log_sd : float or None
        Standard deviation of the logarithm of the planned seeds from how sure the count of seeds in a gram is, held in
        the limits of the ratio and the factor; None where seed was weighed.
    why_not : Remark or None
        Why there is no ratio or factor; None where there is.
    line : int
        Line of the file.
    """

    date: str
    boxes: tuple[str, ...]
    lots: tuple[str, ...]
    settings: tuple[str, ...]
    kind: Literal["weighed", "counted"]
    achieved: float | None
    target: float | None
    ratio: float | None
    ratio_lower: float | None
    ratio_upper: float | None
    factor: float | None
    factor_lower: float | None
    factor_upper: float | None
    count_log_sd: float | None
    why_not: Remark | None
    line: int

    def to_dict(self, units: Units) -> dict[str, Any]:
        """Fields by name, amounts in the unit added, and `why_not` as a sentence ("" for none).

        Parameters
        ----------
        units : {"us", "metric"}

        Returns
        -------
        dict

        Examples
        --------
        >>> import predictor
        >>> check = predictor.read_job("sample_trials").field.checks[2].to_dict("us")
        >>> round(check["achieved"], 2), check["unit"]
        (2.76, 'lb/ac')
        """
        if self.kind == "weighed":
            scale, unit = rate_in(1.0, units), RATE_UNIT[units]
        else:
            scale, unit = (SQUARE_METRES_PER_SQUARE_FOOT, "seeds/ft2") if units == "us" else (1.0, "seeds/m2")
        target = None if self.target is None else scale * self.target
        achieved = None if self.achieved is None else scale * self.achieved
        amounts = {"achieved": achieved, "target": target, "unit": unit}
        return {**vars(self), **amounts, "why_not": str(self.why_not or "")}


@dataclass(frozen=True)
class BoxFactor:
    """Field factor of one box: its rate in the field over its rate while the drill stands.

    Attributes
    ----------
    box : str
    factor, lower, upper : float
        With 95 % limits. The thinner the evidence, the nearer to the published mean of 0.918.
    log_sd : float
        Standard uncertainty of its logarithm.
    dof : float
        Degrees of freedom of the limits.
    alone, together : int
        Checks of this box alone, and of this box with others.
    trend, trend_lower, trend_upper : float or None
        Change of the factor in 30 days, as a fraction, with 95 % limits; None where the checks are too few.
    """

    box: str
    factor: float
    lower: float
    upper: float
    log_sd: float
    dof: float
    alone: int
    together: int
    trend: float | None = None
    trend_lower: float | None = None
    trend_upper: float | None = None


@dataclass(frozen=True)
class FieldResult(Shown):
    """What the field checks of a job show.

    Attributes
    ----------
    checks : tuple of CheckResult
        One for each row of the file.
    boxes : tuple of BoxFactor
        The boxes that have a factor, in the drill's order.
    remarks : tuple of Remark
        What these checks cannot tell apart.
    units : {"us", "metric"}
        In which its rates are shown.
    """

    checks: tuple[CheckResult, ...]
    boxes: tuple[BoxFactor, ...]
    remarks: tuple[Remark, ...] = ()
    units: Units = "us"

    def factors(self) -> dict[str, float]:
        """Box to field factor."""
        return {each.box: each.factor for each in self.boxes}

    def of(self, box: str) -> BoxFactor | None:
        """The factor of one box.

        Parameters
        ----------
        box : str
            Name, as in the drill.

        Returns
        -------
        BoxFactor or None
            None where no check gives one.

        Examples
        --------
        >>> import predictor
        >>> field = predictor.read_job("sample_trials").field
        >>> round(field.of("grain").factor, 2)
        0.92
        """
        return next((each for each in self.boxes if each.box == box), None)


# Box and lot to whether the lot was towed, so that it says nothing of the standing drill.
Towed = Callable[[SeedBox, str], bool]
# Box, lot and setting to what the box gives there while the drill stands; None without catches of that lot.
Standing = Callable[[SeedBox, str, Setting], Stationary | None]


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
    compared = [_compare(check, drill, plan, standing, towed) for check in checks.checks]
    evidence = [each for _, each in compared if each is not None]
    boxes = _solve(evidence, drill) if evidence else ()
    mixed = tuple(each.box for each in boxes if not each.alone)
    remarks = (Remark("field.never_alone", {"boxes": mixed}),) if mixed else ()
    return FieldResult(tuple(result for result, _ in compared), boxes, remarks, drill.units)


@dataclass(frozen=True)
class _Evidence:
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


def _compare(
    check: FieldCheck, drill: Drill, plan: Plan | None, standing: Standing, towed: Towed
) -> tuple[CheckResult, _Evidence | None]:
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
    evidence = found if isinstance(found, _Evidence) else None
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
) -> _Evidence | Remark | None:
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
    return _Evidence(check, float(np.log(factor)), variance, outputs / outputs.sum(), sds, counts)


def _result(
    check: FieldCheck,
    target: float | None,
    count_sd: float | None,
    found: _Evidence | None,
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
        ratio = _limited(achieved / target, t * CHECK_SPREAD)
        if count_sd is not None:
            planned = ground.area_m2 * target
            lower, upper = counted_limits(check.seeds, count_sd)
            ratio = achieved / target, lower / planned, upper / planned
    if found is not None:
        factor = _limited(math.exp(found.log_factor), t * found.log_sd)
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


def _limited(middle: float, log_reach: float) -> Limited:
    return middle, middle * math.exp(-log_reach), middle * math.exp(log_reach)


def _solve(evidence: list[_Evidence], drill: Drill) -> tuple[BoxFactor, ...]:
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
        limits = _limited(math.exp(middle[k]), t * float(sds[k]))
        found.append(BoxFactor(name, *limits, float(sds[k]), dof, len(alone), together, *_trend(alone)))
    return tuple(found)


def _trend(alone: list[_Evidence]) -> Maybe:
    """Change of the factor in 30 days with Student's limits, by least squares."""
    days = np.array([datetime.date.fromisoformat(each.check.date).toordinal() for each in alone], dtype=float)
    if len(np.unique(days)) < ENOUGH_FOR_TREND:
        return NOTHING
    (slope, _), spread = np.polyfit((days - days.mean()) / 30, [each.log_factor for each in alone], 1, cov=True)
    reach = float(stdtrit(len(days) - 2, 0.975)) * math.sqrt(spread[0, 0])
    return math.expm1(slope), math.expm1(slope - reach), math.expm1(slope + reach)
