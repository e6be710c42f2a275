"""Lots in general: how much they differ, what a new lot may do, and which ones are unlike the others."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from predictor.domain.control import Floats
from predictor.domain.result import Remark
from predictor.lots.catches import Catches
from predictor.lots.flow import Asked
from predictor.lots.limits import cv_of, exp_or_none, t_critical
from predictor.lots.random_levels import OneWay, one_way, one_way_of_estimates
from predictor.lots.random_lines import random_lines
from predictor.lots.results import Spread
from predictor.lots.shapes import LotCurves


def lots_in_general(common: LotCurves, catches: Catches, asked: Asked) -> tuple[Spread | None, Floats | None]:
    """Lots as random effects about one curve shape, and each lot's output as a multiple of the average lot's.

    The curve is taken as fitted within lots, not fitted again: a technician sets a slow lot higher, so settings go
    with how lots flow, and slopes judged between lots would be bent by that.
    """
    lots = len(catches.names)
    if lots < 2:
        return None, None
    try:
        fit = one_way(common.z - common.bend[0] * common.x, catches.lot, level=asked.level)
    except ValueError:
        return Spread(lots, reason=Remark("lots.spread_unknown")), None
    low, high = _cv_limits(fit)
    ends = fit.next_limits if lots > 2 else (math.nan, math.nan)
    spread = Spread(
        lots,
        cv_of(fit.between),
        low,
        high,
        exp_or_none(ends[0]),
        exp_or_none(ends[1]),
        exp_or_none(float(fit.beta[0] - common.lines.level[asked.reference])),
        _unusual(fit, catches.names, asked.level),
        None if lots > 2 else Remark("lots.two_lots"),
    )
    return spread, np.exp(fit.blup)


def lots_at_setting(
    common: LotCurves, own: LotCurves, catches: Catches, asked: Asked
) -> tuple[Spread | None, Floats | None]:
    """Lots as random effects that differ in level and in shape, compared at the reference lot's usual opening.

    How much lots differ, and what each is taken for, comes from one fit of all lots; the limits for a new lot and the
    unusual lots from the heights of the lots' own curves, each weighed by how well it is known.
    """
    lots = len(catches.names)
    try:
        fit = random_lines(common.z, common.x, catches.lot)
    except (ValueError, np.linalg.LinAlgError):
        return Spread(lots, reason=Remark("lots.too_few_shapes")), None
    rise = float(common.bend[0]) * (asked.usual - float(common.middle[0]))
    at = np.array([1.0, (asked.usual - float(common.middle[0])) / (1 + rise)])
    mean = float(at @ fit.beta) + math.log1p(rise) - float(common.bend[0] * at[1])
    height, answer = own.at(slice(None), asked.usual)
    cv = cv_of(max(float(at @ fit.cov @ at), 0.0))
    to_reference = exp_or_none(mean - float(height[asked.reference]))
    against_average = np.exp(fit.blup @ at)
    curved = np.flatnonzero(~own.borrowed)
    if len(curved) < 3 or not own.variance:
        reason = Remark("lots.few_shapes")
        return Spread(lots, cv, average_to_reference=to_reference, reason=reason), against_average
    variance = own.variance / own.lines.count + answer**2 * own.bend_var
    seen = one_way_of_estimates(
        height[curved], variance[curved], within=own.variance, df_within=own.lines.df, level=asked.level
    )
    low, high = _cv_limits(seen)
    ends = [exp_or_none(float(seen.beta[0]) + end - mean) for end in seen.next_limits]
    unusual = _unusual(seen, [catches.names[k] for k in curved], asked.level)
    held = Remark("lots.at_setting")
    return Spread(lots, cv, low, high, ends[0], ends[1], to_reference, unusual, held), against_average


def _cv_limits(fit: OneWay) -> list[float | None]:
    return [cv_of(fit.within * end) for end in fit.ratio_limits]


def _unusual(fit: OneWay, names: Sequence[str], level: float) -> tuple[str, ...]:
    """Lots whose departure is too large for the largest of so many, by Bonferroni; none among fewer than four."""
    if fit.df_between < 3:
        return ()
    critical = t_critical(fit.df_between - 1, 1 - (1 - level) / len(fit.student))
    return tuple(names[k] for k in np.flatnonzero(np.abs(fit.student) > critical).tolist())
