"""Seasons of one box: how repeatable catches were in each, and whether the flow drifted."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from scipy import special

from predictor.domain.control import Floats
from predictor.domain.result import Remark
from predictor.domain.season import season_time
from predictor.lots.limits import cv_of, ratio_of, t_critical
from predictor.lots.parallel import sums_of
from predictor.lots.repeatability import same_repeatability
from predictor.lots.results import Apart, Change, Drift, Repeatability, Season, Seasons
from predictor.lots.season_levels import SeasonCells, cells_apart, fit_levels, linked, season_columns
from predictor.lots.shapes import LotCurves

# More seasons than this are not compared one by one: the work would grow with the cube of their number.
MOST_SEASONS = 100
# Two lots in two seasons have one degree of freedom; below it, limits by Student's t leave every change open.
LEAST_DF = 0.9
# Variance of logs at a coefficient of variation of 1000 per cent; catches do not bound it where a limit lies beyond.
LARGEST = math.log1p(100.0)


class _Cells:
    """The catches in cells, one for each lot in each season, with the lines through them."""

    def __init__(self, curves: LotCurves):
        catches = curves.catches
        self.curves = curves
        self.lot, self.season, self.of_catch = catches.cells  # lot and season of each cell
        self.lines = curves.by_season
        self.names = list(catches.seasons)


def compare_seasons(curves: LotCurves, means: SeasonCells | None, level: float) -> Seasons:
    """Compare repeatability and flow of the seasons.

    Flow is judged by the `means` of cells along one curve for all lots, because lots have no other height in common;
    lots of another shape then depart from season to season, which widens the limits. There are none in one season.
    """
    cells = _Cells(curves)
    free = _free(cells)
    repeatability = _by_season(cells, free, level)
    same = same_repeatability(cells.lines.residual, free, curves.catches.season, curves.catches.floor)
    drift, changes, reasons = None, dict[int, Change](), list[Remark]()
    apart = tuple[Apart, ...]()
    if means is None:
        reasons.append(Remark("lots.one_season"))
    else:
        if same is None:
            reasons.append(Remark("lots.no_repeats_by_season"))
        changes = _changes(means, cells.names, level, reasons)
        drift = steady_drift(means, years_of(curves.catches.seasons), level, reasons)
        apart = _apart(means, cells.names, curves, level) if changes else ()
    catches, lots = (np.bincount(each).tolist() for each in (curves.catches.season, cells.season))
    table = [Season(name, catches[k], lots[k], repeatability[k], changes.get(k)) for k, name in enumerate(cells.names)]
    return Seasons(tuple(table), same, drift, apart, tuple(reasons))


def _free(cells: _Cells) -> Floats:
    """Part of the scatter of each catch that is left in its residual; the sum is the degrees of freedom."""
    lines = cells.lines
    with np.errstate(invalid="ignore", divide="ignore"):
        per_slope = np.where(np.isnan(lines.slope), 0.0, 1 / lines.spread)[cells.curves.group]
    leverage = per_slope * (cells.curves.x - lines.centre[cells.of_catch]) ** 2
    return np.maximum(1 - 1 / lines.count[cells.of_catch] - leverage, 0.0)


def _by_season(cells: _Cells, free: Floats, level: float) -> list[Repeatability]:
    lines, catches = cells.lines, cells.curves.catches
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


def _changes(cells: SeasonCells, names: list[str], level: float, reasons: list[Remark]) -> dict[int, Change]:
    """Each season against the first one that shared lots link it to. Lots are fixed, lots in seasons random."""
    if len(names) > MOST_SEASONS:
        reasons.append(Remark("lots.many_seasons", {"most": MOST_SEASONS}))
        return {}
    few = linked(cells)
    if few is None:
        if cells.df >= 1:
            reasons.append(Remark("lots.no_link"))
        return {}
    columns, later, first = season_columns(few)
    try:
        fit = fit_levels(few, columns, lots_fixed=True)
    except (ValueError, np.linalg.LinAlgError):
        return {}
    if not fit.seasons_vary:
        reasons.append(Remark("lots.one_link"))
    changes = {}
    for k, (season, other) in enumerate(zip(later.tolist(), first.tolist(), strict=True)):
        middle, variance, df = fit.contrast(np.eye(len(later))[k], few)
        if df >= LEAST_DF:
            changes[season] = Change(*ratio_of(middle, t_critical(df, level) * math.sqrt(variance)), names[other])
    return changes


def years_of(seasons: Mapping[str, float]) -> Floats | None:
    """Year or number of each season, from its name or else from its dates; None where one has neither."""
    named = [(season_time(name), dated) for name, dated in seasons.items()]
    years = np.array([dated if math.isinf(time) else time for time, dated in named])
    return np.floor(years) if np.isfinite(years).all() else None


def steady_drift(cells: SeasonCells, years: Floats | None, level: float, reasons: list[Remark]) -> Drift | None:
    """The drift from season to season. Lots are random effects, so that lots of one season count too."""
    if years is None or len(set(years.tolist())) < 2:
        reasons.append(Remark("lots.no_years"))
        return None
    year = years[cells.season]
    try:
        fit = fit_levels(cells, np.column_stack([np.ones(len(year)), year - year.mean()]))
        drift, variance, df = fit.contrast(np.array([0.0, 1.0]), cells)
        if df < LEAST_DF:
            raise ValueError("One lot that links two seasons cannot tell its own shift from a drift.")
    except (ValueError, np.linalg.LinAlgError):
        reasons.append(Remark("lots.thin_drift"))
        return None
    half = t_critical(df, level) * math.sqrt(variance)
    first, last = np.full(int(cells.lot.max()) + 1, np.inf), np.full(int(cells.lot.max()) + 1, -np.inf)
    np.minimum.at(first, cells.lot, year)
    np.maximum.at(last, cells.lot, year)
    return Drift(*ratio_of(drift, half), int((last > first).sum()), abs(drift) > half)


def _apart(cells: SeasonCells, names: list[str], curves: LotCurves, level: float) -> tuple[Apart, ...]:
    """Lots that departed in one season from what their other seasons and the other lots say."""
    found, row = list[Apart](), np.zeros(len(curves.catches.called), dtype=np.intp)
    row[curves.catches.whole] = curves.catches.lot
    lots = np.flatnonzero(np.bincount(curves.catches.whole))
    for each in cells_apart(cells, level):
        others = cells.season[(cells.lot == each.lot) & (cells.season != each.season)]
        since = tuple(names[k] for k in others.tolist())
        lot = curves.catches.called[row[lots[each.lot]]].lot
        found.append(Apart(lot, names[each.season], since, *ratio_of(each.departure, each.half)))
    return tuple(found)
