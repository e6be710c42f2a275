"""A field check, compared with its target and with the standing drill of its own season."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from predictor.advice.lot_fit import Stationary
from predictor.domain.catch import rate_for_output
from predictor.domain.checks import FieldCheck, Part
from predictor.domain.control import Floats
from predictor.domain.drill import Drill
from predictor.domain.result import Remark
from predictor.field.given import taken_as_given
from predictor.field.ground import Ground, ground_of
from predictor.field.results import CheckResult, Finding
from predictor.field.seeds import counted_limits
from predictor.field.usual import CHECK_SPREAD, CHECK_SPREAD_WORTH, TOWED_SPREAD


@dataclass(frozen=True)
class Known:
    """What is known of one box of a check, of its own lot, season and day."""

    season: str | None  # Of the catches it is compared with; None without any
    standing: Stationary | None  # At the setting of the check; in the field where the lot was towed
    towed: bool
    target: float | Remark  # Bulk rate, grams per square metre, or why there is none
    seeds_per_g: float | Remark  # Pure seeds in a gram of what was in the box, or why they are not known
    seeds_log_sd: float  # How sure their number is


# A box, lot and setting, and the day of the check, to what is known of it.
KnownOf = Callable[[Part, str], Known]


@dataclass(frozen=True, eq=False)
class Evidence:
    """What one check says of the field factors of its boxes."""

    check: FieldCheck
    seasons: tuple[str | None, ...]  # Of the catches of each box
    towed: bool
    log_standing: float  # Rate that the standing drill gives, grams or pure seeds per square metre
    log_factor: float  # Rate achieved over it
    variance: float  # Of the check itself
    shares: Floats  # Part of each box in the standing output
    sds: Floats  # What the catches leave open, for each box
    count_sds: Floats  # What the count of seeds in a gram leaves open, for each box; 0 where seed was weighed
    moved_sd: float = 0.0  # What is left open where it was translated from another setting

    @property
    def log_sd(self) -> float:
        """Spread of this check alone, that of the catches and of the count of seeds included."""
        return math.sqrt(self.variance + float(np.sum(self.shares**2 * (self.sds**2 + self.count_sds**2))))

    @property
    def names(self) -> list[str]:
        """Its boxes."""
        return [part.box.name for part in self.check.parts]

    @property
    def places(self) -> list[tuple[str, str, str | None]]:
        """Box, lot and season of each of its boxes."""
        parts = zip(self.check.parts, self.seasons, strict=True)
        return [(part.box.name, part.lot.lower(), season) for part, season in parts]


@dataclass(frozen=True, eq=False)
class Compared:
    """A check with what is known of each of its boxes, and what it says."""

    check: FieldCheck
    known: tuple[Known, ...]
    result: CheckResult
    evidence: Evidence | None  # None where it cannot be compared with catches

    @property
    def places(self) -> list[tuple[str, str, str | None]]:
        """Box, lot and season of each of its boxes."""
        parts = zip(self.check.parts, self.known, strict=True)
        return [(part.box.name, part.lot.lower(), each.season) for part, each in parts]

    @property
    def finding(self) -> Finding:
        """What the program makes of it."""
        return self.result.finding

    def found(self, finding: Finding, slip: float, why_not: Remark | None = None) -> Compared:
        """The same, once it is known whether it is a slip."""
        result = replace(self.result, finding=finding, slip=slip, why_not=why_not or self.result.why_not)
        if finding == "slip":
            result = replace(result, factor=None, factor_lower=None, factor_upper=None)
        return replace(self, result=result)


# A value with its lower and upper limit.
Limited = tuple[float, float, float]
Maybe = tuple[float | None, float | None, float | None]
NOTHING: Maybe = (None, None, None)


def compare(check: FieldCheck, drill: Drill, known_of: KnownOf) -> Compared:
    """Compare a check with its target and with the standing drill."""
    known = tuple(known_of(part, check.date) for part in check.parts)
    seeds = np.array([_amount(each.target) * _amount(each.seeds_per_g) for each in known])
    ground = ground_of(check, drill, seeds)
    target = _target(check, known, ground)
    found = _evidence(check, drill, known, ground)
    missing = [part.lot for part, each in zip(check.parts, known, strict=True) if each.standing is None]
    no_catch = Remark("field.no_catch", {"lots": ", ".join(missing)}) if missing else None
    lots = ", ".join(part.lot for part, each in zip(check.parts, known, strict=True) if each.towed)
    towed = Remark("field.towed", {"lots": lots}) if lots else None
    why_not = next((each for each in (found, target, no_catch, towed) if isinstance(each, Remark)), None)
    evidence = found if isinstance(found, Evidence) else None
    count_sd = None
    if check.counted and not isinstance(target, Remark):
        weights = seeds * ground.parts
        count_sd = float(np.linalg.norm(weights * [each.seeds_log_sd for each in known]) / weights.sum())
    planned = None if isinstance(target, Remark) else target
    result = _result(check, known, planned, count_sd, evidence, ground, why_not)
    return Compared(check, known, replace(result, given=taken_as_given(check)), evidence)


def _amount(found: float | Remark) -> float:
    """A number; NaN where there is none."""
    return math.nan if isinstance(found, Remark) else found


def _target(check: FieldCheck, known: tuple[Known, ...], ground: Ground) -> float | Remark:
    """The rate that was wanted, or why there is none."""
    for each in known:
        if isinstance(each.target, Remark) and each.target.code != "field.not_planned":
            return each.target
        if check.counted and isinstance(each.seeds_per_g, Remark):
            return each.seeds_per_g
        if isinstance(each.target, Remark):
            return each.target
    rates = [_amount(each.target) * (_amount(each.seeds_per_g) if check.counted else 1.0) for each in known]
    return float(np.sum(rates * ground.parts))


def _evidence(check: FieldCheck, drill: Drill, known: tuple[Known, ...], ground: Ground) -> Evidence | Remark | None:
    """What a check says of the factor, or why it is not used; None where catches or the seeds in a gram lack."""
    given = [each.standing for each in known if each.standing is not None]
    towed = {each.towed for each in known}
    if len(given) < len(known) or len(towed) > 1:
        return None
    if check.counted and check.seeds == 0:
        return Remark("field.no_seed")
    outputs = ground.parts * [
        rate_for_output(float(np.exp(each.log_output)), drill, part.box)
        for each, part in zip(given, check.parts, strict=True)
    ]
    achieved, variance = check.rate, CHECK_SPREAD**2
    if check.counted:
        outputs = outputs * [_amount(each.seeds_per_g) for each in known]
        # half a seed is added, as is usual for logarithms of small counts; the limits of the rate are exact
        achieved = (check.seeds + 0.5) / ground.area_m2
        variance += 1 / (check.seeds + 0.5)
    factor = achieved / outputs.sum()
    if not np.isfinite(factor):
        return None
    sds = np.array([math.hypot(each.log_sd, TOWED_SPREAD if True in towed else 0.0) for each in given])
    counts = np.array([each.seeds_log_sd for each in known]) if check.counted else np.zeros(len(sds))
    seasons = tuple(each.season for each in known)
    total = float(outputs.sum())
    rates = float(np.log(total)), float(np.log(factor))
    return Evidence(check, seasons, True in towed, *rates, variance, outputs / total, sds, counts)


def _result(
    check: FieldCheck,
    known: tuple[Known, ...],
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
    if found is not None and not found.towed:
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
        tuple(each.season for each in known),
    )


def limited(middle: float, log_reach: float) -> Limited:
    """A value with limits that lie equally far from it as logarithms."""
    return middle, middle * math.exp(-log_reach), middle * math.exp(log_reach)
