"""Field checks: the rate achieved, and the field factor that corrects the target catch."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from scipy.special import gammaincinv, stdtrit

from predictor.advice.case import Stationary
from predictor.domain.catch import rate_for_output
from predictor.domain.checks import FieldCheck, FieldChecks
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.seed import Plan

# What is known before a check. Published field rates are 85 to 96 % of stationary ones (Yousif, Gedarif University,
# field seasons 2006-2008, read; title and page not recorded); 1 is the default all the same, so 10 % either side. Slip
# and jolting act on all boxes alike, and on each a little differently: 5 %, common practice.
SHARED_SPREAD, OWN_SPREAD = 0.10, 0.05
# How single checks scatter (weighing back, area, slope): 4 %, common practice, worth as many checks as the last number.
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
    boxes, lots, settings : tuple of str
    kind : {"weighed", "counted"}
    achieved, target : float
        Bulk rate in grams per square metre, or pure seeds per square metre where they were counted; a target that the
        plan does not tell is NaN.
    ratio, ratio_lower, ratio_upper : float
        Achieved over target, with 95 % limits.
    factor, factor_lower, factor_upper : float
        Achieved over what the drill gives standing, with 95 % limits; NaN where no catches tell that.
    why_not : str
        Why there is no ratio or factor, a sentence; "" where there is.
    line : int
    """

    date: str
    boxes: tuple[str, ...]
    lots: tuple[str, ...]
    settings: tuple[str, ...]
    kind: str
    achieved: float
    target: float
    ratio: float
    ratio_lower: float
    ratio_upper: float
    factor: float
    factor_lower: float
    factor_upper: float
    why_not: str
    line: int

    def to_dict(self) -> dict[str, Any]:
        """Fields by name; None in place of NaN."""
        return {name: None if value != value else value for name, value in asdict(self).items()}


@dataclass(frozen=True)
class BoxFactor:
    """Field factor of one box.

    Attributes
    ----------
    box : str
    factor, lower, upper : float
        With 95 % limits; drawn towards 1 as far as the checks are thin evidence.
    log_sd : float
        Standard uncertainty of its logarithm.
    dof : float
    alone, together : int
        Checks of this box alone, and of it with others.
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
class FieldResult:
    """What the field checks of a job say.

    Attributes
    ----------
    checks : tuple of CheckResult
    boxes : tuple of BoxFactor
        Those of which something can be told, in the drill's order.
    remarks : tuple of str
        What cannot be told apart, in sentences.
    """

    checks: tuple[CheckResult, ...]
    boxes: tuple[BoxFactor, ...]
    remarks: tuple[str, ...] = ()

    def factors(self) -> dict[str, float]:
        """Box to field factor."""
        return {each.box: each.factor for each in self.boxes}

    def of(self, box: str) -> BoxFactor | None:
        """The factor of one box; None where nothing is told of it.

        Parameters
        ----------
        box : str
            Name, as in the drill.

        Returns
        -------
        BoxFactor or None
        """
        return next((each for each in self.boxes if each.box == box), None)


def poisson_limits(count: float, level: float = 0.95) -> tuple[float, float]:
    """Exact limits for the mean of which a count is one draw.

    Source: Garwood (1936), Biometrika 28, 437-442.
    """
    tail = (1 - level) / 2
    lower = float(gammaincinv(count, tail)) if count > 0 else 0.0
    return lower, float(gammaincinv(count + 1, 1 - tail))


Standing = Callable[[SeedBox, str, float], Stationary | None]


def field_factors(checks: FieldChecks, drill: Drill, plan: Plan | None, standing: Standing) -> FieldResult:
    """Rates achieved, and the field factor of each box.

    log(achieved / standing) = shared + own of the box + error; for boxes weighed together their own parts count by
    their share of the standing output. Shared and own parts have normal priors about 0, the error has the spread of
    single checks, Poisson's for counts, and what the catches leave open, the same for all checks of one box and lot.
    One unknown scale multiplies all of it (inverse gamma, worth four checks), so limits are Student's. The closed form
    is that of the linear model with a conjugate prior (Gelman et al. 2013, Bayesian Data Analysis, ch. 14, from
    memory).
    """
    found = [_Measured.of(check, drill, plan, standing) for check in checks.checks]
    told = [each for each in found if np.isfinite(each.log_factor)]
    boxes, remarks = _solve(told, drill) if told else ((), ())
    return FieldResult(tuple(each.result(drill) for each in found), boxes, remarks)


@dataclass(frozen=True)
class _Measured:
    """One check with what it is compared with."""

    check: FieldCheck
    achieved: float
    target: float
    log_factor: float
    own_variance: float
    shares: np.ndarray
    sds: np.ndarray
    why_not: str

    @classmethod
    def of(cls, check: FieldCheck, drill: Drill, plan: Plan | None, standing: Standing) -> _Measured:
        """Compare a check with the plan and with the standing drill."""
        planned = [None if plan is None else plan.target(part.box.name, part.lot) for part in check.parts]
        known = [standing(part.box, part.lot, part.setting.opening) for part in check.parts]
        why, seeds_per_gram = "", np.ones(len(planned))
        if check.counted:
            achieved = check.seeds_per_m2(drill.row_spacing_m)
            if None in planned:
                target, seeds_per_gram = np.nan, np.full(len(planned), np.nan)
                why = "The plan does not say how many seeds are in a gram of this lot."
            else:
                target = sum(each.pure_seeds_per_m2 for each in planned)
                seeds_per_gram = np.array([each.pure_seeds_per_m2 / each.bulk_rate for each in planned])
                if not np.isfinite(target):
                    why = "The seeds in a pound of this lot are not known: write seeds_per_lb into the plan."
        else:
            achieved = check.rate
            target = np.nan if None in planned else sum(each.bulk_rate for each in planned)
            why = "" if np.isfinite(target) else _no_target(check, plan)
        if None in known:
            missing = ", ".join(part.lot for part, each in zip(check.parts, known, strict=True) if each is None)
            why = why or f"No catch of {missing} is in the trials, so the field factor cannot be told."
            return cls(check, achieved, target, np.nan, np.nan, np.array([]), np.array([]), why)
        outputs = np.array([rate_for_output(float(np.exp(each.log_output)), drill) for each in known]) * seeds_per_gram
        total = outputs.sum()
        # half a seed more, so that a count of none has a logarithm; its limits are the exact ones
        seen = (check.seeds + 0.5) / (check.row_m * drill.row_spacing_m) if check.counted else achieved
        error = CHECK_SPREAD**2 + (1 / (check.seeds + 0.5) if check.counted else 0.0)
        if check.counted and check.seeds == 0:
            why = "No seed was found: look for a plugged tube or an empty box. Not used for the field factor."
        elif np.isfinite(total) and not LEAST_FACTOR <= seen / total <= MOST_FACTOR:
            why = (
                f"That is {seen / total:.3g} times the stationary rate: a slip in weight, area, length or "
                "setting? Not used for the field factor."
            )
        elif np.isfinite(total):
            shares, sds = outputs / total, np.array([each.log_sd for each in known])
            return cls(check, achieved, target, float(np.log(seen / total)), error, shares, sds, why)
        return cls(check, achieved, target, np.nan, np.nan, np.array([]), np.array([]), why)

    def result(self, drill: Drill) -> CheckResult:
        """The check as it is shown."""
        check = self.check
        t = float(stdtrit(CHECK_SPREAD_WORTH, 0.975))
        if check.counted:
            row = check.row_m * drill.row_spacing_m * self.target
            ends = [end / row for end in poisson_limits(check.seeds)]
        else:
            ends = [self.achieved / self.target * np.exp(reach) for reach in (-t * CHECK_SPREAD, t * CHECK_SPREAD)]
        factor, limits = np.nan, (np.nan, np.nan)
        if np.isfinite(self.log_factor):
            factor = float(np.exp(self.log_factor))
            reach = t * float(np.sqrt(self.own_variance + np.sum((self.shares * self.sds) ** 2)))
            limits = (factor * np.exp(-reach), factor * np.exp(reach))
        return CheckResult(
            check.date,
            tuple(part.box.name for part in check.parts),
            tuple(part.lot for part in check.parts),
            tuple(part.setting.text for part in check.parts),
            "counted" if check.counted else "weighed",
            self.achieved,
            float(self.target),
            float(self.achieved / self.target),
            *(float(end) for end in ends),
            factor,
            *(float(end) for end in limits),
            self.why_not,
            check.line,
        )


def _solve(told: list[_Measured], drill: Drill) -> tuple[tuple[BoxFactor, ...], tuple[str, ...]]:
    """Factors of all boxes together, from the checks that tell something."""
    names = [box.name for box in drill.boxes if any(box.name in _names(each) for each in told)]
    design = np.zeros((len(told), 1 + len(names)))
    design[:, 0] = 1.0
    catches: dict[tuple[str, str], np.ndarray] = {}
    for i, each in enumerate(told):
        for part, share, sd in zip(each.check.parts, each.shares, each.sds, strict=True):
            design[i, 1 + names.index(part.box.name)] = share
            catches.setdefault((part.box.name, part.lot.lower()), np.zeros(len(told)))[i] = share * sd
    noise = np.diag([each.own_variance for each in told]) + sum(np.outer(each, each) for each in catches.values())
    prior = np.diag([SHARED_SPREAD**2, *[OWN_SPREAD**2] * len(names)])
    seen = np.array([each.log_factor for each in told])
    spread = design @ prior @ design.T + noise
    gain = np.linalg.solve(spread, design @ prior).T
    middle = gain @ seen
    dof = CHECK_SPREAD_WORTH + len(told)
    scale = (CHECK_SPREAD_WORTH + float(seen @ np.linalg.solve(spread, seen))) / dof
    covariance = scale * (prior - gain @ design @ prior)
    t = float(stdtrit(dof, 0.975))
    boxes, remarks = [], []
    for k, name in enumerate(names):
        pick = np.zeros(1 + len(names))
        pick[[0, 1 + k]] = 1.0
        log_factor, sd = float(pick @ middle), float(np.sqrt(pick @ covariance @ pick))
        alone = [each for each in told if _names(each) == [name]]
        together = sum(name in _names(each) for each in told) - len(alone)
        ends = np.exp([log_factor, log_factor - t * sd, log_factor + t * sd]).tolist()
        boxes.append(BoxFactor(name, *ends, sd, dof, len(alone), together, *_trend(alone)))
    mixed = [box.box for box in boxes if not box.alone]
    if len(mixed) > 1:
        shown = ", ".join(mixed[:-1]) + f" and {mixed[-1]}"
        remarks.append(
            f"Boxes {shown} were only checked together: their total is known, and each is corrected by about "
            "the same share. Which of them gave more or less cannot be told apart; weigh one box alone to know."
        )
    elif mixed:
        remarks.append(f"Box {mixed[0]} was never weighed alone: its factor leans on those of the others.")
    return tuple(boxes), tuple(remarks)


def _no_target(check: FieldCheck, plan: Plan | None) -> str:
    """Why a check has no target; a lot that was mixed in goes by the blend's name."""
    for part in check.parts:
        for lot in () if plan is None else plan.lots:
            if lot.blend and lot.box == part.box.name and lot.lot.lower() == part.lot.lower():
                return f"{lot.lot} is part of {lot.blend}: write {lot.blend} as its lot."
    return "The plan has no such lot in that box, so there is no target."


def _names(each: _Measured) -> list[str]:
    return [part.box.name for part in each.check.parts]


def _trend(alone: list[_Measured]) -> tuple[float | None, float | None, float | None]:
    """Change of the log factor in 30 days with Student limits, by least squares."""
    days = np.array([datetime.date.fromisoformat(each.check.date).toordinal() for each in alone], dtype=float)
    if len(alone) < ENOUGH_FOR_TREND or len(set(days.tolist())) < ENOUGH_FOR_TREND:
        return None, None, None
    x = (days - days.mean()) / 30
    y = np.array([each.log_factor for each in alone])
    square = float(x @ x)
    slope = float(x @ y) / square
    rest = y - y.mean() - slope * x
    error = float(np.sqrt(rest @ rest / (len(x) - 2) / square))
    t = float(stdtrit(len(x) - 2, 0.975))
    return tuple(float(np.expm1(end)) for end in (slope, slope - t * error, slope + t * error))
