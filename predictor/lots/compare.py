"""Lots of one box compared: flow against a reference, shape of the curve, lots in general, seasons."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from predictor.domain.control import Control, Lever, Sprockets
from predictor.domain.drill import CatchDefaults, SeedBox
from predictor.domain.trials import Trials
from predictor.errors import InputError
from predictor.files.cells import near
from predictor.files.trials import as_trials
from predictor.lots.against import (
    Ratios,
    common_ratios,
    fit_common,
    fit_own,
    own_ratios,
    same_shape,
)
from predictor.lots.ratios import exp_or_none
from predictor.lots.results import Curves, CurveShape, LeftOut, Lot, LotComparison
from predictor.lots.seasons import Seasons, compare_seasons, cv_limits, cv_of
from predictor.lots.spread import Predicted, Spread, lots_at_setting, lots_in_general


def compare_lots(
    trials: Any,
    box: str | SeedBox | None = None,
    *,
    reference: str | None = None,
    target_output: float | None = None,
    level: float = 0.95,
) -> LotComparison:
    """Compare the lots of one box: how freely each flows, and what that says about the next.

    Noise is taken as one coefficient of variation, so the work is done on log outputs:
    `log y = level of the lot + log(opening - dead setting) + noise`, one dead setting for all lots. Whether that
    holds is tested by the extra sum of squares against a dead setting for each lot; where it does not, each lot has
    a curve of its own and ratios are given at a named setting.

    Parameters
    ----------
    trials : Trials or DataFrame
    box : str or SeedBox, optional
        May be left out where the trials know one box only.
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
        No such box or lot, a box not named where there are several, or a target or level that is none.

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
    >>> round(found.lot("B").ratio, 2), found.lot("B").setting
    (1.2, 16.6)
    """
    data = as_trials(trials)
    if not 0 < level < 1:
        raise InputError(f"A level lies between 0 and 1, such as 0.95; got {level:g}.")
    if target_output is not None and not (math.isfinite(target_output) and target_output > 0):
        raise InputError(f"A target output is a number above 0, grams per row per turn; got {target_output}.")
    name, control = _box_of(data, box)
    mine = data.of(box=name)
    used, label, left_out, warnings = _usable(mine, control)
    if len(used) == 0:
        return _nothing(name, level, left_out, warnings)
    names, lot = np.unique(used.lot, return_inverse=True)
    which = _reference(names, lot, reference, mine)
    return _Comparison(used, control, label, names, lot, which, level, target_output, warnings).result(name, left_out)


class _Comparison:
    """One comparison under way: the fits, and the rows they give."""

    def __init__(self, used, control, label, names, lot, reference, level, target_output, warnings):
        self.used, self.control, self.label, self.names, self.lot = used, control, label, names, lot
        self.reference, self.level, self.warnings = reference, level, list(warnings)
        self.log_output = np.log(used.output)
        opening = used.opening
        catch = used.drill.catch if used.drill is not None else CatchDefaults()
        # a reading rounded to the scale's step has a standard deviation of step / sqrt(12)
        self.floor = floor = float(np.mean(np.minimum(catch.scale_resolution_g / used.catch_g, 1.0) ** 2)) / 12
        lowest = control.lowest_opening if control is not None else 0.0
        span = control.span if control is not None else float(np.abs(opening).max()) or 1.0
        self.common = fit_common(
            self.log_output, opening, lot, lowest=min(lowest, opening.min()), span=span, floor=floor, level=level
        )
        own = fit_own(self.log_output, opening, lot, floor=floor)
        self.test = same_shape(self.common, own)
        self.same = None if self.test is None else self.test.p >= 1 - level
        self.own = own if self.same is False else None
        self.usual = _most_caught(opening[lot == reference])
        self.target, self.target_given = target_output, target_output is not None
        named = used.target_g / (used.turns * used.rows)
        if self.target is None and np.isfinite(named).any():
            self.target, self.target_given = float(named[np.isfinite(named)][-1]), True

    def result(self, box: str, left_out) -> LotComparison:
        goal = math.log(self.target) if self.target_given else None
        if self.own is not None:
            ratios = own_ratios(self.own, self.common, self.reference, goal, self.usual, self.level)
        else:
            ratios = common_ratios(self.common, self.reference, goal, self.usual, self.level)
        if self.target is None:
            self.target = float(self.curves.mean(self.reference, np.array(self.usual)))
        spread, predicted = self._spread()
        used_at = float(ratios.need[self.reference]) if math.isfinite(ratios.need[self.reference]) else None
        variance, df = self.common.variance, self.common.df
        if self.own is not None:
            variance, df = self.own.variance, self.own.df
        limits = (None, None) if variance is None else cv_limits(variance, df, self.level)
        seasons = self._seasons()
        self._warn(seasons)
        return LotComparison(
            box=box,
            reference=str(self.names[self.reference]),
            reference_setting=None if used_at is None else self.show(used_at),
            target_output=self.target,
            target_given=self.target_given,
            level=self.level,
            adjustment="" if ratios.critical is None else ratios.critical.adjustment,
            cv=None if variance is None else cv_of(variance),
            cv_lower=limits[0],
            cv_upper=limits[1],
            df=df,
            shape=self._shape(),
            spread=spread,
            seasons=seasons,
            lots=self._rows(ratios, predicted),
            catches_used=len(self.used),
            left_out=left_out,
            warnings=tuple(self.warnings),
            curves=self.curves,
        )

    @property
    def curves(self) -> Curves:
        names = tuple(str(name) for name in self.names)
        control = self.control if self.label is None else Sprockets({self.label: 1.0})
        return Curves(self.used.opening, self.used.output, self.lot, names, self.common, self.own, control)

    def show(self, opening: float) -> float | str | None:
        """A setting as the control shows it, on one of its steps; None off the scale."""
        control = self.control
        if not math.isfinite(opening) or self.label is not None:
            return None
        if control is None:
            return float(f"{opening:.3g}")
        off = isinstance(control, Lever) and not control.has(control.opening(opening))
        return None if off else control.nearest(opening).value

    def _spread(self) -> tuple[Spread | None, Predicted | None]:
        if self.own is None:
            return lots_in_general(self.common, self.lot, self.names, self.reference, level=self.level)
        return lots_at_setting(
            self.common, self.own, self.lot, self.names, self.reference, self.usual, level=self.level
        )

    def _shape(self) -> CurveShape:
        reason = ""
        if self.test is None:
            two = int((np.bincount(self.lot) > 1).sum())
            reason = (
                "There is one lot only."
                if len(self.names) == 1
                else "That needs two lots caught at two settings each, with catches to spare"
                + ("." if two else "; here each lot was caught once.")
            )
        if self.own is not None or self.label is not None:
            return CurveShape(self.same, self.test, None, None, None, self.label is not None, reason)
        low, high = (_finite(end) for end in self.common.dead_limits(self.level))
        return CurveShape(self.same, self.test, self.common.dead, low, high, self.common.assumed, reason)

    def _seasons(self) -> Seasons:
        if self.own is not None:
            lines = self.own.shape.lines
            bend = np.where(np.isnan(lines.slope), 0.0, lines.slope)[self.lot]
            away = self.used.opening - self.own.shape.middle[self.lot]
            x = away / (1 + bend * away)
            return compare_seasons(
                self.log_output - np.log1p(bend * away) + bend * x,
                x,
                self.lot,
                self.lot,
                self.used.season,
                floor=self.floor,
                level=self.level,
            )
        group = np.zeros(len(self.lot), dtype=int)
        return compare_seasons(
            self.common.z, self.common.x, self.lot, group, self.used.season, floor=self.floor, level=self.level
        )

    def _rows(self, ratios: Ratios, predicted: Predicted | None) -> tuple[Lot, ...]:
        opening, lots = self.used.opening, len(self.names)
        first, last = np.full(lots, np.inf), np.full(lots, -np.inf)
        np.minimum.at(first, self.lot, opening)
        np.maximum.at(last, self.lot, opening)
        seasons = _seasons_of(self.lot, self.used.season, lots)
        count = np.bincount(self.lot)
        rows = []
        for k in range(lots):
            known = math.isfinite(ratios.half[k])
            low, high = self._limits(ratios.need_low[k], ratios.need_high[k])
            dead = None
            if self.own is not None and self.own.shape.bend[k] > 0:
                dead = float(self.own.shape.middle[k] - 1 / self.own.shape.bend[k])
            rows.append(
                Lot(
                    lot=str(self.names[k]),
                    seasons=seasons[k],
                    catches=int(count[k]),
                    settings=(self._as_caught(first[k]), self._as_caught(last[k])),
                    ratio=exp_or_none(ratios.log_ratio[k]),
                    lower=exp_or_none(ratios.log_ratio[k] - ratios.half[k]) if known else None,
                    upper=exp_or_none(ratios.log_ratio[k] + ratios.half[k]) if known else None,
                    at_setting=self._as_caught(ratios.at[k]) if math.isfinite(ratios.at[k]) else None,
                    setting=self.show(ratios.need[k]),
                    setting_lower=low,
                    setting_upper=high,
                    against_average=None if predicted is None else float(predicted.against_average[k]),
                    unusual=bool(predicted is not None and predicted.unusual[k]),
                    dead_opening=dead,
                    notes=self._notes(k, ratios, first, last, count),
                )
            )
        return tuple(sorted(rows, key=lambda row: (row.seasons[0], row.lot)))

    def _as_caught(self, opening: float) -> float | str:
        if self.label is not None:
            return self.label
        return float(f"{opening:.10g}") if self.control is None else self.control.at(opening).value

    def _limits(self, low: float, high: float):
        ends = [self.show(low), self.show(high)]
        if isinstance(self.control, Lever) and self.control.more_is == "lower":
            ends.reverse()
        return ends

    def _notes(self, k, ratios, first, last, count) -> tuple[str, ...]:
        notes = []
        if count[k] == 1:
            notes.append("one catch only")
        r = self.reference
        if k != r and (last[k] < first[r] or first[k] > last[r]):
            # a shared shape carries the comparison over the gap; where shapes differ nothing does
            notes.append("no setting in common with the reference: the comparison leans on the fitted line")
        if math.isfinite(ratios.need[k]):
            if isinstance(self.control, Lever) and self.show(ratios.need[k]) is None:
                end = "top" if ratios.need[k] > self.control.lowest_opening + self.control.span / 2 else "bottom"
                notes.append(f"its setting lies beyond the {end} of the scale")
            elif isinstance(self.control, Sprockets):
                position = self.control.at(ratios.need[k]).opening
                if abs(math.log(max(ratios.need[k], 1e-9) / position)) > 0.1:
                    notes.append("no chain position gives this output within 10 %: nearest named")
        return tuple(notes)

    def _warn(self, seasons: Seasons) -> None:
        if self.common.assumed and self.label is None:
            self.warnings.append(
                "The catches do not place the dead setting, so it is taken near the control's zero, give or take a "
                "tenth of the scale. Ratios at one setting do not depend on it; settings to start at do."
            )
        if self.common.variance is None:
            self.warnings.append("No catch was repeated: ratios have no limits. Catch one lot twice at one setting.")
        if seasons.drift is not None and seasons.drift.shown:
            self.warnings.append("Ratios between lots of different seasons contain the drift between those seasons.")


def _box_of(data: Trials, box) -> tuple[str, Control | None]:
    if isinstance(box, SeedBox):
        return box.name, box.control
    names = sorted(set(data.box.tolist()))
    if box is None:
        if len(names) != 1:
            raise InputError(f"Name the box to compare: the trials know {', '.join(names) or 'none'}.")
        box = names[0]
    control = None
    if data.drill is not None:
        control = next((each.control for each in data.drill.boxes if each.name == box), None)
    if box not in names:
        raise InputError(f"The trials know no box {box!r}. Boxes in them: {', '.join(names) or 'none'}.")
    return box, control


def _usable(mine: Trials, control) -> tuple[Trials, str | None, tuple[LeftOut, ...], list[str]]:
    """The catches that count, the one label they are compared at where labels have no order, the rest, warnings."""
    label, left_out, warnings = None, [], []

    def leave(mask, reason):
        if mask.any():
            lines = tuple(int(line) for line in mine.line[mask] if line > 0)
            left_out.append(LeftOut(reason, int(mask.sum()), lines))

    leave(~mine.use, "marked not to be used")
    leave(mine.use & ~mine.charged, "meters not charged")
    leave(mine.use & mine.charged & ~mine.counts, "nothing caught")
    known, opening = mine.counts, mine.opening
    if control is not None:  # trials read without this control took labels that are numbers for openings
        found = {text: control.find(text) for text in set(mine.setting.tolist())}
        openings = {text: np.nan if each is None else each.opening for text, each in found.items()}
        opening = np.array([openings[text] for text in mine.setting.tolist()], dtype=float)
    placed = known & np.isfinite(opening)
    if known.any() and not placed.any():
        # labels without drive ratios cannot be put on one scale: compare where most lots were caught
        label = _widest_label(mine.setting[known], mine.lot[known])
        placed = known & (mine.setting == label)
        opening = np.where(placed, 1.0, np.nan)
        warnings.append(
            f"Without drive ratios (drill.toml) chain positions have no order: lots are compared at {label} only, "
            "and no setting to start at can be given."
        )
        leave(known & ~placed, f"not caught at {label}")
    else:
        leave(known & ~placed, "setting unknown to the drill")
    return replace(mine, opening=opening).where(placed), label, tuple(left_out), warnings


def _widest_label(setting, lot) -> str:
    labels, code = np.unique(setting, return_inverse=True)
    lots = [len(set(lot[code == k].tolist())) for k in range(len(labels))]
    return str(labels[int(np.argmax(lots))])


def _nothing(box, level, left_out, warnings) -> LotComparison:
    return LotComparison(
        box, None, None, None, False, level, "", None, None, None, 0, None, None, None, (), 0, left_out,
        (*warnings, "No catch of this box counts, so there is nothing to compare."),
    )  # fmt: skip


def _reference(names, lot, wanted: str | None, mine: Trials) -> int:
    if wanted is None:
        return int(np.bincount(lot).argmax())
    found = np.flatnonzero(names == wanted)
    if len(found):
        return int(found[0])
    if wanted in mine.lot.tolist():
        raise InputError(f"No catch of lot {wanted} counts, so it cannot be the reference.")
    like = near(wanted, [str(name) for name in names])
    meant = f" Did you mean {like}?" if like else ""
    shown = ", ".join(str(name) for name in names[:12]) + (" ..." if len(names) > 12 else "")
    raise InputError(f"No lot {wanted!r} in this box.{meant} Lots: {shown}.")


def _most_caught(opening: np.ndarray) -> float:
    """The opening caught at most; among equals the one nearest the middle."""
    values, count = np.unique(opening, return_counts=True)
    best = values[count == count.max()]
    return float(best[np.argmin(np.abs(best - np.median(opening)))])


def _seasons_of(lot, season, lots: int) -> list[tuple[str, ...]]:
    found: list[list[str]] = [[] for _ in range(lots)]
    labels, code = np.unique(season, return_inverse=True)
    for key in np.unique(lot.astype(np.int64) * len(labels) + code):
        found[key // len(labels)].append(str(labels[key % len(labels)]))
    return [tuple(each) for each in found]


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
