"""Where to start with each lot, and with one not yet seen: settings by predicted flow, with limits.

A lot's own catches say how it flows, and so do the other lots, because lots of one box are alike. The prediction weighs
the two by how much catches scatter and how much lots differ. So the one catch of a lot does not move its setting
farther than it should, and a lot without catches starts as the average lot.

Source: Robinson (1991), Statistical Science 6, 15-32 (best linear unbiased prediction). How much lots differ is not
taken as known, but averaged over: see `random_levels.Ratios`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

from predictor.domain.codes import Codes, coded
from predictor.domain.control import Floats
from predictor.domain.trials import Flags
from predictor.lots.bends import BendNoise
from predictor.lots.flow import Asked
from predictor.lots.random_levels import OneWay, Ratios, one_way_of_estimates, ratios_without_repeats
from predictor.lots.season_levels import SeasonNoise
from predictor.lots.shapes import LotCurves

# Many lots leave little of the ratio of variances open, so it is taken at so many values beyond so many lots.
FEW_POINTS = {20: 40, 100: 12, 1000: 5}
# From so many degrees of freedom on, Student's t is normal to three digits.
NORMAL_DF = 1000
MOST_STEPS = 60
# A quantile is found to this share of its standard error.
NEAR_ENOUGH = 1e-6
# Ratios of variances of a smaller weight move no limit.
LEAST_WEIGHT = 1e-7
# Sizes of logs of outputs below this tell nothing.
LEAST_SIZE = 1e-9
# Stands for lots of which nothing is known: each then goes by its own catches.
ANY_RATIO = 1e12


@dataclass(frozen=True, eq=False)
class Starts:
    """Openings that give the wanted output, arrays of shape (rows + 1,); the last one is of a lot not yet seen.

    NaN where no opening gives it. Limits are of each by itself, and infinite where there are none.
    """

    need: Floats
    low: Floats
    high: Floats


def predict_starts(
    curves: LotCurves,
    common: LotCurves,
    fit: OneWay | None,
    asked: Asked,
    noise: SeasonNoise | None = None,
    bends: BendNoise | None = None,
) -> Starts:
    """Predict where each lot gives the wanted output, or what the reference lot gives at its usual opening.

    `fit` are the lots as random effects about the common curve. Without it each lot goes by its own catches alone, but
    where no catch was repeated: then it goes by what is usual for such a box.
    `noise` tells how much a lot shifts from season to season, `bends` how far shapes of lots may still differ.
    """
    r = asked.reference
    at = _average_need(curves, common, asked)
    height, answer = curves.at(slice(None), at)
    goal, relative = asked.log_output, None
    if goal is None:
        goal, relative = float(curves.at(r, asked.usual)[0] - height[r]), r
    known, about = _known(curves, fit, height, answer)
    place, size, own = _Seen.of(curves, height - about, answer, noise).predicted(known, relative)
    place = place if relative is not None else place + about
    curve = _Curve(np.append(curves.bend, common.bend[0]), np.append(curves.middle, common.middle[0]), at)
    need = curve.opening(goal - place @ known.weight)
    if curves.variance is None:
        low, high = np.full(len(need), -np.inf), np.full(len(need), np.inf)
    else:
        by_bend = _by_bend(curves, common, asked, need, own, answer, bends)
        told, few = known.weight > LEAST_WEIGHT, by_bend.shape[1]
        # the mixture of each row, once for each variance of bends
        size = np.sqrt(size[:, None, told] ** 2 + by_bend[:, :, None]).reshape(len(need), -1)
        place, weight = np.tile(place[:, told], few), np.tile(known.weight[told] / known.weight[told].sum() / few, few)
        tails = (0.5 + asked.level / 2, 0.5 - asked.level / 2)
        ends = (_quantile(tail, place, size, weight, known.df) for tail in tails)
        low, high = (curve.opening(goal - end) for end in ends)
    if fit is None:
        low[-1], high[-1] = -np.inf, np.inf
    if relative is not None:
        need[r] = low[r] = high[r] = asked.usual
    return Starts(need, np.where(np.isnan(low), -np.inf, low), np.where(np.isnan(high), np.inf, high))


@dataclass(frozen=True, eq=False)
class _Curve:
    """The curve of each row, by its height at one opening."""

    bend: Floats
    middle: Floats
    at: float

    def opening(self, rise: Floats) -> Floats:
        """Where the log output is so far above that at the opening; NaN where more opening does not give more."""
        with np.errstate(divide="ignore", invalid="ignore"):
            log_rise = np.log1p(self.bend * (self.at - self.middle)) + rise
            found = self.middle + np.expm1(np.clip(log_rise, -250, 250)) / self.bend
        return np.asarray(np.where(self.bend > 0, found, np.nan))


def _average_need(curves: LotCurves, common: LotCurves, asked: Asked) -> float:
    """Opening at which the average lot gives what is wanted, along the common curve; within what was caught."""
    goal = asked.log_output
    if goal is None:
        goal = float(curves.at(asked.reference, asked.usual)[0])
    level = float(common.lines.level[common.catches.once].mean())
    bend = float(common.bend[0])
    found = common.middle[0] + np.expm1(np.clip(goal - level, -250, 250)) / bend
    return float(np.clip(found, common.catches.opening.min(), common.catches.opening.max()))


def _known(curves: LotCurves, fit: OneWay | None, height: Floats, answer: Floats) -> tuple[Ratios, float]:
    """How lots differ at an opening, and the height that its means are about."""
    rows, variance = curves.catches.once, max(curves.variance or 0.0, 1e-24)
    if curves.variance is None and len(rows) > 1:
        about = float(height[rows].mean())
        known = ratios_without_repeats(height[rows] - about, curves.lines.count[rows], curves.catches.usual_scatter)
        return _enough(known, len(rows)), about
    if fit is None:
        one, none = np.ones(1), np.zeros(1)
        df = max(curves.lines.df, 1)
        return Ratios(ANY_RATIO * one, one, variance * one, none, none, df), float(height[rows].mean())
    about = fit.offset + float(height[0] - curves.lines.level[0])
    if not curves.shared:
        noise = variance / curves.lines.count + answer**2 * curves.bend_var
        fit = one_way_of_estimates(height[rows], noise[rows], within=variance, df_within=curves.lines.df)
        about = fit.offset
    return _enough(fit.ratios, len(rows)), about


def _enough(ratios: Ratios, lots: int) -> Ratios:
    """As many ratios of variances as starts need."""
    points = [few for many, few in FEW_POINTS.items() if lots > many]
    return ratios.thinned(points[-1]) if points else ratios


@dataclass(frozen=True, eq=False)
class _Seen:
    """What is seen of each row, and of a lot without catches as the last one."""

    height: Floats
    count: Floats  # Catches that the height is as good as; none of the last
    lot: Codes  # Lot of each row, whatever the season
    gone: Flags  # Not caught in the last season of the log, so that a season to come is predicted
    season: float  # Variance of a lot in a season, as a multiple of that of catches

    @classmethod
    def of(cls, curves: LotCurves, height: Floats, answer: Floats, noise: SeasonNoise | None) -> _Seen:
        catches, count = curves.catches, curves.lines.count.astype(float)
        if not curves.shared and curves.variance:
            count = 1 / (1 / count + answer**2 * curves.bend_var / curves.variance)
        rows = len(count)
        lot, last = np.zeros(rows, dtype=np.intp), np.zeros(rows, dtype=np.intp)
        lot[catches.lot] = coded(catches.whole)[1]
        np.maximum.at(last, catches.lot, catches.season)
        single = np.array([each.season is None for each in catches.called])
        gone = single & (last < last.max()) & (noise is not None)
        return cls(
            np.append(height, 0.0),
            np.append(count, 0.0),
            np.append(lot, lot.max() + 1),
            np.append(gone, False),
            0.0 if noise is None else noise.usual(),
        )

    def predicted(self, known: Ratios, relative: int | None) -> tuple[Floats, Floats, Floats]:
        """Place and size of each row's Student distribution by ratio, shape (rows, g), and how far it is its own.

        Lots differ by `ratio`, of which `season` is of the lot in its season. Heights are about the known mean, or
        less that of the row that they are relative to.
        """
        season = np.minimum(self.season, known.ratio)
        lasting, count = known.ratio - season, self.count[:, None]
        weight = count / (1 + count * season)
        total = np.zeros((int(self.lot.max()) + 1, len(season)))
        np.add.at(total, self.lot, weight)
        off = self.height[:, None] - np.where(count > 0, known.mean, self.height[:, None])
        moved = np.zeros_like(total)
        np.add.at(moved, self.lot, weight * off)
        left = (1 / (1 + lasting * total))[self.lot]
        own = np.where(self.gone[:, None], 0.0, season * weight)
        place = known.mean + own * off + (1 - own) * lasting * moved[self.lot] * left
        by_mean = (1 - own) * left
        lot_var = lasting * left
        variance = season * (1 - own) + (1 - own) ** 2 * lot_var
        if relative is not None:
            r = relative
            both = (1 - own) * (1 - own[r]) * np.where((self.lot == self.lot[r])[:, None], lot_var, 0.0)
            place, by_mean = place - place[r], by_mean - by_mean[r]
            variance = np.maximum(variance + variance[r] - 2 * both, 0.0)
        size = np.sqrt(known.within * (variance + by_mean**2 * known.mean_var))
        return place, size, 1 - ((1 - own) * left) @ known.weight


def _by_bend(
    curves: LotCurves,
    common: LotCurves,
    asked: Asked,
    need: Floats,
    own: Floats,
    answer: Floats,
    bends: BendNoise | None,
) -> Floats:
    """Variances of the log output at the opening of each row by an unsure bend, beside what is in its height.

    A column for each variance that bends of lots may have; one column where lots do not share a bend.
    """
    r, rows = asked.reference, np.arange(len(curves.bend))
    at, usual = curves.at(rows, np.nan_to_num(need[:-1], nan=asked.usual))[1], curves.at(r, asked.usual)[1]
    if not curves.shared:
        more = np.maximum(at**2 - answer**2, 0.0) * curves.bend_var
        if asked.log_output is None:
            more += max(float(usual**2 - answer[r] ** 2), 0.0) * curves.bend_var[r]
        return np.append(more, 0.0)[:, None]
    # what a row has of the other lots was seen about their centre, not about its own
    centre = np.append(curves.lines.centre, 0.0)
    shift = (1 - own) * (centre - float(centre[curves.catches.once].mean()))
    new = common.at(r, need[-1])[1] + centre[r]
    moved = np.append(at, new) + shift
    other, reference = (float(usual) + float(shift[r]), r) if asked.log_output is None else (0.0, None)
    together = ((moved - other) ** 2 * common.bend_var[0])[:, None]
    if bends is None:
        return np.asarray(together)
    return np.asarray(together + bends.of_difference(moved, other, reference)[:, None] * bends.points())


def _quantile(tail: float, place: Floats, size: Floats, weight: Floats, df: int) -> Floats:
    """A quantile of each row's mixture of Student distributions, by Newton's steps inside a bracket that closes."""
    size = np.maximum(size, LEAST_SIZE)
    middle = place @ weight
    reach = np.sqrt((size**2 + (place - middle[:, None]) ** 2) @ weight)
    far = abs(float(special.stdtrit(df, min(tail, 1 - tail) / 1e3)))
    low, high = (place - far * size).min(axis=1), (place + far * size).max(axis=1)
    value = middle + float(special.stdtrit(df, tail)) * reach
    for _ in range(MOST_STEPS):
        value = np.where((value > low) & (value < high), value, (low + high) / 2)
        score = (value[:, None] - place) / size
        below = (special.ndtr(score) if df >= NORMAL_DF else special.stdtr(df, score)) @ weight
        low, high = np.where(below < tail, value, low), np.where(below < tail, high, value)
        dense = ((1 + score**2 / df) ** (-(df + 1) / 2) / size) @ weight * _density(df)
        step = (below - tail) / np.maximum(dense, 1e-300)
        value = value - step
        if np.all((np.abs(step) < NEAR_ENOUGH * reach) | (high - low < NEAR_ENOUGH * reach)):
            break
    return np.clip(value, low, high)


def _density(df: float) -> float:
    """Density of Student's t at 0."""
    return float(np.exp(special.gammaln((df + 1) / 2) - special.gammaln(df / 2)) / np.sqrt(df * np.pi))
