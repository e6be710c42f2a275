"""Lots that differ in level, as random effects: restricted maximum likelihood to the last digits.

Everything is worked out from sums over lots, so that 5,000 lots cost no more than a few passes over 5,000 numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy import special

from predictor.curves.prior import Repeatability
from predictor.domain.codes import Codes
from predictor.domain.control import Floats
from predictor.lots.parallel import lot_means, sums_of
from predictor.lots.roots import root_between


@dataclass(frozen=True)
class Anova:
    """One-way analysis of variance."""

    ss_between: float  # Sums of squares
    ss_within: float
    df_between: int
    df_within: int
    F: float  # Infinite where catches of a lot do not differ
    p: float  # Probability of so large an F by chance


def one_way_anova(y: npt.ArrayLike, group: npt.ArrayLike) -> Anova:
    """One-way analysis of variance, with sums taken about means so that digits are not lost.

    Source: NIST Statistical Reference Datasets, analysis of variance.
    """
    values = np.asarray(y, dtype=float)
    # subtracting one of the values is exact; means of the rest then keep digits that means of y would round off
    sums = _sums(values - values[0], np.asarray(group), np.empty((len(values), 0)))
    gap = sums.mean - (sums.count @ sums.mean) / sums.count.sum()
    between, within = float(sums.count @ gap**2), sums.ss_within
    df1, df2 = sums.df_between, sums.df_within
    value = between / df1 / (within / df2) if within > 0 else math.inf
    return Anova(between, within, df1, df2, value, float(special.fdtrc(df1, df2, value)))


@dataclass(frozen=True, eq=False)
class Ratios:
    """A distribution over the ratio of the variance between lots to that between catches, arrays of shape (g,)."""

    ratio: Floats
    weight: Floats  # Of each ratio; they add up to 1
    within: Floats  # Variance between catches that goes with each ratio
    mean: Floats  # Mean over lots, about the centre of what was fitted
    mean_var: Floats  # Its variance, as a multiple of that between catches
    df: int  # Degrees of freedom of Student's t, given the ratio

    def thinned(self, points: int) -> Ratios:
        """So many ratios of equal weight in place of all."""
        reached = np.cumsum(self.weight) - self.weight / 2
        share = (np.arange(points) + 0.5) / points
        place = np.interp(share, reached, np.arange(len(reached)))
        mean, mean_var, within = (
            np.interp(place, np.arange(len(reached)), each) for each in (self.mean, self.mean_var, self.within)
        )
        ratio = np.interp(place, np.arange(len(reached)), np.sqrt(self.ratio)) ** 2
        return Ratios(ratio, np.full(points, 1 / points), within, mean, mean_var, self.df)


@dataclass(frozen=True, eq=False)
class OneWay:
    """Variance components of lots by restricted maximum likelihood."""

    beta: Floats  # Mean over lots, then the slopes of the covariates; standard errors
    se: Floats
    between: float  # Variance between lots, and between catches of a lot
    within: float
    criterion: float  # -2 x the restricted log likelihood
    blup: Floats  # Each lot's predicted departure from the mean
    student: Floats  # Departure of each lot from the others, scaled by the others' scatter; 0 for two lots
    df_between: int
    df_within: int
    level: float  # Probability of all limits
    sums: _Sums  # What was fitted, about its own centre
    centre: float  # Mean over lots there
    offset: float  # What was taken from y beforehand

    @cached_property
    def ratio_limits(self) -> tuple[float, float]:
        """Exact limits for between/within."""
        return _ratio_limits(self.sums, self.level)

    @cached_property
    def ratios(self) -> Ratios:
        """What is known of between/within; worked out where it is asked for, since it costs most."""
        return _ratios(self.sums)

    @cached_property
    def next_limits(self) -> tuple[float, float]:
        """Limits for the departure of a new lot."""
        return _next_limits(self.ratios, self.centre, self.level)


def one_way(
    y: npt.ArrayLike, group: npt.ArrayLike, x: npt.ArrayLike | None = None, *, level: float = 0.95, spent: int = 0
) -> OneWay:
    """Fit y = mean + x slopes + lot + catch, with lots and catches normal.

    `spent` degrees of freedom within lots went into what was taken from y before.

    Source: Patterson and Thompson (1971), Biometrika 58, 545-554 (REML). Searle, Casella and McCulloch (1992),
    Variance Components, sections 3.7 to 3.9. Wald (1947), Ann. Math. Stat. 18, 586-589; Seely and El-Bassiouni
    (1983), Ann. Stat. 11, 197-201 (limits of the ratio).
    """
    values = np.asarray(y, dtype=float)
    covariates = np.empty((len(values), 0)) if x is None else np.asarray(x, dtype=float).reshape(len(values), -1)
    shift, size = covariates.mean(axis=0), covariates.std(axis=0)
    size = np.where(size > 0, size, 1.0)
    offset = float(values.mean())
    back = np.eye(len(size) + 1)
    back[0, 1:] = -shift / size
    back[1:, 1:] = np.diag(1 / size)
    sums = _sums(values - offset, np.asarray(group), (covariates - shift) / size)
    sums = replace(sums, n=sums.n - spent, df_within=sums.df_within - spent)
    return _fit(sums, level, offset, back)


def one_way_of_estimates(
    estimate: npt.ArrayLike, variance: npt.ArrayLike, *, within: float, df_within: int, level: float = 0.95
) -> OneWay:
    """Fit lots of which each is known by one estimate, such as the height of its own curve at a setting."""
    values = np.asarray(estimate, dtype=float)
    offset, lots = float(values.mean()), len(values)
    count = within / np.asarray(variance, dtype=float)
    ones, square, line = np.ones((lots, 1)), np.zeros((0, 0)), np.zeros(0)
    sums = _Sums(lots + df_within, count, values - offset, ones, within * df_within, square, line, df_within)
    return _fit(sums, level, offset, np.eye(1))


@dataclass(frozen=True, eq=False)
class _Sums:
    n: int  # Catches, less the degrees of freedom that were spent on what was taken from them
    count: Floats  # Of each lot; a fraction where a lot's mean is known as well as by so many catches
    mean: Floats
    x_mean: Floats  # (L, 1 + p), first column ones
    ss_within: float  # About the regression on the covariates within lots
    x_within: Floats  # (p, p)
    slope_within: Floats  # (p,)
    df_within: int

    @property
    def free(self) -> int:
        return self.n - int(self.x_mean.shape[1])

    @property
    def df_between(self) -> int:
        return self.free - self.df_within

    @cached_property
    def alike(self) -> _AlikeLots:
        """Lots of as many catches together."""
        return _AlikeLots.of(self)


@dataclass(frozen=True, eq=False)
class _AlikeLots:
    """Lots of as many catches as one: the likelihood gives them one weight, and it is looked at hundreds of times."""

    count: Floats  # Catches of each lot
    lots: Floats  # How many they are
    mean: Floats  # Over these lots
    x_mean: Floats
    scatter: Floats  # Sums of squares and products of covariates and mean, in this order, about the means of these lots

    @classmethod
    def of(cls, sums: _Sums) -> _AlikeLots:
        """The lots of these sums by their number of catches."""
        count, code = np.unique(sums.count, return_inverse=True)
        lots = np.bincount(code).astype(float)
        both = np.column_stack([sums.x_mean, sums.mean])
        means = np.column_stack([lot_means(column, code, lots) for column in both.T])
        off = both - means[code]
        scatter = np.zeros((len(lots), len(off.T), len(off.T)))
        for i, j in np.ndindex(scatter.shape[1:]):
            scatter[:, i, j] = sums_of(off[:, i] * off[:, j], code)
        return cls(count, lots, means[:, -1], means[:, :-1], scatter)


class _Solved:
    """Generalised least squares at ratios of the variance between lots to that between catches.

    Arrays have one row for each of the g ratios; with p covariates.
    """

    def __init__(self, sums: _Sums, ratios: Floats):
        self.sums, few = sums, sums.alike
        count = ratios[:, None] * few.count
        self.each = few.count / (1 + count)  # weight of one lot
        self.weight = self.each * few.lots
        inside = np.tensordot(self.each, few.scatter, 1)
        self.info = _squares(self.weight, few.x_mean) + inside[:, :-1, :-1]
        right = (self.weight * few.mean) @ few.x_mean + inside[:, :-1, -1]
        self.info[:, 1:, 1:] += sums.x_within
        right[:, 1:] += sums.x_within @ sums.slope_within
        self.beta: Floats = np.asarray(np.linalg.solve(self.info, right[:, :, None])[:, :, 0], dtype=np.float64)
        self.rest = few.mean - self.beta @ few.x_mean.T
        off, self.turned = self.beta[:, 1:] - sums.slope_within, np.column_stack([-self.beta, np.ones(len(ratios))])
        self.total = sums.ss_within + _forms(off, sums.x_within)
        self.total += (self.weight * self.rest**2).sum(axis=1) + _forms(self.turned, inside)
        self.log_det = np.log1p(count) @ few.lots + np.linalg.slogdet(self.info)[1]
        # -2 x the restricted log likelihood
        self.criterion = sums.free * (1 + np.log(2 * math.pi * self.total / sums.free)) + self.log_det

    def slope(self) -> Floats:
        """Derivative of the criterion by the ratio."""
        few, square = self.sums.alike, self.each**2
        inside = np.tensordot(square, few.scatter, 1)
        turn = _squares(square * few.lots, few.x_mean) + inside[:, :-1, :-1]
        scatter = (square * few.lots * self.rest**2).sum(axis=1) + _forms(self.turned, inside)
        trace = np.trace(np.linalg.solve(self.info, turn), axis1=1, axis2=2)
        return np.asarray(self.weight.sum(axis=1) - self.sums.free * scatter / self.total - trace, dtype=np.float64)


def _squares(weight: Floats, columns: Floats) -> Floats:
    """Sums of squares and products of columns, for each row of weights."""
    return np.asarray((columns.T * weight[:, None, :]) @ columns, dtype=np.float64)


def _forms(vectors: Floats, square: Floats) -> Floats:
    """v' S v for each row v, with one matrix S for all or one for each."""
    return np.asarray((vectors[:, None, :] @ square @ vectors[:, :, None])[:, 0, 0], dtype=np.float64)


def _sums(y: Floats, group: Codes, x: Floats) -> _Sums:
    count = np.bincount(group).astype(float)
    mean = lot_means(y, group, count)
    x_mean = np.column_stack([np.ones(len(count)), *(lot_means(column, group, count) for column in x.T)])
    inside, x_in = y - mean[group], x - x_mean[group, 1:]
    x_within = x_in.T @ x_in
    slope = np.asarray(np.linalg.lstsq(x_in, inside, rcond=1e-10)[0], dtype=np.float64)
    inside = inside - x_in @ slope
    df = len(y) - len(count) - int(np.linalg.matrix_rank(x_within, tol=1e-10 * len(y)))
    return _Sums(len(y), count, mean, x_mean, float(inside @ inside), x_within, slope, df)


def _fit(sums: _Sums, level: float, offset: float, back: Floats) -> OneWay:
    """Fit the sums; `offset` and `back` undo the centring of y and the centring and scaling of the covariates."""
    if sums.df_between < 1:
        raise ValueError(f"A variance between lots needs more lots than {len(sums.count)}.")
    if sums.df_within < 1 or sums.ss_within <= 0:
        raise ValueError("A variance between lots needs lots with repeated catches that are not all alike.")
    ratio = _best_ratio(sums)
    found = _Solved(sums, np.array([ratio]))
    within, centred = float(found.total[0]) / sums.free, found.beta[0]
    cov = within * np.linalg.inv(found.info[0])
    hat = np.einsum("ij,jk,ik->i", sums.x_mean, cov, sums.x_mean)
    weight, rest = sums.count / (1 + sums.count * ratio), sums.mean - sums.x_mean @ centred
    beta = back @ centred
    beta[0] += offset
    return OneWay(
        beta=beta,
        se=np.sqrt(np.diag(back @ cov @ back.T)),
        between=within * ratio,
        within=within,
        # the likelihood's determinant term counts the scale of the covariates
        criterion=float(found.criterion[0]) - 2 * float(np.linalg.slogdet(back)[1]),
        blup=ratio * weight * rest,
        student=_studentised(rest, within / weight, hat, sums.df_between),
        df_between=sums.df_between,
        df_within=sums.df_within,
        level=level,
        sums=sums,
        centre=float(centred[0]),
        offset=offset,
    )


def _best_ratio(sums: _Sums) -> float:
    """Ratio of the variances at which the criterion is least."""

    def scores(log_ratios: npt.ArrayLike) -> Floats:
        ratios = np.exp(np.atleast_1d(log_ratios))
        return np.asarray(_Solved(sums, ratios).slope() * (1 + ratios), dtype=np.float64)  # of a steady size

    grid = np.linspace(math.log(1e-7), math.log(1e9), 60)
    found = scores(grid)
    minima = [0.0] if _Solved(sums, np.zeros(1)).slope()[0] >= 0 else []
    for k in np.flatnonzero((found[:-1] < 0) & (found[1:] >= 0)):
        ends = float(grid[k]), float(grid[k + 1])
        minima.append(math.exp(root_between(lambda each: float(scores(each)[0]), *ends, near=1e-14)))
    if not minima:
        return math.exp(grid[-1])
    return minima[int(np.argmin(_Solved(sums, np.array(minima)).criterion))]


def _next_limits(known: Ratios, mean: float, level: float) -> tuple[float, float]:
    """Limits for a new lot, averaged over how large the variance between lots may be."""
    sizes = np.sqrt(known.within * (known.ratio + known.mean_var))

    def end(tail: float) -> float:
        def excess(value: float) -> float:
            return float(known.weight @ special.stdtr(known.df, (value - known.mean) / sizes)) - tail

        reach = float(known.weight @ sizes)
        while excess(mean - reach) > 0 or excess(mean + reach) < 0:
            reach *= 2
        return root_between(excess, mean - reach, mean + reach) - mean

    return end(0.5 - level / 2), end(0.5 + level / 2)


def _ratios(sums: _Sums) -> Ratios:
    """What the catches leave open of the variance between lots.

    A plain t interval, mean +- t (between + se^2)^0.5, holds only 80 to 90 per cent of new lots where lots differ
    about as much as catches do, because the likelihood is then often greatest at 0. So the ratio of standard
    deviations r is integrated over its restricted likelihood with the weight 1/(1 + r): flat near zero, and far from
    zero the usual 1/r, which gives back the t interval. Given r the answer is Student's t.

    After Box and Tiao (1973), Bayesian Inference in Statistical Analysis, section 5.2 (one-way random effects).
    """

    def mixture(grid: Floats) -> tuple[Floats, _Solved]:
        """The restricted likelihood, but for a constant; equal steps in log(1 + r) are the weight 1/(1 + r)."""
        found = _Solved(sums, np.expm1(grid) ** 2)
        return -0.5 * (found.log_det + sums.free * np.log(found.total)), found

    grid = np.linspace(0.0, 12.0, 121)
    logs = mixture(grid)[0]
    held = np.flatnonzero(logs > logs.max() - 30)
    # with many lots the likelihood is a needle between two points of the first grid
    grid = np.linspace(grid[max(held[0] - 1, 0)], grid[min(held[-1] + 1, len(grid) - 1)], 161)
    logs, found = mixture(grid)
    weight, inverse = np.exp(logs - logs.max()), np.asarray(np.linalg.inv(found.info), dtype=np.float64)
    within, mean, mean_var = found.total / sums.free, found.beta[:, 0], inverse[:, 0, 0]
    return Ratios(np.expm1(grid) ** 2, weight / weight.sum(), within, mean, mean_var, sums.free)


def _ratio_limits(sums: _Sums, level: float) -> tuple[float, float]:
    """Limits of between/within by inverting the exact F test."""

    def f_value(log_ratio: float) -> float:
        between = float(_Solved(sums, np.array([math.expm1(log_ratio)])).total[0]) - sums.ss_within
        return between / sums.df_between / (sums.ss_within / sums.df_within)

    def end(probability: float) -> float:
        wanted, most = float(special.fdtri(sums.df_between, sums.df_within, probability)), math.log1p(1e12)
        if f_value(0.0) <= wanted:
            return 0.0
        if f_value(most) > wanted:
            return math.inf
        return math.expm1(root_between(lambda log_ratio: f_value(log_ratio) - wanted, 0.0, most))

    return end(0.5 + level / 2), end(0.5 - level / 2)


def ratios_without_repeats(height: Floats, count: npt.ArrayLike, usual: Repeatability) -> Ratios:
    """What heights of lots leave open of the variance between lots, where no repeated catch tells that of catches.

    Heights, each of a number of catches, scatter by both variances. What is usual for catches of such a box says how
    much of it may be theirs. The ratio is weighted beforehand as in `_ratios`.

    Source: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., 2.6 and 5.4 (cited from memory).
    """
    ratio = np.expm1(np.linspace(0.0, 8.0, 81)) ** 2
    weight = 1 / (ratio[:, None] + 1 / np.asarray(count, dtype=float))
    total = weight.sum(axis=1)
    mean = (weight @ height) / total
    square, df = (weight * (height - mean[:, None]) ** 2).sum(axis=1), len(height) - 1
    logs = 0.5 * (np.log(weight).sum(axis=1) - np.log(total)) + np.logaddexp.reduce(usual.evidence(square, df))
    chance, within = np.exp(logs - logs.max()), usual.cv**2
    return Ratios(ratio, chance / chance.sum(), np.full(len(ratio), within), mean, 1 / total, max(df, 1))


def _studentised(rest: Floats, own: Floats, hat: Floats, df_between: int) -> Floats:
    """Departure of each lot from the others, scaled by the others' own scatter.

    `own` is the variance of each lot's mean about the line. For lots of equal size this is Grubbs's (1950, Ann. Math.
    Stat. 21, 27-58) statistic in its t form.
    """
    squares = rest**2 / own
    leverage = np.clip(hat / own, 0.0, 1 - 1e-9)
    # the scale is judged from the lots' own scatter, not taken as known
    inner = squares / (1 - leverage) / max(float(squares.sum()) / df_between, 1e-300)
    student: Floats = np.sign(rest) * np.sqrt(inner * (df_between - 1) / np.maximum(df_between - inner, 1e-12))
    return student
