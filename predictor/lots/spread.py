"""Lots in general: how much they differ, what an unseen lot may do, which ones stand apart."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from predictor.lots.against import CommonCurve, OwnCurves
from predictor.lots.mixed import one_way, one_way_of_estimates
from predictor.lots.parallel import lean
from predictor.lots.random_lines import random_lines
from predictor.lots.ratios import exp_or_none, t_critical


@dataclass(frozen=True)
class Spread:
    """Lots as a sample of all lots this box may meet."""

    lots: int
    cv: float | None
    cv_lower: float | None
    cv_upper: float | None
    next_lower: float | None
    next_upper: float | None
    average_to_reference: float | None  # The average lot's output as a multiple of the reference lot's
    unusual: tuple[str, ...]  # Lots that stand apart
    reason: str = ""  # What cannot be said, and why; empty where all can


@dataclass(frozen=True)
class Predicted:
    """Each lot as one of many."""

    against_average: np.ndarray  # Output as a multiple of the average lot's (BLUP)
    unusual: np.ndarray  # Whether the lot stands apart from the others


def lots_in_general(
    common: CommonCurve, lot: np.ndarray, names, reference: int, *, level: float = 0.95
) -> tuple[Spread | None, Predicted | None]:
    """Lots as random effects about one curve shape.

    The curve is taken as fitted within lots, not fitted again: a technician sets a slow lot higher, so settings go
    with how lots flow, and slopes judged between lots would be bent by that.
    """
    if len(names) < 2:
        return None, None
    try:
        fit = one_way(common.z - common.bend * common.x, lot, level=level)
    except ValueError:
        reason = (
            "How much lots differ cannot be told from how much catches differ: no lot has repeated catches that differ."
        )
        return Spread(len(names), None, None, None, None, None, None, (), reason), None
    unusual = _stand_apart(fit.student, fit.df_between, level)
    enough = len(names) >= 3
    low, high = (math.sqrt(fit.within * end) for end in fit.ratio_limits)
    spread = Spread(
        len(names),
        _cv(math.sqrt(fit.between)),
        _cv(low),
        _cv(high),
        exp_or_none(fit.next_limits[0]) if enough else None,
        exp_or_none(fit.next_limits[1]) if enough else None,
        exp_or_none(float(fit.beta[0]) - float(common.level[reference])),
        tuple(str(names[k]) for k in np.flatnonzero(unusual)),
        "" if enough else "Two lots are too few to say what an unseen lot may do.",
    )
    return spread, Predicted(np.exp(fit.blup), unusual)


def lots_at_setting(
    common: CommonCurve, own: OwnCurves, lot: np.ndarray, names, reference: int, opening: float, *, level: float = 0.95
) -> tuple[Spread | None, Predicted | None]:
    """Lots as random effects that differ in level and in shape, compared at one opening.

    How much lots differ, and what each is taken for, comes from one fit of all lots; the limits for an unseen lot
    and the lots that stand apart from the heights of the lots' own curves, each weighed by how surely it is known.
    """
    held = "Lots differ in shape, so this holds at the named setting only."
    answer = float(lean(opening, common.middle, common.bend)) if common.x.any() else 0.0
    try:
        fit = random_lines(common.z, common.x, lot)
    except (ValueError, np.linalg.LinAlgError):
        reason = "Too few lots and catches to say how lots of different shape vary in general."
        return Spread(len(names), None, None, None, None, None, None, (), reason), None
    c = np.array([1.0, answer])
    height = math.log1p(common.bend * (opening - common.middle)) - common.bend * answer
    mean = float(c @ fit.beta) + height
    to_reference = exp_or_none(mean - own.at(reference, opening)[0])
    cv, apart = _cv(math.sqrt(max(float(c @ fit.cov @ c), 0.0))), np.zeros(len(names), dtype=bool)
    predicted = Predicted(np.exp(fit.blup @ c), apart)
    curved = np.flatnonzero(~np.isnan(own.shape.bend))
    if len(curved) < 3 or own.variance <= 0:
        reason = f"{held} Fewer than three lots were caught at two settings: no limits for a lot not yet seen."
        return Spread(len(names), cv, None, None, None, None, to_reference, (), reason), predicted
    heights = [own.at(k, opening) for k in curved]
    spread_of, count = own.shape.lines.spread[curved], own.shape.lines.count[curved]
    variance = own.variance * (1 / count + np.array([lean_ for _, lean_ in heights]) ** 2 / spread_of)
    seen = one_way_of_estimates(
        [log_output for log_output, _ in heights], variance, within=own.variance, df_within=own.df, level=level
    )
    low, high = (math.sqrt(seen.within * end) for end in seen.ratio_limits)
    apart[curved] = _stand_apart(seen.student, seen.df_between, level)
    ends = [exp_or_none(float(seen.beta[0]) + end - mean) for end in seen.next_limits]
    unusual = tuple(str(names[k]) for k in np.flatnonzero(apart))
    spread = Spread(len(names), cv, _cv(low), _cv(high), ends[0], ends[1], to_reference, unusual, held)
    return spread, predicted


def _stand_apart(student: np.ndarray, df_between: int, level: float) -> np.ndarray:
    """Lots whose departure is too large for the largest of so many, by Bonferroni; none among fewer than four."""
    if df_between < 3:
        return np.zeros(len(student), dtype=bool)
    return np.abs(student) > t_critical(df_between - 1, 1 - (1 - level) / len(student))


def _cv(sd: float) -> float | None:
    return math.sqrt(math.expm1(sd * sd)) if sd < 20 else None
