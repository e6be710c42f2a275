"""A curve for each lot: one dead setting for all of them or one each, and a test between the two."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from predictor.domain.codes import Codes
from predictor.domain.control import Floats
from predictor.domain.trials import Flags
from predictor.lots.catches import Catches
from predictor.lots.limits import FTest, compare_fits, fieller, t_critical
from predictor.lots.parallel import Alike, ParallelLines, lot_means, parallel_lines, sums_of

# The search for a dead setting starts on this grid, so that a second hollow in the sum of squares cannot trap it. Then
# it goes on by Newton's steps, and by halving where one of these would leave the two neighbours on the grid.
GRID = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 17)[1:-1])
MOST_STEPS = 60
STILL = 1e-15
# A step of Newton's as short as this share of the range leaves an error of about its square.
SHORT = 1e-10
# How near the dead setting may come to a caught opening, as a share: at it the log of the output has no value.
NEAREST = 1 - 1e-9
# Where catches cannot place the dead setting, it is assumed near the control's zero, within about a tenth of its range
# (common practice, no source).
DEAD_SPREAD = 0.1
# Below its dead setting a curve has no log output; one millionth of the output at the middle stands for zero.
LEAST_RISE = -1 + 1e-6


@dataclass(frozen=True, eq=False)
class LotCurves:
    """A curve for each lot: log output = level + log(1 + bend (opening - middle)), zero output at middle - 1/bend."""

    catches: Catches
    lines: ParallelLines  # Log output made linear about the curves: level, catches and mean covariate of each lot
    middle: Floats  # Of each lot
    bend: Floats
    bend_var: Floats
    shared: bool  # Whether all lots have one bend
    assumed: bool  # Whether the dead setting was assumed, because the catches do not place it
    borrowed: Flags  # Lots caught at one setting only, which take the common curve where others have their own
    variance: float | None  # Of log outputs about the curves; None without repeats
    z: Floats  # Log output of each catch made linear about the curves, and its covariate
    x: Floats

    @cached_property
    def group(self) -> Codes:
        """Which slope each catch goes by."""
        return np.zeros_like(self.catches.lot) if self.shared else self.catches.lot

    @cached_property
    def by_season(self) -> ParallelLines:
        """The same lines with a level for each lot in each season."""
        return parallel_lines(self.z, self.x, self.catches.cells[2], self.group)

    def at(self, lot: int | slice | Codes, opening: float | Floats) -> tuple[Floats, Floats]:
        """Log output of lots at openings, and how it answers to the bend, about each lot's own centre."""
        away = opening - self.middle[lot]
        rise = np.maximum(self.bend[lot] * away, LEAST_RISE)
        return self.lines.level[lot] + np.log1p(rise), away / (1 + rise) - self.lines.centre[lot]

    def output(self, lot: int, opening: Floats) -> Floats:
        """Fitted output of a lot at openings; NaN at and below its dead setting."""
        rise = 1 + self.bend[lot] * (opening - self.middle[lot])
        return np.where(rise > 0, np.exp(self.lines.level[lot]) * rise, np.nan)

    def dead(self, lot: int) -> float:
        """Opening at which the curve of a lot reaches zero output."""
        return float(self.middle[lot] - 1 / self.bend[lot])

    def dead_limits(self, level: float) -> tuple[float, float]:
        """Limits of the dead setting that lots share; a side that the catches do not bound is infinite."""
        critical = t_critical(1e9 if self.assumed else self.lines.df, level)
        bend, middle = float(self.bend[0]), float(self.middle[0])
        low, high = fieller(1.0, bend, var_top=0.0, var_bottom=float(self.bend_var[0]), critical=critical).around
        return middle - high, middle - low


def fit_common(catches: Catches, level: float) -> LotCurves:
    """Fit one dead setting to all lots, or assume it where the catches do not place it.

    It counts as placed when the limits of the bend lie above zero: when the catches themselves show that a larger
    opening gives more. With one degree of freedom that is mostly chance: two catches that happened to be alike.
    """
    middles, bends, lines, z, x = _fit(catches)
    variance = max(lines.ss / lines.df, catches.floor) if lines.df >= 1 else None
    middle, bend = float(middles[0]), float(bends[0])
    bend_var = math.nan if variance is None or math.isnan(bend) else variance / float(lines.spread[0])
    placed = lines.df >= 2 and bend - t_critical(lines.df, level) * math.sqrt(bend_var) > 0
    if not placed:
        lowest, span = 0.0, float(np.abs(catches.opening).max()) or 1.0
        if catches.control is not None:
            lowest, span = catches.control.lowest_opening, catches.control.span
        bend = 1 / (middle - min(lowest, float(catches.opening.min()) - span * DEAD_SPREAD / 2))
        bend_var = (DEAD_SPREAD * span * bend**2) ** 2
        away = catches.opening - middle
        z, x = catches.log_output - np.log1p(bend * away), np.zeros(len(away))
        mean, centre = (lot_means(each, catches.lot, lines.count) for each in (z, away / (1 + bend * away)))
        lines = replace(lines, level=mean, centre=centre)
    lots = len(catches.called)
    middles, bends, bend_vars = (np.full(lots, each) for each in (middle, bend, bend_var))
    none = np.zeros(lots, dtype=bool)
    return LotCurves(catches, lines, middles, bends, bend_vars, True, not placed, none, variance, z, x)


def fit_own(common: LotCurves, before: LotCurves | None = None) -> LotCurves | None:
    """Fit a dead setting for each lot caught at two or more openings; None with no degrees of freedom left.

    A lot that is called as one of those fitted `before` has the same catches, and keeps its bend.
    """
    catches = common.catches
    known = np.full(len(catches.called), np.nan)
    if before is not None:
        bends = dict(zip(before.catches.names, np.where(before.borrowed, np.nan, before.bend).tolist(), strict=True))
        known = np.array([bends.get(name, math.nan) for name in catches.names])
    middle, bend, lines, z, x = _fit(catches, known)
    if lines.df < 1:
        return None
    variance = max(lines.ss / lines.df, catches.floor)
    borrowed = np.isnan(bend)
    spread = np.where(borrowed, 1.0, lines.spread)
    pairs = (
        *((lines.level, common.lines.level), (lines.centre, common.lines.centre), (middle, common.middle)),
        *((bend, common.bend), (variance / spread, common.bend_var)),
    )
    level, centre, middle, bend, bend_var = (np.where(borrowed, theirs, own) for own, theirs in pairs)
    lines = replace(lines, level=level, centre=centre)
    return LotCurves(catches, lines, middle, bend, bend_var, False, False, borrowed, variance, z, x)


def same_shape(common: LotCurves, own: LotCurves | None) -> FTest | None:
    """Test a common dead setting against one for each lot, by the extra sum of squares; None where it cannot be."""
    if own is None or int((~own.borrowed).sum()) < 2:
        return None
    return compare_fits(common.lines.ss, common.lines.df, own.lines.ss, own.lines.df)


def _fit(catches: Catches, known: Floats | None = None) -> tuple[Floats, Floats, ParallelLines, Floats, Floats]:
    """Fit log output = level of the lot + log(1 + bend (opening - middle)) by least squares.

    Gives middle and bend of each group of lots, NaN for the bend of one caught at one opening only, and the lines
    through the catches made linear about the curves, with their responses and covariate.

    The bend is the one parameter that is not linear. It is profiled: for each bend the levels are means, so a whole
    log costs one pass over its openings a trial bend, for all groups at once. Bends that are `known`, where each lot is
    a group, are not looked for.

    Source: Seber and Wild (1989), Nonlinear Regression, sections 5.4 and 14.7 (one conditionally nonlinear parameter).
    """
    log_output, lot = catches.log_output, catches.lot
    group = np.zeros_like(lot) if known is None else lot
    count, size = np.bincount(lot), np.bincount(group)
    middle = lot_means(catches.opening, group, size)
    if known is None:
        bend = np.array([_common_bend(catches.alike, float(middle[0]))])
    else:
        bend, new = known.copy(), np.flatnonzero(np.isnan(known))
        bend[new] = _own_bends(catches.alike.of_lots(new) if len(new) < len(known) else catches.alike, middle[new])
    away = catches.opening - middle[group]
    rise = bend[group] * away
    x, flat = away / (1 + rise), log_output - np.log1p(rise)
    lines = parallel_lines(flat + bend[group] * x, x, lot, group)
    # at an edge of the search the lines leave the curve, so levels are taken on the curve
    lines = replace(lines, level=lot_means(flat, lot, count))
    return middle, np.where(np.isnan(lines.slope), np.nan, bend), lines, flat + bend[group] * x, x


@dataclass(frozen=True, eq=False)
class _Search:
    """A search for the bends at which sums of squares are least, for all groups of lots at once."""

    down: Floats  # Just short of these two the log output of some catch has no value
    up: Floats

    @classmethod
    def between(cls, low: Floats, high: Floats, middle: Floats) -> _Search:
        """By the lowest and highest opening of each group, less its middle."""
        moves = (high - low) > 1e-12 * np.maximum(np.abs(middle), 1e-300)
        down = np.where(moves, -1 / np.where(high > 0, high, 1.0), -1e-3)
        return cls(down, np.where(moves, -1 / np.where(low < 0, low, -1.0), 1e-3))

    def bend_at(self, share: float | Floats) -> Floats:
        """The bend at a share of the way from 0 to either end."""
        return np.where(share >= 0, share * self.up, -share * self.down)

    def least(self, loss: Callable[[Floats], Floats], slopes: Callable[[Floats], tuple[Floats, Floats]]) -> Floats:
        """The bends, from the loss at any and from what Newton's step needs: half its slope, downwards, and hollow."""
        best = np.array([loss(self.bend_at(share)) for share in GRID]).argmin(axis=0)
        edge = np.concatenate([[-NEAREST], GRID, [NEAREST]])
        # where the sum of squares falls to the very end, the first step finds that out
        first = np.where(best == 0, 0, np.where(best == len(GRID) - 1, best + 2, best + 1))
        left, right, bend = (self.bend_at(edge[each]) for each in (best, best + 2, first))
        for _ in range(MOST_STEPS):
            rising, hollow = slopes(bend)
            left, right = np.where(rising > 0, bend, left), np.where(rising > 0, right, bend)
            with np.errstate(divide="ignore", invalid="ignore"):
                new = bend + rising / hollow
            inside = (new >= left) & (new <= right)
            new = np.where(inside, new, (left + right) / 2)
            still, bend = np.abs(new - bend) <= np.where(inside, SHORT, STILL) * (self.up - self.down), new
            if still.all():
                break
        return bend


def _common_bend(few: Alike, middle: float) -> float:
    """The bend of all lots together at which the sum of squares is least.

    Each opening then has one rise, so logs are taken of openings, not of catches.
    """
    at, count = few.openings - middle, sums_of(few.weight, few.place)
    given = sums_of(few.weight * few.value, few.place, len(at))

    def means(values: Floats) -> Floats:
        return few.sums(values[few.place]) / few.count

    def loss(bend: Floats) -> Floats:
        rise = np.log1p(bend * at)
        return np.array([rise @ (count * rise - 2 * given) - few.count @ means(rise) ** 2])

    def slopes(bend: Floats) -> tuple[Floats, Floats]:
        turn, rise = at / (1 + bend * at), np.log1p(bend * at)
        rest = given - count * rise + sums_of(few.weight * means(rise)[few.lot], few.place)
        hollow = count @ turn**2 - few.count @ means(turn) ** 2 + rest @ turn**2
        return np.array([rest @ turn]), np.array([hollow])

    return float(_Search.between(at[:1], at[-1:], np.array([middle])).least(loss, slopes)[0])


def _own_bends(few: Alike, middle: Floats) -> Floats:
    """The bend of each lot by itself at which its sum of squares is least."""
    at, twice = few.openings[few.place] - middle[few.lot], 2 * few.value
    search = _Search.between(np.minimum.reduceat(at, few.starts), np.maximum.reduceat(at, few.starts), middle)

    def loss(bend: Floats) -> Floats:
        rise = np.log1p(bend[few.lot] * at)
        return few.sums(rise * (rise - twice)) - few.sums(rise) ** 2 / few.count

    def slopes(bend: Floats) -> tuple[Floats, Floats]:
        rise = bend[few.lot] * at
        turn, rest = at / (1 + rise), few.centred(few.value - np.log1p(rise))
        turn_in, by_rest = few.centred(turn), rest * turn
        return few.sums(rest * turn_in), few.sums(turn_in**2 + by_rest * turn)

    return search.least(loss, slopes)
