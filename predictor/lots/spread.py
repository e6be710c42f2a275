"""Lots in general: how much they differ, what a new lot may do, and which ones are unlike the others."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from predictor.domain.control import Floats
from predictor.domain.result import Remark
from predictor.lots.flow import Asked
from predictor.lots.limits import cv_of, exp_or_none, t_critical
from predictor.lots.random_levels import OneWay, one_way, one_way_of_estimates
from predictor.lots.random_lines import random_lines
from predictor.lots.results import Spread
from predictor.lots.shapes import LotCurves


def lots_in_general(common: LotCurves, asked: Asked) -> tuple[Spread | None, Floats | None]:
    """Lots as random effects about one curve shape, and each lot's output as a multiple of the average lot's.

    The curve is taken as fitted within lots, not fitted again: a technician sets a slow lot higher, so settings go
    with how lots flow, and slopes judged between lots would be bent by that.
    """
    catches, lots = common.catches, len(common.catches.names)
    if lots < 2:
        return None, None
    try:
        fit = one_way(common.z - common.bend[0] * common.x, catches.lot, level=asked.level)
    except ValueError:
        return Spread(lots, reason=Remark("lots.spread_unknown")), None
    to_reference = exp_or_none(float(fit.beta[0] - common.lines.level[asked.reference]))
    reason = None if lots > 2 else Remark("lots.two_lots")
    spread = Spread(lots, cv_of(fit.between), average_to_reference=to_reference, reason=reason)
    return _with_limits(spread, fit, 0.0, catches.names, asked.level), np.exp(fit.blup)


def lots_at_setting(common: LotCurves, own: LotCurves, asked: Asked) -> tuple[Spread, Floats | None]:
    """Lots as random effects that differ in level and in shape, compared at the reference lot's usual opening.

    How much lots differ, and what each is taken for, comes from one fit of all lots; the limits for a new lot and the
    unusual lots from the heights of the lots' own curves, each weighed by how well it is known.
    """
    catches, lots = common.catches, len(common.catches.names)
    try:
        fit = random_lines(common.z, common.x, catches.lot)
    except (ValueError, np.linalg.LinAlgError):
        return Spread(lots, reason=Remark("lots.too_few_shapes")), None
    rise = float(common.bend[0]) * (asked.usual - float(common.middle[0]))
    at = np.array([1.0, (asked.usual - float(common.middle[0])) / (1 + rise)])
    mean = float(at @ fit.beta) + math.log1p(rise) - float(common.bend[0] * at[1])
    height, answer = own.at(slice(None), asked.usual)
    to_reference = exp_or_none(mean - float(height[asked.reference]))
    spread = Spread(lots, cv_of(max(float(at @ fit.cov @ at), 0.0)), average_to_reference=to_reference)
    curved = np.flatnonzero(~own.borrowed)
    if len(curved) < 3 or not own.variance:
        return replace(spread, reason=Remark("lots.few_shapes")), np.exp(fit.blup @ at)
    variance = own.variance / own.lines.count + answer**2 * own.bend_var
    heights, variances = height[curved], variance[curved]
    seen = one_way_of_estimates(heights, variances, within=own.variance, df_within=own.lines.df, level=asked.level)
    spread = replace(spread, reason=Remark("lots.at_setting"))
    names = [catches.names[k] for k in curved]
    return _with_limits(spread, seen, float(seen.beta[0]) - mean, names, asked.level), np.exp(fit.blup @ at)


def _with_limits(spread: Spread, fit: OneWay, shift: float, names: Sequence[str], level: float) -> Spread:
    """The spread with limits, and with the lots that are unusual.

    A lot is unusual where its departure is too large for the largest of so many, by Bonferroni; none is among fewer
    than four.
    """
    low, high = (cv_of(fit.within * end) for end in fit.ratio_limits)
    lower, upper = (exp_or_none(shift + end) if fit.df_between > 1 else None for end in fit.next_limits)
    unusual: tuple[str, ...] = ()
    if fit.df_between > 2:
        critical = t_critical(fit.df_between - 1, 1 - (1 - level) / len(names))
        unusual = tuple(names[k] for k in np.flatnonzero(np.abs(fit.student) > critical).tolist())
    return replace(spread, cv_lower=low, cv_upper=high, next_lower=lower, next_upper=upper, unusual=unusual)
