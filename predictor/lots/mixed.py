"""Lots as random effects: restricted maximum likelihood by exact profiles, to the last digits.

Balanced one-way data have a closed form; unbalanced ones need one root of one function, found here from sums over
lots, so that 5,000 lots cost no more than a few passes over 5,000 numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, special


@dataclass(frozen=True)
class Anova:
    """One-way analysis of variance."""

    ss_between: float  # Sums of squares
    ss_within: float
    df_between: int
    df_within: int
    F: float  # Infinite where catches of a lot do not differ
    p: float  # Probability of so large an F by chance


def one_way_anova(y, group) -> Anova:
    """One-way analysis of variance, with sums taken about means so that digits are not lost.

    Source: NIST Statistical Reference Datasets, analysis of variance.
    """
    y = np.asarray(y, dtype=float)
    # taking off one of the values is exact; means of what is left then keep the digits that means of y would round off
    sums = _sums(y - y[0], np.asarray(group), None)
    gap = sums.mean - (sums.count @ sums.mean) / sums.count.sum()
    between, within = float(sums.count @ gap**2), sums.ss_within
    df1, df2 = len(sums.count) - 1, int(sums.count.sum()) - len(sums.count)
    value = between / df1 / (within / df2) if within > 0 else math.inf
    return Anova(between, within, df1, df2, value, float(special.fdtrc(df1, df2, value)))


@dataclass(frozen=True)
class OneWay:
    """Variance components of lots by REML."""

    beta: np.ndarray  # Mean over lots, then the slopes of the covariates; standard errors
    se: np.ndarray
    between: float  # Variance between lots and between catches of a lot
    within: float
    ratio_limits: tuple[float, float]  # Exact limits for between/within
    criterion: float  # -2 x the restricted log likelihood
    blup: np.ndarray  # Each lot's predicted departure from the mean, and the standard deviation it is predicted with
    blup_sd: np.ndarray
    student: np.ndarray
    df_between: int
    df_within: int
    next_limits: tuple[float, float]


@dataclass(frozen=True)
class _Sums:
    n: int  # catches
    count: np.ndarray  # of each lot; a fraction where a lot's mean is known as surely as by so many catches
    mean: np.ndarray
    x_mean: np.ndarray  # (L, 1 + p), first column ones
    ss_within: float  # about the within-lot regression on the covariates
    x_within: np.ndarray  # (p, p)
    slope_within: np.ndarray  # (p,)
    df_within: int


def one_way(y, group, x=None, *, level=0.95) -> OneWay:
    """REML for y = mean + x slopes + lot + catch, lots and catches normal.

    Source: Patterson and Thompson (1971), Biometrika 58, 545-554 (REML). Searle, Casella and McCulloch (1992),
    Variance Components, sections 3.7 to 3.9. Wald (1947), Ann. Math. Stat. 18, 586-589; Seely and El-Bassiouni
    (1983), Ann. Stat. 11, 197-201 (limits of the ratio).
    """
    y, group = np.asarray(y, dtype=float), np.asarray(group)
    covariates = None if x is None else np.asarray(x, dtype=float).reshape(len(y), -1)
    if covariates is not None:
        shift, size = covariates.mean(axis=0), covariates.std(axis=0)
        size = np.where(size > 0, size, 1.0)
        covariates = (covariates - shift) / size
    offset = float(y.mean())
    sums = _sums(y - offset, group, covariates)
    fit = _fit_sums(sums, level)
    if covariates is None:
        return _moved(fit, offset, np.eye(1))
    back = np.eye(len(size) + 1)
    back[0, 1:] = -shift / size
    back[1:, 1:] = np.diag(1 / size)
    return _moved(fit, offset, back)


def one_way_of_estimates(estimate, variance, *, within, df_within, level=0.95) -> OneWay:
    """REML for lots of which each is known by one estimate, such as the height of its own curve at a setting."""
    estimate = np.asarray(estimate, dtype=float)
    offset, lots = float(estimate.mean()), len(estimate)
    count = within / np.asarray(variance, dtype=float)
    ones, none = np.ones((lots, 1)), np.zeros(0)
    sums = _Sums(
        lots + df_within, count, estimate - offset, ones, within * df_within, np.zeros((0, 0)), none, df_within
    )
    return _moved(_fit_sums(sums, level), offset, np.eye(1))


def _moved(fit, offset, back) -> OneWay:
    """The fit in the caller's units: covariates were centred and scaled, y was centred."""
    result, cov = fit
    beta = back @ result.beta
    beta[0] += offset
    values = dict(result.__dict__)
    # the likelihood's determinant term counts the scale of the covariates
    values["criterion"] = result.criterion - 2 * np.linalg.slogdet(back)[1]
    return OneWay(**{**values, "beta": beta, "se": np.sqrt(np.diag(back @ cov @ back.T))})


def _sums(y, group, x) -> _Sums:
    count = np.bincount(group).astype(float)
    p = 0 if x is None else x.shape[1]

    def means(values):
        first = np.bincount(group, weights=values) / count
        return first + np.bincount(group, weights=values - first[group]) / count

    mean = means(y)
    x_mean = np.ones((len(count), 1 + p))
    inside = y - mean[group]
    x_within, slope = np.zeros((p, p)), np.zeros(p)
    if p:
        x_mean[:, 1:] = np.column_stack([means(x[:, j]) for j in range(p)])
        x_in = x - x_mean[group, 1:]
        x_within = x_in.T @ x_in
        slope = np.linalg.lstsq(x_in, inside, rcond=1e-10)[0]
        inside = inside - x_in @ slope
    rank = int(np.linalg.matrix_rank(x_within, tol=1e-10 * max(len(y), 1))) if p else 0
    df = len(y) - len(count) - rank
    return _Sums(len(y), count, mean, x_mean, float(inside @ inside), x_within, slope, df)


def _solve(sums: _Sums, ratio: float):
    """Generalised least squares at a ratio of variances: beta, residual means, total Q, information, lot weights."""
    weight = sums.count / (1 + sums.count * ratio)
    info = (sums.x_mean * weight[:, None]).T @ sums.x_mean
    right = sums.x_mean.T @ (weight * sums.mean)
    info[1:, 1:] += sums.x_within
    right[1:] += sums.x_within @ sums.slope_within
    beta = np.linalg.solve(info, right)
    rest = sums.mean - sums.x_mean @ beta
    off = beta[1:] - sums.slope_within
    total = sums.ss_within + float(off @ sums.x_within @ off) + float(weight @ rest**2)
    return beta, rest, total, info, weight


def _fit_sums(sums: _Sums, level: float):
    n, lots, p = sums.n, len(sums.count), sums.x_mean.shape[1]
    df_between = n - p - sums.df_within
    if df_between < 1:
        raise ValueError(f"A variance between lots needs more lots than {lots}.")
    if sums.df_within < 1 or sums.ss_within <= 0:
        raise ValueError("A variance between lots needs lots with repeated catches that are not all alike.")

    def score(log_ratio: float) -> float:
        """d criterion / d ratio, times (1 + ratio) for a steady size."""
        ratio = math.exp(log_ratio)
        return slope(ratio) * (1 + ratio)

    def slope(ratio: float) -> float:
        _, rest, total, info, weight = _solve(sums, ratio)
        turn = (sums.x_mean * (weight**2)[:, None]).T @ sums.x_mean
        return (
            -(n - p) * float(weight**2 @ rest**2) / total
            + float(weight.sum())
            - float(np.trace(np.linalg.solve(info, turn)))
        )

    def criterion(ratio: float) -> float:
        _, _, total, info, _ = _solve(sums, ratio)
        spread = float(np.log1p(sums.count * ratio).sum()) + float(np.linalg.slogdet(info)[1])
        return (n - p) * (1 + math.log(2 * math.pi * total / (n - p))) + spread

    grid = np.linspace(math.log(1e-7), math.log(1e9), 60)
    scores = np.array([score(g) for g in grid])
    minima = [0.0] if slope(0.0) >= 0 else []
    minima += [
        math.exp(optimize.brentq(score, grid[k], grid[k + 1], xtol=1e-14, rtol=1e-14))
        for k in np.flatnonzero((scores[:-1] < 0) & (scores[1:] >= 0))
    ]
    ratio = min(minima, key=criterion) if minima else math.exp(grid[-1])
    beta, rest, total, info, weight = _solve(sums, ratio)
    within = total / (n - p)
    cov = within * np.linalg.inv(info)
    blup = ratio * weight * rest
    hat = np.einsum("ij,jk,ik->i", sums.x_mean, cov, sums.x_mean)
    own = within / weight  # variance of a lot's mean about the line
    gain = within * ratio / own
    blup_sd = np.sqrt(np.maximum(within * ratio * (1 - gain) + gain**2 * hat, 0.0))
    result = OneWay(
        beta,
        np.sqrt(np.diag(cov)),
        within * ratio,
        within,
        _ratio_limits(sums, n, p, df_between, level),
        criterion(ratio),
        blup,
        blup_sd,
        _studentised(rest, own, hat, df_between),
        df_between,
        sums.df_within,
        _next_limits(sums, n, p, float(beta[0]), level),
    )
    return result, cov


def _next_limits(sums, n, p, mean, level) -> tuple[float, float]:
    """Limits for a lot not yet seen, averaged over how large the variance between lots may be.

    A plain t interval, mean +- t (between + se^2)^0.5, holds only 80 to 90 per cent of unseen lots where lots differ
    about as much as catches do, because REML then often finds 0. So the ratio of standard deviations r is
    integrated over its restricted likelihood with the weight 1/(1 + r): flat near zero, and far from zero the usual
    1/r, which gives back the t interval. Given r the answer is Student's t.

    After Box and Tiao (1973), Bayesian Inference in Statistical Analysis, section 5.2 (one-way random effects).
    """

    def mixture(grid):
        ratios = np.expm1(grid) ** 2  # equal steps in log(1 + r) are the weight 1/(1 + r)
        logs, places, sizes = np.empty(len(grid)), np.empty(len(grid)), np.empty(len(grid))
        for k, ratio in enumerate(ratios):
            beta, _, total, info, _ = _solve(sums, ratio)
            logs[k] = -0.5 * (
                np.log1p(sums.count * ratio).sum() + np.linalg.slogdet(info)[1] + (n - p) * math.log(total)
            )
            places[k] = beta[0]
            sizes[k] = math.sqrt(total / (n - p) * (ratio + np.linalg.inv(info)[0, 0]))
        return logs - logs.max(), places, sizes

    grid = np.linspace(0.0, 12.0, 121)
    held = np.flatnonzero(mixture(grid)[0] > -30)
    # with many lots the likelihood is a needle between two points of the first grid
    grid = np.linspace(grid[max(held[0] - 1, 0)], grid[min(held[-1] + 1, len(grid) - 1)], 161)
    logs, places, sizes = mixture(grid)
    weight = np.exp(logs)
    weight /= weight.sum()
    ends = []
    for tail in (0.5 - level / 2, 0.5 + level / 2):

        def excess(value, tail=tail):
            return float(weight @ special.stdtr(n - p, (value - places) / sizes)) - tail

        reach = float(weight @ sizes)
        while excess(mean - reach) > 0 or excess(mean + reach) < 0:
            reach *= 2
        ends.append(optimize.brentq(excess, mean - reach, mean + reach) - mean)
    return ends[0], ends[1]


def _ratio_limits(sums, n, p, df_between, level) -> tuple[float, float]:
    """Limits of between/within by inverting the exact F test."""

    def excess(ratio: float, wanted: float) -> float:
        total = _solve(sums, ratio)[2]
        return (total - sums.ss_within) / df_between / (sums.ss_within / sums.df_within) - wanted

    def end(probability: float) -> float:
        wanted = float(special.fdtri(df_between, sums.df_within, probability))
        if excess(0.0, wanted) <= 0:
            return 0.0
        if excess(1e12, wanted) > 0:
            return math.inf
        return math.expm1(optimize.brentq(lambda t: excess(math.expm1(t), wanted), 0.0, math.log1p(1e12)))

    return end(0.5 + level / 2), end(0.5 - level / 2)


def _studentised(rest, own, hat, df_between) -> np.ndarray:
    """Departure of each lot from the others, scaled by the others' own scatter.

    For lots of equal size this is Grubbs's (1950, Ann. Math. Stat. 21, 27-58) statistic in its t form.
    """
    if df_between < 2:
        return np.full(len(rest), np.nan)
    squares = rest**2 / own
    if squares.sum() <= 0:
        return np.zeros(len(rest))
    leverage = np.clip(hat / own, 0.0, 1 - 1e-9)
    inner = squares / (1 - leverage)
    # the scale is judged from the lots' own scatter, not taken as known
    inner = inner / (squares.sum() / df_between)
    outer = inner * (df_between - 1) / np.maximum(df_between - inner, 1e-12)
    return np.sign(rest) * np.sqrt(outer)
