"""`compare_lots`: the lots of one box against a reference lot, in general, and from season to season."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from predictor.domain.arguments import maybe_label, real
from predictor.domain.control import Setting
from predictor.domain.drill import SeedBox
from predictor.domain.drives import OnDrive
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.errors import InputError
from predictor.files.cells import uncollected
from predictor.files.trials import as_trials
from predictor.lots.apart import in_seasons, pooled, seasons_of_lots
from predictor.lots.bends import BendNoise, bend_noise
from predictor.lots.catches import Catches, select
from predictor.lots.flow import Asked, compare_flow, either_shape
from predictor.lots.limits import FTest
from predictor.lots.random_levels import OneWay
from predictor.lots.results import CurveShape, LotComparison, Reference, Seasons, SeasonsOfLot
from predictor.lots.rows import rows_of, settings_of
from predictor.lots.season_levels import SeasonNoise, season_cells, season_noise
from predictor.lots.seasons import compare_seasons, repeatability_of
from predictor.lots.shapes import LotCurves, fit_common, fit_own, same_shape
from predictor.lots.spread import lots_at_setting, lots_in_general, random_lots
from predictor.lots.starts import Starts, predict_starts

if TYPE_CHECKING:
    import pandas as pd

# One shape is given up at this level only: where it is wrong by little, its limits still hold, and lots that lose it
# lose ratios that hold at every setting (common practice).
SHAPE_LEVEL = 0.01
# Limits hold on the common shape as well until it is rejected at this level: that seldom, chance no longer counts.
SURELY = 1e-4


@uncollected()
def compare_lots(
    trials: Trials | pd.DataFrame,
    box: str | SeedBox | None = None,
    *,
    reference: str | None = None,
    target_output: float | None = None,
    level: float = 0.95,
) -> LotComparison:
    """Compare the lots of one box: how freely each flows, and what that tells about the next.

    Noise is taken as one coefficient of variation, so the work is done on log outputs:
    `log y = level of the lot + log(opening - dead setting) + noise`, with one dead setting for all lots. Whether that
    holds is tested at 1 % by the extra sum of squares against a dead setting for each lot. Where it does not hold, each
    lot has a curve of its own and ratios are given at a named setting; where that may be by chance, limits hold both
    ways. Where it holds, limits count how far shapes may still differ.

    Limits of ratios also count that a lot may shift from season to season, where lots caught in several seasons tell
    how much.

    A lot that was caught in several seasons is compared season by season, as "CW-24 (2025)" and "CW-24 (2026)", unless
    the limits of the ratio between its seasons lie within 0.90 and 1.10: then it is one lot. Its catches without season
    go with it, or else by themselves.

    Parameters
    ----------
    trials : Trials or DataFrame
    box : str or SeedBox, optional
        May be left out where the trials are of one box only.
    reference : str, optional
        The lot that the others are compared with; the most caught if not given. A lot that is compared season by
        season means its last season; "CW-24 (2025)" names another.
    target_output : float, optional
        Output wanted, grams per row per turn, > 0. If not given: the latest `target_g` of the trials, else the
        reference lot's output at the setting it was caught at most.
    level : float
        Probability that all limits of the ratios hold together, and of every other interval; 0 < level < 1.

    Returns
    -------
    LotComparison

    Raises
    ------
    InputError
        There is no such box or lot, no box is named where there are several, the control of the box given does not
        have a setting of the trials, or the target or the level is out of range.

    References
    ----------
    Finney (1978), Statistical Method in Biological Assay (ratios, parallelism). Dunnett (1955), J. Am. Stat. Assoc.
    50, 1096-1121 (limits that hold together). Patterson and Thompson (1971), Biometrika 58, 545-554 (REML).

    Examples
    --------
    >>> import pandas as pd
    >>> log = pd.DataFrame({"box": "small", "lot": ["A"] * 4 + ["B"] * 4, "setting": [20, 20, 40, 40] * 2,
    ...                     "catch_g": [60, 62, 121, 119, 72, 74, 143, 145], "turns": 20, "rows": 3})
    >>> found = compare_lots(log, "small", reference="A")
    >>> round(found.lot("B").ratio, 2), found.lot("B").setting.value
    (1.2, 16.6)
    """
    level, target_output = _in_range(level, target_output)
    reference = maybe_label(reference, "reference")
    catches = select(as_trials(trials), box)
    if not len(catches):
        warnings = (Remark("lots.no_catch"),)
        return LotComparison(catches.box, level, left_out=catches.left_out, warnings=warnings)
    common, own, test, lots_in_seasons = _fitted_by_season(in_seasons(catches), level)
    catches, curves = common.catches, _holds(common, own, test)
    r = catches.index(reference)
    called = catches.called[r]
    target = catches.target if target_output is None else target_output
    asked = Asked(r, catches.most_caught(r), None if target is None else math.log(target), level)
    fit = random_lots(common, level)
    if curves is common:
        spread, average = lots_in_general(common, fit, asked)
    else:
        spread, average = lots_at_setting(common, curves, asked)
    cells = season_cells(common) if len(catches.seasons) > 1 else None
    noise = season_noise(cells) if lots_in_seasons and cells is not None else None
    fits = _fits(common, own, test)
    bends = bend_noise(common) if curves is common else None
    flow = either_shape(fits[0], fits[1], asked, noise) if len(fits) > 1 else compare_flow(curves, asked, noise, bends)
    starts = _starts(fits, common, fit, asked, noise, bends)
    settings = settings_of(catches, starts)
    if spread is not None:
        at, low, high = (each[-1] for each in settings)
        spread = replace(spread, next_setting=at, next_setting_lower=low, next_setting_upper=high)
    seasons = compare_seasons(curves, cells, level)
    if noise is None and flow.critical is not None and sum(map(bool, catches.seasons)) > 1:
        seasons = replace(seasons, reasons=(Remark("lots.shifts_unknown"), *seasons.reasons))
    unusual = frozenset(() if spread is None else spread.unusual)
    output = float(curves.output(r, np.array(asked.usual))) if target is None else target
    return LotComparison(
        box=catches.box,
        level=level,
        reference=Reference(called.lot, called.season, called.name, settings[0][r], output, target is not None),
        adjustment="" if flow.critical is None else flow.critical.adjustment,
        repeatability=repeatability_of(curves.variance, curves.lines.df, level),
        shape=_shape(curves, test, level, None if bends is None else catches.caught_at(asked.usual)),
        spread=spread,
        seasons=seasons,
        lots=rows_of(curves, flow, starts, settings, average, unusual, r),
        lots_in_seasons=lots_in_seasons,
        left_out=catches.left_out,
        warnings=tuple(_warnings(common, seasons)),
        curves=curves,
    )


def _in_range(level: float, target_output: float | None) -> tuple[float, float | None]:
    """Level and target output as numbers; raises an InputError where one cannot be."""
    level = real(level, "level")
    target_output = None if target_output is None else real(target_output, "target_output")
    if not 0 < level < 1:
        raise InputError(f"A level must be between 0 and 1, such as 0.95; got {level:g}.")
    if target_output is not None and not (math.isfinite(target_output) and target_output > 0):
        raise InputError(f"A target output must be above 0, in grams per row per turn; got {target_output}.")
    return level, target_output


def _fitted_by_season(
    catches: Catches, level: float
) -> tuple[LotCurves, LotCurves | None, FTest | None, tuple[SeasonsOfLot, ...]]:
    """Curves of one shape and of several, the test between them, and which lots have their seasons pooled in them."""
    common, own, test = _fitted(catches, level)
    lots = seasons_of_lots(_holds(common, own, test), level)
    if any(each.pooled for each in lots):
        common, own, test = _fitted(pooled(catches, lots), level, own)
    return common, own, test, lots


def _fitted(
    catches: Catches, level: float, before: LotCurves | None = None
) -> tuple[LotCurves, LotCurves | None, FTest | None]:
    """Curves of one shape and of several, and the test between them; `before` are those of several fitted already."""
    common = fit_common(catches, level)
    own = fit_own(common, before)
    return common, own, same_shape(common, own)


def _holds(common: LotCurves, own: LotCurves | None, test: FTest | None) -> LotCurves:
    """Curves of the shape that holds."""
    return own if own is not None and test is not None and test.p < SHAPE_LEVEL else common


def _fits(common: LotCurves, own: LotCurves | None, test: FTest | None) -> tuple[LotCurves, ...]:
    """The curves that hold; those of one shape as well where it was given up, but perhaps by chance."""
    curves = _holds(common, own, test)
    return (curves, common) if curves is not common and test is not None and test.p >= SURELY else (curves,)


def _starts(
    fits: tuple[LotCurves, ...],
    common: LotCurves,
    fit: OneWay | None,
    asked: Asked,
    noise: SeasonNoise | None,
    bends: BendNoise | None,
) -> Starts:
    """Settings along the curves that hold, with limits that hold on either shape where that is in doubt."""
    found = [predict_starts(curves, common, fit, asked, noise, bends) for curves in fits]
    low, high = np.min([each.low for each in found], axis=0), np.max([each.high for each in found], axis=0)
    return replace(found[0], low=low, high=high)


def _shape(curves: LotCurves, test: FTest | None, level: float, limits_at: Setting | None) -> CurveShape:
    reason = None if test else Remark("lots.untestable")
    if test is not None and SURELY <= test.p < SHAPE_LEVEL:
        reason = Remark("lots.shape_unsure")
    same, labelled = curves.shared if test else None, bool(curves.catches.label)
    if labelled or not curves.shared:
        return CurveShape(same, test, None, None, None, labelled, reason, limits_at)
    low, high = (end if math.isfinite(end) else None for end in curves.dead_limits(level))
    return CurveShape(same, test, curves.dead(0), low, high, curves.assumed, reason, limits_at)


def _warnings(common: LotCurves, seasons: Seasons) -> Iterator[Remark]:
    label = common.catches.label
    if label:
        yield Remark("lots.one_label", {"label": label})
    if common.assumed and not label:
        yield Remark("lots.dead_assumed")
    if 0 < common.catches.towed_share() < 1:
        yield Remark("lots.towed_and_standing")
    if common.variance is None:
        yield Remark("lots.no_repeats", {"lots": len(common.catches.once)})
    control = common.catches.control
    if isinstance(control, OnDrive) and common.catches.scaled:
        yield Remark("lots.drives", {"count": common.catches.scaled, "drive": control.drive})
    if seasons.drift is not None and seasons.drift.shown:
        yield Remark("lots.drift_inside")
