"""Limits by Student's t, of ratios, of several comparisons at once; the F test of nested fits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import special

from predictor.domain.control import Floats
from predictor.lots.roots import root_between

# Comparisons are taken together in at most this many groups of like correlation; more would change no digit shown.
MOST_GROUPS = 24
# Quantiles over a variance known in part are worked out at so many shares of it, by so many halvings. A share that adds
# less than this to the variance by catches adds nothing.
SHARES, HALVINGS, SMALL_SHARE = 12, 36, 1e-4
# Log of the chance of being outside is found to this; the critical value then has five digits.
NEAR_ENOUGH = 1e-6
# A correlation below this leaves five digits of a critical value as they are.
FAINT = 0.005


Adjustment = Literal["Dunnett", "Bonferroni", "none"]


def t_critical(df: float, level: float) -> float:
    """Two-sided critical value of Student's t."""
    return float(special.stdtrit(df, 0.5 + level / 2))


def exp_or_none(log_ratio: float) -> float | None:
    """A ratio from its logarithm; None where that is not finite or too large."""
    return math.exp(log_ratio) if math.isfinite(log_ratio) and log_ratio < 700 else None


def ratio_of(middle: float, half: float) -> tuple[float, float, float]:
    """A ratio and its limits from a log ratio and half the width of its limits."""
    ratio, lower, upper = (math.exp(min(max(each, -700.0), 700.0)) for each in (middle, middle - half, middle + half))
    return ratio, lower, upper


def cv_of(variance: float) -> float | None:
    """Coefficient of variation of a lognormal quantity from the variance of its log; None where that is too large."""
    return math.sqrt(math.expm1(variance)) if variance < 400 else None


@dataclass(frozen=True)
class RatioLimits:
    """A ratio with the set of values that the data do not rule out."""

    estimate: float
    pieces: tuple[tuple[float, float], ...]

    @property
    def around(self) -> tuple[float, float]:
        """The piece that holds the estimate."""
        for low, high in self.pieces:
            if low <= self.estimate <= high:
                return low, high
        return -math.inf, math.inf


def fieller(
    top: float, bottom: float, *, var_top: float, var_bottom: float, cov: float = 0.0, critical: float
) -> RatioLimits:
    """Limits for a ratio of two (jointly normal) estimates.

    Source: Fieller (1954), J. R. Stat. Soc. B 16, 175-185. Finney (1978), Statistical Method in Biological Assay, ch.
    4.
    """
    if bottom == 0:
        raise ValueError("A ratio needs a denominator that is not zero; got 0.")
    square = critical**2
    a = bottom**2 - square * var_bottom
    b = top * bottom - square * cov
    c = top**2 - square * var_top
    disc = b * b - a * c
    ratio = top / bottom
    if a > 0:
        half = math.sqrt(max(disc, 0.0))
        return RatioLimits(ratio, (((b - half) / a, (b + half) / a),))
    if disc <= 0 or a == 0:
        return RatioLimits(ratio, ((-math.inf, math.inf),))
    ends = sorted(((b - math.sqrt(disc)) / a, (b + math.sqrt(disc)) / a))
    return RatioLimits(ratio, ((-math.inf, ends[0]), (ends[1], math.inf)))


@dataclass(frozen=True)
class FTest:
    """An F test."""

    F: float
    df1: int  # Degrees of freedom of its two parts
    df2: int
    p: float  # Probability of so large an F by chance


def compare_fits(ss_small: float, df_small: int, ss_large: float, df_large: int) -> FTest:
    """Test by the extra sum of squares whether a larger model fits better than one nested in it.

    Source: Bates and Watts (1988), Nonlinear Regression Analysis, section 3.10: exact for linear models, close for
    nonlinear ones.
    """
    extra = df_small - df_large
    if extra < 1 or df_large < 1:
        raise ValueError(f"No test with {df_small} and {df_large} residual degrees of freedom.")
    if ss_large <= 0:
        return FTest(math.inf if ss_small > 0 else 0.0, extra, df_large, 0.0 if ss_small > 0 else 1.0)
    value = float(max(ss_small - ss_large, 0.0) / extra / (ss_large / df_large))
    return FTest(value, int(extra), int(df_large), float(special.fdtrc(extra, df_large, value)))


@dataclass(frozen=True)
class Critical:
    """A critical value for several comparisons together, and whose method it comes from."""

    value: float
    adjustment: Adjustment


def many_to_one_critical(own: npt.ArrayLike, shared: npt.ArrayLike, *, df: float, level: float = 0.95) -> Critical:
    """Two-sided critical value for k comparisons that share a reference, so that all their limits hold together.

    Comparison i is `own[i]^0.5 e_i + shared[i] . z`, over its standard deviation and a common Student scale, with
    e_i and z standard normal. Given z and the scale the comparisons are independent, so the joint probability is an
    integral over at most three dimensions, whatever k. Comparisons of like correlation are taken as alike.

    Source: Dunnett (1955), J. Am. Stat. Assoc. 50, 1096-1121, and (1964), Biometrics 20, 482-491.
    """
    single_var = np.asarray(own, dtype=float)
    k = len(single_var)
    single = t_critical(df, level)
    if k <= 1:
        return Critical(single, "none")
    load, alike = _grouped(np.asarray(shared, dtype=float).reshape(k, -1) / np.sqrt(single_var)[:, None])
    z, weight = _normal_nodes(load)
    shift, stretch = z @ load.T, np.sqrt(1 + (load**2).sum(axis=1))
    scale, scale_weight = _chi_nodes(df)

    @cache
    def outside(log_critical: float) -> float:
        """Log of the chance that some comparison is outside, less that wanted."""
        total = 0.0
        for s, part in zip(scale, scale_weight, strict=True):
            reach = math.exp(log_critical) * s * stretch
            inside = np.maximum(special.ndtr(shift + reach) - special.ndtr(shift - reach), 1e-300)
            total += part * float(weight @ np.exp(np.log(inside) @ alike))
        return math.log(max(1 - total, 1e-300) / (1 - level))

    bonferroni = t_critical(df, 1 - (1 - level) / k)
    if outside(math.log(bonferroni)) >= 0:  # an error of the integral at the very edge; this value is always safe
        return Critical(bonferroni, "Bonferroni")
    if outside(math.log(single)) <= 0:  # comparisons that share nearly everything are as good as one
        return Critical(single, "Dunnett")
    found = root_between(outside, math.log(single), math.log(bonferroni), near=NEAR_ENOUGH)
    return Critical(math.exp(found), "Dunnett")


def _grouped(load: Floats) -> tuple[Floats, Floats]:
    """Loadings (groups, m) of comparisons on what they share, and how many each stands for.

    Only the size of the correlations counts: turning the sign of all of one comparison's loadings turns its sign.
    """
    part = load / np.sqrt(1 + (load**2).sum(axis=1))[:, None]
    if load.shape[1] > 1 and np.abs(part[:, 1]).max() < FAINT:
        load = load[:, :1]
    load = load * np.where(load[:, :1] < 0, -1.0, 1.0)
    if len(load) <= MOST_GROUPS:
        return load, np.ones(len(load))
    part = load / np.sqrt(1 + (load**2).sum(axis=1))[:, None]
    step = 0.02
    while True:
        code = np.round(part / step).astype(np.int64) @ np.array([1, 1_000_003])[: load.shape[1]]
        group, alike = np.unique(code, return_inverse=True, return_counts=True)[1:]
        if len(alike) <= MOST_GROUPS:
            break
        step *= 1.5
    part = np.column_stack([np.bincount(group, weights=each) / alike for each in part.T])
    part *= np.minimum(1, 0.999999 / np.maximum(np.sqrt((part**2).sum(axis=1)), 1e-12))[:, None]
    return part / np.sqrt(1 - (part**2).sum(axis=1))[:, None], alike.astype(float)


def _chi_nodes(df: float) -> tuple[Floats, Floats]:
    """Nodes and weights for sqrt(chi-square / df): trapezoids in its normal scores, where it is smooth.

    15 steps give five digits of a critical value from 5 degrees of freedom on; the long tails of fewer need more. With
    a thousand of them the scale moves so little that three nodes of the Gauss-Hermite rule are enough.
    """
    if df >= 1000:
        score, weight = math.sqrt(3.0) * np.array([-1.0, 0.0, 1.0]), np.array([1.0, 4.0, 1.0])
    else:
        score = np.linspace(-5, 5, 15) if df >= 5 else np.linspace(-6, 6, 31 if df >= 3 else 61)
        weight = np.exp(-(score**2) / 2)
    return np.sqrt(2 * special.gammaincinv(df / 2, special.ndtr(score)) / df), weight / weight.sum()


def _normal_nodes(load: Floats) -> tuple[Floats, Floats]:
    """Nodes (q, m) and weights of a standard normal in one or two dimensions: trapezoids, which converge fast here.

    Their steps follow the steepest comparison. Opposite nodes say the same, so half of them do.
    """
    steep = np.abs(load).max(axis=0).tolist()
    steps = [2 * min(max(9, math.ceil(4 * each)), 80 if len(steep) == 1 else 20) for each in steep]
    if len(steps) == 1:
        line = np.linspace(0, 5, steps[0] // 2 + 1)[:, None]
        weight = np.exp(-(line[:, 0] ** 2) / 2)
        weight[0] /= 2
        return line, weight / weight.sum()
    first = np.linspace(0, 5, steps[0] // 2 + 1)
    second = np.linspace(-5, 5, steps[1] + 1)
    weights = np.outer(np.exp(-(first**2) / 2), np.exp(-(second**2) / 2))
    weights[0] /= 2
    product = weights.ravel() / weights.sum()
    heavy = product > 1e-7  # the corners together weigh less than a hundred-thousandth
    nodes = np.column_stack([each.ravel() for each in np.meshgrid(first, second, indexing="ij")])
    return nodes[heavy], product[heavy] / product[heavy].sum()


@dataclass(frozen=True, eq=False)
class PartlyKnown:
    """Limits where a variance beside that of catches is known in part: a distribution over it, arrays of shape (g,)."""

    variance: Floats
    catch: Floats  # Variance of catches that goes with each
    weight: Floats  # Of each; they add up to 1
    df: int  # Degrees of freedom of Student's t, given the variances
    base: float  # Variance of catches that totals are worked out with
    level: float  # Probability of the limits

    def half(self, total: Floats, share: Floats, critical: float) -> Floats:
        """Half the width of limits of estimates with a total variance by catches and a share of the other one.

        Each is Student's t, averaged over the other variance. Comparisons together count as so many that are apart as
        the joint critical value says.
        """
        chance = 2 * float(special.stdtr(self.df, critical)) - 1
        many = max(math.log(self.level) / math.log(chance), 1.0) if chance < 1 else 1.0
        least = SMALL_SHARE / max(float(self.variance.max()), 1e-300)
        part = np.log(np.maximum(share / total, least))
        points = np.unique(part) if len(part) <= SHARES else np.linspace(part.min(), part.max(), SHARES)
        sizes = np.sqrt(self.catch / self.base + np.exp(points)[:, None] * self.variance)
        low, high = (np.full(len(points), each) for each in (0.0, critical * float(sizes.max()) + critical))
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            inside = (2 * special.stdtr(self.df, middle[:, None] / sizes) - 1) ** many @ self.weight
            low, high = np.where(inside < self.level, middle, low), np.where(inside < self.level, high, middle)
        return np.asarray(np.exp(np.interp(part, points, np.log((low + high) / 2))) * np.sqrt(total), dtype=np.float64)
