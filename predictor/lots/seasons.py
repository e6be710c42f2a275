"""Seasons of one box: how repeatable catches were in each, and whether the flow drifted."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import numpy.typing as npt
from scipy import special
from scipy.sparse.csgraph import connected_components

from predictor.domain.control import Floats
from predictor.domain.result import Remark
from predictor.domain.season import season_time
from predictor.lots.limits import cv_of, ratio_of, t_critical
from predictor.lots.parallel import lot_means, parallel_lines, sums_of
from predictor.lots.random_levels import one_way
from predictor.lots.results import Change, Drift, Repeatability, SameRepeatability, Season, Seasons
from predictor.lots.shapes import LotCurves

# More seasons than this are not compared one by one: the work would grow with the cube of their number.
MOST_SEASONS = 100
# A test first tells whether lots agree on the changes. Only a clear agreement is pooled with the catches' own scatter.
# Level after Bancroft (1964), Biometrics 20, 427-442 (from memory).
POOL_ABOVE = 0.25
# Variance of logs at a coefficient of variation of 1000 per cent; catches do not bound it where a limit lies beyond.
LARGEST = math.log1p(100.0)


class _Cells:
    """The catches in cells, one for each lot in each season, with the lines through them."""

    def __init__(self, curves: LotCurves):
        catches, seasons = curves.catches, len(curves.catches.seasons)
        self.curves = curves
        key, self.of_catch = np.unique(catches.whole * seasons + catches.season, return_inverse=True)
        self.lot, self.season = np.divmod(key, seasons)  # of each cell
        self.group = np.zeros_like(catches.lot) if curves.shared else catches.lot  # which slope each catch goes by
        self.lines = parallel_lines(curves.z, curves.x, self.of_catch, self.group)
        self.names = list(catches.seasons)


def compare_seasons(curves: LotCurves, level: float) -> Seasons:
    """Compare repeatability and flow of the seasons."""
    cells = _Cells(curves)
    repeatability = _by_season(cells, level)
    same = _same_repeatability([each for each in repeatability if each.df >= 1])
    drift, changes, reasons = None, {}, []
    if len(cells.names) < 2:
        reasons.append(Remark("lots.one_season"))
    else:
        if same is None:
            reasons.append(Remark("lots.no_repeats_by_season"))
        changes = _changes(cells, level, reasons)
        drift = _steady_drift(cells, level, reasons)
    catches, lots = (np.bincount(each).tolist() for each in (curves.catches.season, cells.season))
    table = [Season(name, catches[k], lots[k], repeatability[k], changes.get(k)) for k, name in enumerate(cells.names)]
    return Seasons(tuple(table), same, drift, tuple(reasons))


def _by_season(cells: _Cells, level: float) -> list[Repeatability]:
    lines, catches = cells.lines, cells.curves.catches
    with np.errstate(invalid="ignore", divide="ignore"):
        per_slope = np.where(np.isnan(lines.slope), 0.0, 1 / lines.spread)[cells.group]
    leverage = per_slope * (cells.curves.x - lines.centre[cells.of_catch]) ** 2
    free = 1 - 1 / lines.count[cells.of_catch] - leverage
    ss, df = (sums_of(each, catches.season).tolist() for each in (lines.residual**2, free))
    return [
        repeatability_of(max(s / d, catches.floor) if d >= 0.5 else None, max(d, 0.0), level)
        for s, d in zip(ss, df, strict=True)
    ]


def repeatability_of(variance: float | None, df: float, level: float) -> Repeatability:
    """Repeatability from the variance of log outputs, with chi-square limits; None where there is none."""
    if variance is None:
        return Repeatability(None, None, None, df)
    tails = (0.5 + level / 2, 0.5 - level / 2)
    ends = [variance * df / (2 * float(special.gammaincinv(df / 2, tail))) for tail in tails]
    low, high = (cv_of(end) if end < LARGEST else None for end in ends)
    return Repeatability(cv_of(variance), low, high, df)


def _same_repeatability(rows: list[Repeatability]) -> SameRepeatability | None:
    """The exact F test for two seasons, Bartlett's for more. Both trust the normal shape of log outputs."""
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


def _changes(cells: _Cells, level: float, reasons: list[Remark]) -> dict[int, Change]:
    """Each season against the first one that shared lots link it to, by least squares on lots and seasons."""
    names, lines = cells.names, cells.lines
    if len(names) > MOST_SEASONS:
        reasons.append(Remark("lots.many_seasons", {"most": MOST_SEASONS}))
        return {}
    if lines.df < 1:
        return {}
    keep = (np.bincount(cells.lot) > 1)[cells.lot]
    if not keep.any():
        reasons.append(Remark("lots.no_link"))
        return {}
    lot, season = np.unique(cells.lot[keep], return_inverse=True)[1], cells.season[keep]
    weight, value = lines.count[keep].astype(float), lines.level[keep]
    total = np.bincount(lot, weights=weight)
    presence = np.zeros((len(total), len(names)))
    presence[lot, season] = weight
    info = np.diag(presence.sum(axis=0)) - (presence / total[:, None]).T @ presence

    def from_lot(values: Floats) -> Floats:
        return values - (sums_of(weight * values, lot) / total)[lot]

    gap = from_lot(value - value.mean())
    inverse = np.linalg.pinv(info, hermitian=True, rcond=1e-10)
    effect = inverse @ sums_of(weight * gap, season, len(names))
    rest = from_lot(gap - effect[season])
    part = connected_components(np.abs(info) > 0)[1]
    first = np.unique(part, return_index=True)[1][part].tolist()  # season of its part that each is compared with
    df = len(lot) - len(total) - len(np.unique(season)) + len(np.unique(part[season]))
    variance, freedom = max(lines.ss / lines.df, cells.curves.catches.floor), lines.df
    if df >= 1:
        agreement = float(weight @ rest**2) / df
        unlike = special.fdtrc(df, freedom, agreement / max(variance, 1e-300)) < POOL_ABOVE
        if unlike and agreement > variance:
            variance, freedom = agreement, df
            reasons.append(Remark("lots.disagree"))
    else:
        reasons.append(Remark("lots.one_link"))
    contrast = np.diag(inverse) + np.diag(inverse)[first] - 2 * inverse[first, range(len(first))]
    half = t_critical(freedom, level) * np.sqrt(variance * contrast)
    return {
        k: Change(*ratio_of(effect[k] - effect[other], half[k]), names[other])
        for k, other in enumerate(first)
        if other != k
    }


def _years(seasons: Mapping[str, float]) -> Floats | None:
    """Year or number of each season, from its name or else from its dates; None where one has neither."""
    named = [(season_time(name), dated) for name, dated in seasons.items()]
    years = np.array([dated if math.isinf(time) else time for time, dated in named])
    return np.floor(years) if np.isfinite(years).all() else None


def _steady_drift(cells: _Cells, level: float, reasons: list[Remark]) -> Drift | None:
    """The drift from season to season. Lots are random effects, so that lots of one season count too."""
    curves, lines = cells.curves, cells.lines
    years = _years(curves.catches.seasons)
    if years is None or len(set(years.tolist())) < 2:
        reasons.append(Remark("lots.no_years"))
        return None
    year, lot = years[curves.catches.season], curves.catches.whole
    # the bend comes from within lots: settings go with how lots flow, so a bend between lots would mislead
    rest = curves.z - np.where(np.isnan(lines.slope), 0.0, lines.slope)[cells.group] * curves.x
    try:
        fit = one_way(rest, lot, year, level=level)
        bend_part = 0.0
        if curves.shared and not np.isnan(lines.slope[0]):
            # how far one standard deviation of the common bend moves the drift
            step = math.sqrt(lines.ss / max(lines.df, 1) / float(lines.spread[0]))
            bend_part = float(one_way(rest + step * curves.x, lot, year).beta[1] - fit.beta[1])
    except (ValueError, np.linalg.LinAlgError):
        reasons.append(Remark("lots.thin_drift"))
        return None
    within = year - lot_means(year, lot, np.bincount(lot))[lot]
    # how much of what is known about the drift comes from lots caught in several seasons
    share = min(float(within @ within) / fit.within * float(fit.se[1]) ** 2, 1.0)
    df = 1 / (share**2 / fit.df_within + (1 - share) ** 2 / fit.df_between)
    drift, half = float(fit.beta[1]), t_critical(df, level) * math.hypot(float(fit.se[1]), bend_part)
    linked = int((sums_of(np.abs(within), lot) > 1e-9).sum())
    return Drift(*ratio_of(drift, half), linked, abs(drift) > half)
