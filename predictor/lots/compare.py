"""`compare_lots`: the lots of one box against a reference lot, in general, and from season to season."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from predictor.domain.control import Lever, Setting, Sprockets
from predictor.domain.drill import SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.errors import InputError
from predictor.files.trials import as_trials
from predictor.lots.catches import Catches, lot_index, select
from predictor.lots.flow import Asked, Flow, compare_flow
from predictor.lots.limits import FTest, exp_or_none
from predictor.lots.results import Curves, CurveShape, Lot, LotComparison, Reference, Seasons, Spread
from predictor.lots.seasons import compare_seasons, repeatability_of
from predictor.lots.shapes import LotCurves, fit_common, fit_own, same_shape
from predictor.lots.spread import lots_at_setting, lots_in_general

if TYPE_CHECKING:
    import pandas as pd

# A chain position is named without a note where its drive ratio is this near the one needed, as a log ratio.
NEAR_POSITION = 0.1


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
    holds is tested by the extra sum of squares against a dead setting for each lot. Where it does not hold, each lot
    has a curve of its own and ratios are given at a named setting.

    Parameters
    ----------
    trials : Trials or DataFrame
    box : str or SeedBox, optional
        May be left out where the trials are of one box only.
    reference : str, optional
        The lot that the others are compared with; the most caught if not given.
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
    if not 0 < level < 1:
        raise InputError(f"A level must be between 0 and 1, such as 0.95; got {level:g}.")
    if target_output is not None and not (math.isfinite(target_output) and target_output > 0):
        raise InputError(f"A target output must be above 0, in grams per row per turn; got {target_output}.")
    selection = select(as_trials(trials), box)
    catches, warnings = selection.catches, []
    if selection.label:
        warnings.append(Remark("lots.one_label", {"label": selection.label}))
    if catches is None:
        warnings.append(Remark("lots.no_catch"))
        return LotComparison(selection.box, level, left_out=selection.left_out, warnings=tuple(warnings))
    r = lot_index(catches, selection, reference)
    target = catches.target if target_output is None else target_output
    asked = Asked(r, catches.most_caught(r), None if target is None else math.log(target), level)
    common = fit_common(catches, level)
    own = fit_own(catches, common)
    test = same_shape(common, own)
    if own is not None and test is not None and test.p < 1 - level:
        curves, (spread, average) = own, lots_at_setting(common, own, catches, asked)
    else:
        curves, (spread, average) = common, lots_in_general(common, catches, asked)
    flow = compare_flow(curves, catches, asked)
    seasons = compare_seasons(curves, catches, level)
    usual_output = float(curves.output(r, np.array(asked.usual)))
    return LotComparison(
        box=selection.box,
        level=level,
        reference=Reference(
            catches.names[r],
            catches.to_set(flow.need[r]),
            usual_output if target is None else target,
            target is not None,
        ),
        adjustment="" if flow.critical is None else flow.critical.adjustment,
        repeatability=repeatability_of(curves.variance, curves.lines.df, level),
        shape=_shape(curves, catches, test, level),
        spread=spread,
        seasons=seasons,
        lots=_rows(curves, catches, flow, spread, average, r),
        left_out=selection.left_out,
        warnings=(*warnings, *_warnings(common, catches, seasons)),
        curves=Curves(catches, curves),
    )


def _shape(curves: LotCurves, catches: Catches, test: FTest | None, level: float) -> CurveShape:
    reason = None
    if test is None and len(catches.names) == 1:
        reason = Remark("lots.one_lot")
    elif test is None:
        reason = Remark("lots.untestable" if (curves.lines.count > 1).any() else "lots.each_once")
    if not (curves.shared and catches.ordered):
        return CurveShape(curves.shared if test else None, test, None, None, None, not catches.ordered, reason)
    low, high = (end if math.isfinite(end) else None for end in curves.dead_limits(level))
    return CurveShape(True if test else None, test, curves.dead(0), low, high, curves.assumed, reason)


def _rows(
    curves: LotCurves, catches: Catches, flow: Flow, spread: Spread | None, average: np.ndarray | None, reference: int
) -> tuple[Lot, ...]:
    """The lots, by first season, then by name."""
    seasons = list(catches.seasons)
    caught_in: list[list[int]] = [[] for _ in catches.names]
    for lot, season in np.unique(np.column_stack([catches.lot, catches.season]), axis=0).tolist():
        caught_in[lot].append(season)
    first, last = catches.ends
    rows = []
    for k in sorted(range(len(catches.names)), key=lambda k: (caught_in[k][0], catches.names[k])):
        ratio, half, own = flow.log_ratio[k], flow.half[k], not (curves.shared or curves.borrowed[k])
        low, high = _limits(catches, flow.need_low[k], flow.need_high[k])
        rows.append(
            Lot(
                lot=catches.names[k],
                seasons=tuple(seasons[each] for each in caught_in[k]),
                catches=int(curves.lines.count[k]),
                settings=(catches.caught_at(first[k]), catches.caught_at(last[k])),
                ratio=exp_or_none(ratio),
                lower=exp_or_none(ratio - half),
                upper=exp_or_none(ratio + half),
                at_setting=None if math.isnan(flow.at[k]) else catches.caught_at(flow.at[k]),
                setting=catches.to_set(flow.need[k]),
                setting_lower=low,
                setting_upper=high,
                against_average=None if average is None else float(average[k]),
                unusual=spread is not None and catches.names[k] in spread.unusual,
                dead_opening=curves.dead(k) if own and curves.bend[k] > 0 else None,
                notes=_notes(k, curves, catches, flow.need[k], reference),
            )
        )
    return tuple(rows)


def _limits(catches: Catches, low: float, high: float) -> tuple[Setting | None, Setting | None]:
    ends = catches.to_set(low), catches.to_set(high)
    mirrored = isinstance(catches.control, Lever) and catches.control.more_is == "lower"
    return (ends[1], ends[0]) if mirrored else ends


def _notes(k: int, curves: LotCurves, catches: Catches, need: float, reference: int) -> tuple[Remark, ...]:
    notes = []
    if curves.lines.count[k] == 1:
        notes.append(Remark("lots.one_catch"))
    first, last = catches.ends
    if last[k] < first[reference] or first[k] > last[reference]:
        notes.append(Remark("lots.no_common_setting"))
    if catches.ordered and math.isfinite(need):
        if end := catches.beyond(need):
            notes.append(Remark("lots.beyond", {"end": end}))
        elif isinstance(catches.control, Sprockets):
            position = catches.control.at(need).opening
            if abs(math.log(max(need, 1e-9) / position)) > NEAR_POSITION:
                notes.append(Remark("lots.between_positions"))
    return tuple(notes)


def _warnings(common: LotCurves, catches: Catches, seasons: Seasons) -> list[Remark]:
    found = []
    if common.assumed and catches.ordered:
        found.append(Remark("lots.dead_assumed"))
    if common.variance is None:
        found.append(Remark("lots.no_repeats"))
    if seasons.drift is not None and seasons.drift.shown:
        found.append(Remark("lots.drift_inside"))
    return found
