"""Lots that differ in level, as random effects: restricted maximum likelihood to the last digits.

Everything is worked out from sums over lots, so that 5,000 lots cost no more than a few passes over 5,000 numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

from predictor.domain.control import Floats
from predictor.lots.parallel import Codes, lot_means


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
class OneWay:
    """Variance components of lots by restricted maximum likelihood."""

    beta: Floats  # Mean over lots, then the slopes of the covariates; standard errors
    se: Floats
    between: float  # Variance between lots, and between catches of a lot
    within: float
    ratio_limits: tuple[float, float]  # Exact limits for between/within
    criterion: float  # -2 x the restricted log likelihood
    blup: Floats  # Each lot's predicted departure from the mean
    student: Floats  # Departure of each lot from the others, scaled by the others' scatter; NaN for too few lots
    df_between: int
    df_within: int
    next_limits: tuple[float, float]  # Limits for the departure of a new lot


def one_way(y: npt.ArrayLike, group: npt.ArrayLike, x: npt.ArrayLike | None = None, *, level: float = 0.95) -> OneWay:
    """Fit y = mean + x slopes + lot + catch, with lots and catches normal.

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
    return _fit(_sums(values - offset, np.asarray(group), (covariates - shift) / size), level, offset, back)


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
class _Solved:
    """Generalised least squares at one ratio of the variances."""

    beta: Floats
    rest: Floats  # Departure of each lot's mean
    total: float  # Weighted sum of squares
    info: Floats
    weight: Floats  # Of each lot
    log_det: float  # Determinants' part of the criterion


@dataclass(frozen=True, eq=False)
class _Sums:
    n: int  # Catches
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

    def solve(self, ratio: float) -> _Solved:
        """Fit at this ratio of the variance between lots to that between catches."""
        weight = self.count / (1 + self.count * ratio)
        info = (self.x_mean * weight[:, None]).T @ self.x_mean
        right = self.x_mean.T @ (weight * self.mean)
        info[1:, 1:] += self.x_within
        right[1:] += self.x_within @ self.slope_within
        beta: Floats = np.asarray(np.linalg.solve(info, right), dtype=np.float64)
        rest = self.mean - self.x_mean @ beta
        off = beta[1:] - self.slope_within
        total = self.ss_within + float(off @ self.x_within @ off) + float(weight @ rest**2)
        log_det = float(np.log1p(self.count * ratio).sum()) + float(np.linalg.slogdet(info)[1])
        return _Solved(beta, rest, total, info, weight, log_det)


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
    found = sums.solve(ratio)
    within = found.total / sums.free
    cov = within * np.linalg.inv(found.info)
    hat = np.einsum("ij,jk,ik->i", sums.x_mean, cov, sums.x_mean)
    beta = back @ found.beta
    beta[0] += offset
    return OneWay(
        beta=beta,
        se=np.sqrt(np.diag(back @ cov @ back.T)),
        between=within * ratio,
        within=within,
        ratio_limits=_ratio_limits(sums, level),
        # the likelihood's determinant term counts the scale of the covariates
        criterion=_criterion(sums, ratio) - 2 * float(np.linalg.slogdet(back)[1]),
        blup=ratio * found.weight * found.rest,
        student=_studentised(found.rest, within / found.weight, hat, sums.df_between),
        df_between=sums.df_between,
        df_within=sums.df_within,
        next_limits=_next_limits(sums, float(found.beta[0]), level),
    )


def _criterion(sums: _Sums, ratio: float) -> float:
    found = sums.solve(ratio)
    return sums.free * (1 + math.log(2 * math.pi * found.total / sums.free)) + found.log_det


def _best_ratio(sums: _Sums) -> float:
    """Ratio of the variances at which the criterion is least."""

    def slope(ratio: float) -> float:
        found = sums.solve(ratio)
        turn = (sums.x_mean * (found.weight**2)[:, None]).T @ sums.x_mean
        return (
            -sums.free * float(found.weight**2 @ found.rest**2) / found.total
            + float(found.weight.sum())
            - float(np.trace(np.linalg.solve(found.info, turn)))
        )

    def score(log_ratio: float) -> float:
        ratio = math.exp(log_ratio)
        return slope(ratio) * (1 + ratio)  # of a steady size

    grid = np.linspace(math.log(1e-7), math.log(1e9), 60)
    scores = np.array([score(each) for each in grid])
    minima = [0.0] if slope(0.0) >= 0 else []
    for k in np.flatnonzero((scores[:-1] < 0) & (scores[1:] >= 0)):
        minima.append(math.exp(optimize.brentq(score, grid[k], grid[k + 1], xtol=1e-14, rtol=1e-14)))
    return min(minima, key=lambda ratio: _criterion(sums, ratio)) if minima else math.exp(grid[-1])


def _next_limits(sums: _Sums, mean: float, level: float) -> tuple[float, float]:
    """Limits for a new lot, averaged over how large the variance between lots may be.

    A plain t interval, mean +- t (between + se^2)^0.5, holds only 80 to 90 per cent of new lots where lots differ
    about as much as catches do, because the likelihood is then often greatest at 0. So the ratio of standard
    deviations r is integrated over its restricted likelihood with the weight 1/(1 + r): flat near zero, and far from
    zero the usual 1/r, which gives back the t interval. Given r the answer is Student's t.

    After Box and Tiao (1973), Bayesian Inference in Statistical Analysis, section 5.2 (one-way random effects).
    """

    def mixture(grid: Floats) -> tuple[Floats, Floats, Floats]:
        ratios = np.expm1(grid) ** 2  # equal steps in log(1 + r) are the weight 1/(1 + r)
        found = [sums.solve(ratio) for ratio in ratios]
        logs = np.array([-0.5 * (each.log_det + sums.free * math.log(each.total)) for each in found])
        places = np.array([each.beta[0] for each in found])
        sizes = np.array(
            [
                math.sqrt(each.total / sums.free * (ratio + np.linalg.inv(each.info)[0, 0]))
                for ratio, each in zip(ratios, found, strict=True)
            ]
        )
        return logs - logs.max(), places, sizes

    grid = np.linspace(0.0, 12.0, 121)
    held = np.flatnonzero(mixture(grid)[0] > -30)
    # with many lots the likelihood is a needle between two points of the first grid
    grid = np.linspace(grid[max(held[0] - 1, 0)], grid[min(held[-1] + 1, len(grid) - 1)], 161)
    logs, places, sizes = mixture(grid)
    weight = np.exp(logs)
    weight /= weight.sum()

    def end(tail: float) -> float:
        def excess(value: float) -> float:
            return float(weight @ special.stdtr(sums.free, (value - places) / sizes)) - tail

        reach = float(weight @ sizes)
        while excess(mean - reach) > 0 or excess(mean + reach) < 0:
            reach *= 2
        return float(optimize.brentq(excess, mean - reach, mean + reach)) - mean

    return end(0.5 - level / 2), end(0.5 + level / 2)


def _ratio_limits(sums: _Sums, level: float) -> tuple[float, float]:
    """Limits of between/within by inverting the exact F test."""

    def f_value(log_ratio: float) -> float:
        between = sums.solve(math.expm1(log_ratio)).total - sums.ss_within
        return between / sums.df_between / (sums.ss_within / sums.df_within)

    def end(probability: float) -> float:
        wanted, most = float(special.fdtri(sums.df_between, sums.df_within, probability)), math.log1p(1e12)
        if f_value(0.0) <= wanted:
            return 0.0
        if f_value(most) > wanted:
            return math.inf
        return math.expm1(optimize.brentq(lambda log_ratio: f_value(log_ratio) - wanted, 0.0, most))

    return end(0.5 + level / 2), end(0.5 - level / 2)


def _studentised(rest: Floats, own: Floats, hat: Floats, df_between: int) -> Floats:
    """Departure of each lot from the others, scaled by the others' own scatter.

    `own` is the variance of each lot's mean about the line. For lots of equal size this is Grubbs's (1950, Ann. Math.
    Stat. 21, 27-58) statistic in its t form.
    """
    if df_between < 2:
        return np.full(len(rest), np.nan)
    squares = rest**2 / own
    if squares.sum() <= 0:
        return np.zeros(len(rest))
    leverage = np.clip(hat / own, 0.0, 1 - 1e-9)
    # the scale is judged from the lots' own scatter, not taken as known
    inner = squares / (1 - leverage) / (squares.sum() / df_between)
    student: Floats = np.sign(rest) * np.sqrt(inner * (df_between - 1) / np.maximum(df_between - inner, 1e-12))
    return student
