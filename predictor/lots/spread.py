"""Lots in general: how much they differ, what a new lot may do, and which ones are unlike the others."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from predictor.domain.codes import Codes
from predictor.domain.control import Floats
from predictor.domain.result import Remark
from predictor.domain.trials import Flags
from predictor.lots.flow import Asked
from predictor.lots.limits import cv_of, exp_or_none, t_critical
from predictor.lots.random_levels import OneWay, one_way, one_way_of_estimates
from predictor.lots.random_lines import random_lines
from predictor.lots.results import Spread
from predictor.lots.shapes import LotCurves


def random_lots(common: LotCurves, level: float) -> OneWay | None:
    """Lots as random effects about one curve shape; None where lots or repeated catches are too few.

    The curve is taken as fitted within lots, not fitted again: a technician sets a slow lot higher, so settings go
    with how lots flow, and slopes judged between lots would be bent by that.
    """
    _, which, lot = _one_a_lot(common)
    try:
        flat = (common.z - common.bend[0] * common.x)[which]
        return one_way(flat, lot, level=level, spent=0 if common.assumed else 1)
    except ValueError:
        return None


def lots_in_general(common: LotCurves, fit: OneWay | None, asked: Asked) -> tuple[Spread | None, Floats | None]:
    """How much lots of one curve shape differ, and each lot's output as a multiple of the average lot's."""
    rows = common.catches.once
    if len(rows) < 2:
        return None, None
    lots, several = len(rows), _several(common)
    if fit is None:
        return Spread(lots, reason=Remark("lots.spread_unknown"), several=several), None
    to_reference = exp_or_none(float(fit.beta[0] - common.lines.level[asked.reference]))
    reason = None if lots > 2 else Remark("lots.two_lots")
    spread = Spread(lots, cv_of(fit.between), average_to_reference=to_reference, reason=reason, several=several)
    return _with_limits(spread, fit, 0.0, _names(common, rows), asked.level), _of_rows(common, rows, np.exp(fit.blup))


def lots_at_setting(common: LotCurves, own: LotCurves, asked: Asked) -> tuple[Spread | None, Floats | None]:
    """Lots as random effects that differ in level and in shape, compared at the reference lot's usual opening.

    How much lots differ, and what each is taken for, comes from one fit of all lots; the limits for a new lot and the
    unusual lots from the heights of the lots' own curves, each weighed by how well it is known.
    """
    rows, which, lot = _one_a_lot(common)
    if len(rows) < 2:
        return None, None
    lots, several = len(rows), _several(common)
    try:
        fit = random_lines(common.z[which], common.x[which], lot)
    except (ValueError, np.linalg.LinAlgError):
        return Spread(lots, reason=Remark("lots.too_few_shapes"), several=several), None
    rise = float(common.bend[0]) * (asked.usual - float(common.middle[0]))
    at = np.array([1.0, (asked.usual - float(common.middle[0])) / (1 + rise)])
    mean = float(at @ fit.beta) + math.log1p(rise) - float(common.bend[0] * at[1])
    height, answer = own.at(slice(None), asked.usual)
    to_reference = exp_or_none(mean - float(height[asked.reference]))
    cv, average = cv_of(max(float(at @ fit.cov @ at), 0.0)), _of_rows(common, rows, np.exp(fit.blup @ at))
    spread = Spread(lots, cv, average_to_reference=to_reference, several=several)
    curved = rows[~own.borrowed[rows]]
    if len(curved) < 3 or not own.variance:
        return replace(spread, reason=Remark("lots.few_shapes")), average
    variance = own.variance / own.lines.count + answer**2 * own.bend_var
    heights, variances = height[curved], variance[curved]
    seen = one_way_of_estimates(heights, variances, within=own.variance, df_within=own.lines.df, level=asked.level)
    spread = replace(spread, reason=Remark("lots.at_setting"))
    return _with_limits(spread, seen, float(seen.beta[0]) - mean, _names(common, curved), asked.level), average


def _one_a_lot(common: LotCurves) -> tuple[Codes, Flags, Codes]:
    """One season of each lot, which catches are of these, and the lot of each of these catches, counted from 0.

    Two seasons of one lot are not two draws from all lots, so a lot whose seasons are compared as lots counts once.
    """
    rows, lot = common.catches.once, common.catches.lot
    number = np.full(len(common.catches.called), -1, dtype=np.intp)
    number[rows] = np.arange(len(rows))
    which: Flags = number[lot] >= 0
    return rows, which, number[lot[which]]


def _several(common: LotCurves) -> int:
    """How many lots are compared season by season."""
    return len({each.lot for each in common.catches.called if each.season is not None})


def _names(common: LotCurves, rows: Codes) -> list[str]:
    return [common.catches.names[k] for k in rows.tolist()]


def _of_rows(common: LotCurves, rows: Codes, values: Floats) -> Floats:
    """Values of some of what is compared, NaN for the rest."""
    spread_out = np.full(len(common.catches.called), np.nan)
    spread_out[rows] = values
    return spread_out


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
