"""Limits by Student's t, of ratios, of several comparisons at once; the F test of nested fits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

from predictor.domain.control import Floats

# Above this many comparisons the joint integral changes nothing that a technician could see: with many lots against
# one well-caught reference, Dunnett's and Sidak's critical values agree within about one per cent.
DUNNETT_LOTS = 40


Adjustment = Literal["Dunnett", "Sidak", "Bonferroni", "none"]


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
    integral over at most three dimensions, whatever k.

    Source: Dunnett (1955), J. Am. Stat. Assoc. 50, 1096-1121, and (1964), Biometrics 20, 482-491. Sidak (1967), J.
    Am. Stat. Assoc. 62, 626-633.
    """
    single_var = np.asarray(own, dtype=float)
    k = len(single_var)
    single = t_critical(df, level)
    if k <= 1:
        return Critical(single, "none")
    if k > DUNNETT_LOTS:  # as if the comparisons shared nothing: then all are alike
        name: Adjustment = "Sidak"
        shift, stretch, weight, alike = np.zeros((1, 1)), np.ones(1), np.ones(1), k
    else:
        name, alike = "Dunnett", 1
        common = np.asarray(shared, dtype=float).reshape(k, -1)
        z, weight = _normal_nodes(common.shape[1])
        shift = (z @ common.T) / np.sqrt(single_var)
        stretch = np.sqrt((single_var + (common**2).sum(axis=1)) / single_var)
    scale, scale_weight = _chi_nodes(df)

    def excess(critical: float) -> float:
        total = 0.0
        for s, part in zip(scale, scale_weight, strict=True):
            reach = critical * s * stretch
            inside = special.ndtr(shift + reach) - special.ndtr(shift - reach)
            total += part * float(weight @ inside.prod(axis=1) ** alike)
        return total - level

    bonferroni = t_critical(df, 1 - (1 - level) / k)
    if excess(bonferroni) <= 0:  # an error of the integral at the very edge; Bonferroni's value is always safe
        return Critical(bonferroni, "Bonferroni")
    if excess(single) >= 0:  # comparisons that share nearly everything are as good as one
        return Critical(single, name)
    return Critical(float(optimize.brentq(excess, single, bonferroni, xtol=1e-7)), name)


def _chi_nodes(df: float) -> tuple[Floats, Floats]:
    """Nodes and weights for sqrt(chi-square / df): trapezoids in its normal scores, where it is smooth.

    15 steps give five digits of a critical value from 5 degrees of freedom on; the long tails of fewer need more.
    """
    score = np.linspace(-5, 5, 15) if df >= 5 else np.linspace(-6, 6, 61)
    weight = np.exp(-(score**2) / 2)
    return np.sqrt(2 * special.gammaincinv(df / 2, special.ndtr(score)) / df), weight / weight.sum()


def _normal_nodes(m: int) -> tuple[Floats, Floats]:
    """Nodes (q, m) and weights of a standard normal in one or two dimensions: trapezoids, which converge fast here."""
    line = np.linspace(-5.5, 5.5, 161 if m == 1 else 45)
    weight = np.exp(-(line**2) / 2)
    weight /= weight.sum()
    if m == 1:
        return line[:, None], weight
    first, second = np.meshgrid(line, line, indexing="ij")
    product = np.outer(weight, weight).ravel()
    heavy = product > 1e-8  # the corners together weigh less than a hundred-thousandth
    return np.column_stack([first.ravel(), second.ravel()])[heavy], product[heavy] / product[heavy].sum()
