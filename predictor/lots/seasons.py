"""Seasons of one box: how repeatable catches were in each, and whether the flow drifted."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from predictor.domain.control import Floats
from predictor.domain.result import Remark
from predictor.domain.season import season_time
from predictor.lots.catches import Catches
from predictor.lots.limits import cv_limits, cv_of, t_critical
from predictor.lots.parallel import Codes, ParallelLines, parallel_lines, sums_of
from predictor.lots.random_levels import one_way
from predictor.lots.results import Change, Drift, Repeatability, SameRepeatability, Season, Seasons
from predictor.lots.shapes import LotCurves

# With more seasons than this they are not compared one by one.
MOST_SEASONS = 100
# Whether lots agree on the drift is tested first, and only a clear agreement is pooled with the catches' own scatter.
# Level after Bancroft (1964), Biometrics 20, 427-442 (from memory).
POOL_ABOVE = 0.25


@dataclass(frozen=True, eq=False)
class _Cells:
    """The catches in cells, one for each lot in each season, with the lines through them."""

    lot: Codes  # Of each cell
    season: Codes
    of_catch: Codes  # Cell of each catch
    lines: ParallelLines  # With a level for each cell
    slope_group: Codes  # Of each catch: which of the lines' slopes is its own
    variance: float  # Of log outputs about the lines; NaN without repeats


def compare_seasons(curves: LotCurves, catches: Catches, level: float) -> Seasons:
    """Compare repeatability and flow of the seasons.

    Source: Bartlett (1937), Proc. R. Soc. A 160, 268-282; for two seasons the exact F test.
    """
    cells, names = _cells(curves, catches), list(catches.seasons)
    repeatability = _by_season(cells, curves, catches, level)
    same = _same_repeatability([each for each in repeatability if each.df >= 1])
    drift, changes, reasons = None, {}, []
    if len(names) < 2:
        reasons.append(Remark("lots.one_season"))
    else:
        if same is None:
            reasons.append(Remark("lots.no_repeats_by_season"))
        changes = _changes(cells, names, level, reasons)
        drift = _steady_drift(cells, curves, catches, level, reasons)
    catches_in, lots_in = (np.bincount(each, minlength=len(names)).tolist() for each in (catches.season, cells.season))
    table = [Season(name, catches_in[k], lots_in[k], repeatability[k], changes.get(k)) for k, name in enumerate(names)]
    return Seasons(tuple(table), same, drift, tuple(reasons))


def _cells(curves: LotCurves, catches: Catches) -> _Cells:
    key, cell = np.unique(catches.lot * len(catches.seasons) + catches.season, return_inverse=True)
    lot, season = np.divmod(key, len(catches.seasons))
    group = np.zeros_like(catches.lot) if curves.shared else catches.lot
    lines = parallel_lines(curves.z, curves.x, cell, group)
    variance = max(lines.ss / lines.df, catches.floor) if lines.df >= 1 else math.nan
    return _Cells(lot, season, cell, lines, group, variance)


def _by_season(cells: _Cells, curves: LotCurves, catches: Catches, level: float) -> list[Repeatability]:
    lines = cells.lines
    inside = curves.x - lines.centre[cells.of_catch]
    with np.errstate(invalid="ignore", divide="ignore"):
        leverage = np.where(np.isnan(lines.slope), 0.0, 1 / lines.spread)[cells.slope_group] * inside**2
    free = 1 - 1 / lines.count[cells.of_catch] - leverage
    ss, df = (sums_of(each, catches.season).tolist() for each in (lines.residual**2, free))
    return [
        repeatability_of(max(s / d, catches.floor) if d >= 0.5 else None, max(d, 0.0), level)
        for s, d in zip(ss, df, strict=True)
    ]


def repeatability_of(variance: float | None, df: float, level: float) -> Repeatability:
    """Repeatability with its limits, from the variance of log outputs; None where there is none."""
    if variance is None:
        return Repeatability(None, None, None, df)
    return Repeatability(cv_of(variance), *cv_limits(variance, df, level), df)


def _same_repeatability(rows: list[Repeatability]) -> SameRepeatability | None:
    """F test for two seasons, Bartlett's for more. Both trust the normal shape of log outputs."""
    df = [row.df for row in rows]
    variance = [math.log1p((row.cv or 0.0) ** 2) for row in rows]
    if len(rows) < 2 or min(variance) <= 0:
        return None
    if len(rows) > 2:
        return bartlett(variance, df)
    value = variance[0] / variance[1]
    upper = float(special.fdtrc(df[0], df[1], value))
    return SameRepeatability("F", value, min(2 * min(upper, 1 - upper), 1.0), 2)


def bartlett(variance: npt.ArrayLike, df: npt.ArrayLike) -> SameRepeatability:
    """Bartlett's test that several variances are one.

    Source: Bartlett (1937), Proc. R. Soc. A 160, 268-282.
    """
    variances, free = np.asarray(variance, dtype=float), np.asarray(df, dtype=float)
    pooled = free @ variances / free.sum()
    spread = free.sum() * math.log(pooled) - free @ np.log(variances)
    correction = 1 + (np.sum(1 / free) - 1 / free.sum()) / (3 * (len(free) - 1))
    value = float(max(spread, 0.0) / correction)
    return SameRepeatability("Bartlett", value, float(special.chdtrc(len(free) - 1, value)), len(free))


def _changes(cells: _Cells, names: Sequence[str], level: float, reasons: list[Remark]) -> dict[int, Change]:
    """Each season against the first one that shared lots link it to, by least squares on lots and seasons."""
    if len(names) > MOST_SEASONS:
        reasons.append(Remark("lots.many_seasons", {"most": MOST_SEASONS}))
        return {}
    if cells.lines.df < 1:
        return {}
    keep = (np.bincount(cells.lot) > 1)[cells.lot]
    if not keep.any():
        reasons.append(Remark("lots.no_link"))
        return {}
    lot, season = np.unique(cells.lot[keep], return_inverse=True)[1], cells.season[keep]
    weight, value = cells.lines.count[keep].astype(float), cells.lines.level[keep]
    total = sums_of(weight, lot)
    presence = np.zeros((len(total), len(names)))
    presence[lot, season] = weight
    info = np.diag(presence.sum(axis=0)) - (presence / total[:, None]).T @ presence

    def from_lot(values: Floats) -> Floats:
        return values - (sums_of(weight * values, lot) / total)[lot]

    gap = from_lot(value - value.mean())
    inverse = np.linalg.pinv(info, hermitian=True, rcond=1e-10)
    effect = inverse @ sums_of(weight * gap, season, len(names))
    rest = from_lot(gap - effect[season])
    part = _first_linked(info)
    linked = set(season.tolist())
    df = len(lot) - len(total) - (len(linked) - len({part[s] for s in linked}))
    variance, freedom = cells.variance, cells.lines.df
    if df >= 1:
        agreement = float(weight @ rest**2) / df
        unlike = special.fdtrc(df, cells.lines.df, agreement / max(variance, 1e-300)) < POOL_ABOVE
        if unlike and agreement > variance:
            variance, freedom = agreement, df
            reasons.append(Remark("lots.disagree"))
    else:
        reasons.append(Remark("lots.one_link"))
    critical = t_critical(freedom, level)
    found = {}
    for s, first in enumerate(part):
        if first != s:
            contrast = inverse[s, s] + inverse[first, first] - 2 * inverse[s, first]
            limits = _ratio(effect[s] - effect[first], critical * math.sqrt(variance * contrast))
            found[s] = Change(*limits, names[first])
    return found


def _first_linked(info: Floats) -> list[int]:
    """The first of the seasons that each season hangs together with through shared lots."""
    part = np.arange(len(info))
    joined = (np.abs(info) > 0) | np.eye(len(info), dtype=bool)
    while True:
        lowest = np.where(joined, part[None, :], len(info)).min(axis=1)
        if (lowest == part).all():
            return list(part.tolist())
        part = lowest


def _ratio(middle: float, half: float) -> tuple[float, float, float]:
    """A ratio and its limits from a log ratio and half the width of its limits."""
    ratio, lower, upper = (math.exp(min(max(each, -700.0), 700.0)) for each in (middle, middle - half, middle + half))
    return ratio, lower, upper


def season_years(seasons: Mapping[str, float]) -> Floats | None:
    """Year or number of each season, from its name or else from its dates; None where one has neither."""
    named = [(season_time(name), dated) for name, dated in seasons.items()]
    years = np.array([dated if math.isinf(time) else time for time, dated in named])
    return np.floor(years) if np.isfinite(years).all() else None


def _steady_drift(
    cells: _Cells, curves: LotCurves, catches: Catches, level: float, reasons: list[Remark]
) -> Drift | None:
    """The drift from season to season, lots taken as random so that lots of one season count too."""
    years = season_years(catches.seasons)
    if years is None or len(set(years.tolist())) < 2:
        reasons.append(Remark("lots.no_years"))
        return None
    year, lot, slope = years[catches.season], catches.lot, cells.lines.slope
    # the bend is taken as found within lots: settings go with how lots flow, so between lots it would mislead
    rest = curves.z - np.where(np.isnan(slope), 0.0, slope)[cells.slope_group] * curves.x
    try:
        fit = one_way(rest, lot, year, level=level)
        bend_part = 0.0
        if curves.shared and not np.isnan(slope[0]):
            # how far one standard deviation of the common bend moves the drift
            step = math.sqrt(cells.lines.ss / max(cells.lines.df, 1) / float(cells.lines.spread[0]))
            bend_part = float(one_way(rest + step * curves.x, lot, year).beta[1] - fit.beta[1])
    except (ValueError, np.linalg.LinAlgError):
        reasons.append(Remark("lots.thin_drift"))
        return None
    within = year - (sums_of(year, lot) / np.bincount(lot))[lot]
    # how much of what is known about the drift comes from lots caught in several seasons
    share = min(float(within @ within) / fit.within * float(fit.se[1]) ** 2, 1.0)
    df = 1 / (share**2 / fit.df_within + (1 - share) ** 2 / fit.df_between)
    drift, half = float(fit.beta[1]), t_critical(df, level) * math.hypot(float(fit.se[1]), bend_part)
    linked = int((sums_of(np.abs(within), lot) > 1e-9).sum())
    return Drift(*_ratio(drift, half), linked, abs(drift) > half)
