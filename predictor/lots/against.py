"""Flow of each lot against a reference lot, and the setting each would need, with limits that hold together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from predictor.lots.parallel import Shape, fit_shape, height, lean, lot_means
from predictor.lots.ratios import Critical, FTest, compare_fits, fieller, many_to_one_critical, t_critical

# Ordinary knowledge where catches cannot place the dead setting: near the control's zero, give or take a tenth of
# its range (common practice, no source).
DEAD_SPREAD = 0.1


@dataclass(frozen=True)
class CommonCurve:
    """One curve shape for all lots: height f(x) = log(1 + bend (x - middle)), a level for each lot."""

    middle: float
    bend: float
    bend_var: float
    level: np.ndarray
    count: np.ndarray
    centre: np.ndarray
    variance: float | None  # Of log outputs about the curve; None without repeats
    df: int
    ss: float
    assumed: bool  # The dead setting was assumed: the catches do not place it
    z: np.ndarray  # Log output made linear about the curve, and its covariate; x is 0 where the curve is assumed
    x: np.ndarray

    @property
    def dead(self) -> float:
        """Opening at which the fitted line reaches zero output."""
        return self.middle - 1 / self.bend

    def dead_limits(self, level: float) -> tuple[float, float]:
        """Limits of the dead setting; a side the catches do not bound is infinite."""
        if self.variance is None and not self.assumed:
            return -math.inf, math.inf
        critical = t_critical(self.df, level) if not self.assumed else t_critical(1e9, level)
        ratio = fieller(1.0, self.bend, var_top=0.0, var_bottom=self.bend_var, critical=critical)
        low, high = ratio.around
        return self.middle - high, self.middle - low


def fit_common(
    log_output, opening, lot, *, lowest: float, span: float, floor: float = 0.0, level: float = 0.95
) -> CommonCurve:
    """Fit one dead setting to all lots, or assume it where the catches do not place it.

    It counts as placed when the limits of the bend lie above zero: when the catches themselves show that a larger
    opening gives more.
    """
    n, count = len(lot), np.bincount(lot)
    fit = fit_shape(log_output, opening, lot, np.zeros(n, dtype=int))
    lines, bend = fit.lines, float(fit.bend[0])
    variance = max(lines.ss / lines.df, floor) if lines.df >= 1 else None
    if variance is not None and not math.isnan(bend):
        bend_var = variance / float(lines.spread[0])
        if bend - t_critical(lines.df, level) * math.sqrt(bend_var) > 0:
            middle = float(fit.middle[0])
            x = lean(opening, middle, bend)
            z = log_output - height(opening, middle, bend) + bend * x
            return CommonCurve(
                middle, bend, bend_var, lines.level, count, lines.centre, variance, lines.df, lines.ss, False, z, x
            )
    middle = float(opening.mean())
    dead = min(lowest, float(opening.min()) - span * DEAD_SPREAD / 2)
    bend = 1 / (middle - dead)
    z = log_output - height(opening, middle, bend)
    centre = lot_means(lean(opening, middle, bend), lot, count)
    bend_var = (DEAD_SPREAD * span * bend**2) ** 2
    mean = lot_means(z, lot, count)
    return CommonCurve(middle, bend, bend_var, mean, count, centre, variance, lines.df, lines.ss, True, z, np.zeros(n))


@dataclass(frozen=True)
class OwnCurves:
    """A curve shape for each lot, where lots do not share one."""

    shape: Shape  # Each lot is its own group
    variance: float  # Of log outputs about the curves
    df: int
    first: np.ndarray  # Lowest and highest opening that each lot was caught at
    last: np.ndarray

    def at(self, lot: int, opening: float) -> tuple[float, float]:
        """Log output of a lot at an opening, and how it answers to the lot's bend, about the lot's own centre."""
        middle, bend = self.shape.middle[lot], self.shape.bend[lot]
        if math.isnan(bend):
            return float(self.shape.lines.level[lot]), 0.0
        # reaching the dead setting a line tells nothing more; one millionth of the output stands for zero
        rise = max(bend * (opening - middle), -1 + 1e-6)
        answer = (opening - middle) / (1 + rise)
        return float(self.shape.lines.level[lot] + math.log1p(rise)), float(answer - self.shape.lines.centre[lot])


def fit_own(log_output, opening, lot, *, floor: float = 0.0) -> OwnCurves | None:
    """A dead setting for each lot caught at two or more openings; None with no degrees of freedom left."""
    fit = fit_shape(log_output, opening, lot, lot)
    if fit.lines.df < 1:
        return None
    first, last = np.full(len(fit.middle), np.inf), np.full(len(fit.middle), -np.inf)
    np.minimum.at(first, lot, opening)
    np.maximum.at(last, lot, opening)
    return OwnCurves(fit, max(fit.lines.ss / fit.lines.df, floor), fit.lines.df, first, last)


def same_shape(common: CommonCurve, own: OwnCurves | None) -> FTest | None:
    """Test of a common dead setting against each lot its own: the extra sum of squares."""
    if own is None or int((~np.isnan(own.shape.bend)).sum()) < 2:
        return None
    return compare_fits(common.ss, common.df, own.shape.lines.ss, own.df)


@dataclass(frozen=True)
class Ratios:
    """Log ratios to the reference lot, arrays of shape (L,); NaN where a figure cannot be given."""

    log_ratio: np.ndarray  # Estimate, and half the width of its limits
    half: np.ndarray
    at: np.ndarray  # Opening at which a ratio holds; NaN where it holds at any setting
    need: np.ndarray  # Opening that gives the wanted output, and its limits, infinite where not bounded
    need_low: np.ndarray
    need_high: np.ndarray
    critical: Critical | None


def common_ratios(curve: CommonCurve, reference: int, log_target: float | None, usual: float, level: float) -> Ratios:
    """Ratios and settings where all lots share one curve: one ratio for every setting."""
    lots = len(curve.level)
    ratio = curve.level - curve.level[reference]
    apart = curve.centre - curve.centre[reference]
    noise = curve.variance
    critical, half = None, np.full(lots, np.nan)
    others = np.arange(lots) != reference
    if noise is not None and lots > 1:
        bend_sd = math.sqrt(curve.bend_var)
        own = max(noise, 1e-24) / curve.count[others]
        shared = np.column_stack(
            [np.full(others.sum(), math.sqrt(max(noise, 1e-24) / curve.count[reference])), apart[others] * bend_sd]
        )
        critical = many_to_one_critical(own, shared, df=curve.df, level=level)
        half[others] = critical.value * np.sqrt(own + (shared**2).sum(axis=1))
    own_target = log_target is None
    goal = curve.level[reference] + float(height(usual, curve.middle, curve.bend)) if own_target else log_target
    size = np.exp(np.clip(goal - curve.level, -600, 600))
    need = curve.middle + (size - 1) / curve.bend
    low, high = np.full(lots, -np.inf), np.full(lots, np.inf)
    if critical is not None or (noise is not None and not own_target):
        value = critical.value if critical else t_critical(curve.df, level)
        answer = curve.centre
        var = noise / curve.count
        if own_target:
            answer = apart + float(lean(usual, curve.middle, curve.bend))
            var = var + noise / curve.count[reference]
        for k in range(lots):
            found = fieller(
                size[k] - 1,
                curve.bend,
                var_top=size[k] ** 2 * (var[k] + answer[k] ** 2 * curve.bend_var),
                var_bottom=curve.bend_var,
                cov=size[k] * answer[k] * curve.bend_var,
                critical=value,
            )
            low[k], high[k] = (curve.middle + end for end in found.around)
    if own_target:
        low[reference] = high[reference] = usual
    return Ratios(ratio, half, np.full(lots, np.nan), need, low, high, critical)


def own_ratios(
    own: OwnCurves, common: CommonCurve, reference: int, log_target: float | None, usual: float, level: float
) -> Ratios:
    """Ratios at a named setting and settings needed, where each lot has a curve of its own.

    The setting is the reference lot's usual one where the lot was caught on both sides of it, else the nearest end of
    what the lot was caught at. A lot with one setting is compared there, and its own need is read off the common curve.
    """
    lines, bends = own.shape.lines, own.shape.bend
    lots = len(lines.level)
    at = np.clip(usual, own.first, own.last)
    if math.isnan(bends[reference]):
        at = np.full(lots, own.first[reference])
    spread = np.where(np.isnan(bends), 1.0, lines.spread)
    levels, refs, own_var, shared = np.empty(lots), np.empty(lots), np.empty(lots), np.empty((lots, 2))
    for k in range(lots):
        levels[k], answer = own.at(k, at[k])
        own_var[k] = own.variance * (1 / lines.count[k] + answer**2 / spread[k])
        refs[k], answer = own.at(reference, at[k])
        shared[k] = math.sqrt(own.variance) * np.array(
            [1 / math.sqrt(lines.count[reference]), answer / math.sqrt(spread[reference])]
        )
    others = np.arange(lots) != reference
    half = np.full(lots, np.nan)
    critical = many_to_one_critical(np.maximum(own_var[others], 1e-24), shared[others], df=own.df, level=level)
    half[others] = critical.value * np.sqrt(own_var[others] + (shared[others] ** 2).sum(axis=1))
    goal, answer = own.at(reference, usual)
    goal_var = own.variance * (1 / lines.count[reference] + answer**2 / spread[reference])
    if log_target is not None:
        goal, goal_var = log_target, 0.0
    need, low, high = _own_needs(own, common, spread, goal, goal_var, critical.value)
    if log_target is None:
        need[reference] = low[reference] = high[reference] = usual
    return Ratios(levels - refs, half, at, need, low, high, critical)


def _own_needs(own, common, spread, goal, goal_var, critical):
    lines, lots = own.shape.lines, len(own.shape.lines.level)
    need, low, high = np.empty(lots), np.full(lots, -np.inf), np.full(lots, np.inf)
    for k in range(lots):
        bend, middle = own.shape.bend[k], own.shape.middle[k]
        if math.isnan(bend):
            need[k] = common.middle + math.expm1(min(goal - common.level[k], 600.0)) / common.bend
            continue
        size = math.exp(min(max(goal - lines.level[k], -600.0), 600.0))
        bend_var = own.variance / spread[k]
        var = goal_var + own.variance / lines.count[k] + lines.centre[k] ** 2 * bend_var
        found = fieller(
            size - 1,
            bend,
            var_top=size**2 * var,
            var_bottom=bend_var,
            cov=size * lines.centre[k] * bend_var,
            critical=critical,
        )
        need[k] = middle + found.estimate if bend > 0 else np.nan
        low[k], high[k] = (middle + end for end in found.around)
    return need, low, high
