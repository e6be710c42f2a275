"""Ratios of two estimates, tests between two nested fits, and limits that hold for many comparisons at once."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import optimize, special

# Above this many comparisons the joint quadrature buys nothing that a technician could see: with k lots against one
# well-caught reference Dunnett's and Sidak's critical values agree within about one per cent.
DUNNETT_LOTS = 40


@dataclass(frozen=True)
class RatioLimits:
    """A ratio with the set of values that the data do not rule out."""

    estimate: float
    pieces: tuple[tuple[float, float], ...]

    @property
    def bounded(self) -> bool:
        """Whether the data bound the ratio on both sides."""
        return len(self.pieces) == 1 and all(math.isfinite(end) for end in self.pieces[0])

    @property
    def around(self) -> tuple[float, float]:
        """The piece that holds the estimate."""
        for low, high in self.pieces:
            if low <= self.estimate <= high:
                return low, high
        return -math.inf, math.inf


def fieller(top, bottom, *, var_top, var_bottom, cov=0.0, critical) -> RatioLimits:
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


def compare_fits(ss_small, df_small, ss_large, df_large) -> FTest:
    """Whether a larger model fits better than one nested in it, by the extra sum of squares.

    Source: Bates and Watts (1988), Nonlinear Regression Analysis, section 3.10: exact for linear models, close for
    nonlinear ones.
    """
    extra = df_small - df_large
    if extra < 1 or df_large < 1:
        raise ValueError(f"No test with {df_small} and {df_large} residual degrees of freedom.")
    if ss_large <= 0:
        return FTest(math.inf if ss_small > 0 else 0.0, extra, df_large, 0.0 if ss_small > 0 else 1.0)
    value = max(ss_small - ss_large, 0.0) / extra / (ss_large / df_large)
    return FTest(float(value), int(extra), int(df_large), float(special.fdtrc(extra, df_large, value)))


def exp_or_none(value: float) -> float | None:
    """A ratio from its logarithm."""
    return math.exp(value) if math.isfinite(value) and value < 700 else None


def t_critical(df: float, level: float) -> float:
    """Two-sided critical value of Student's t."""
    return float(special.stdtrit(df, 0.5 + level / 2))


@dataclass(frozen=True)
class Critical:
    """A critical value for several comparisons together."""

    value: float
    adjustment: str  # What it comes from


def many_to_one_critical(own, shared, *, df, level=0.95) -> Critical:
    """Two-sided critical value for k comparisons that share a reference, all holding together.

    Comparison i is `own[i]^0.5 e_i + shared[i] . z`, over its standard deviation and a common Student scale, with
    e_i and z standard normal. Given z and the scale the comparisons are independent, so the joint probability is an
    integral over at most three dimensions, whatever k.

    Source: Dunnett (1955), J. Am. Stat. Assoc. 50, 1096-1121, and (1964), Biometrics 20, 482-491. Sidak (1967), J.
    Am. Stat. Assoc. 62, 626-633.
    """
    own = np.asarray(own, dtype=float)
    shared = np.asarray(shared, dtype=float).reshape(len(own), -1)
    k = len(own)
    single = t_critical(df, level)
    if k <= 1:
        return Critical(single, "none")
    bonferroni = t_critical(df, 1 - (1 - level) / k)
    scale, scale_weight = _chi_nodes(df)
    if k > DUNNETT_LOTS:

        def joint(c: float) -> float:
            inside = special.erf(c * scale / math.sqrt(2))
            return float(scale_weight @ inside**k)

    else:
        z, z_weight = _normal_nodes(shared.shape[1])
        shift = (z @ shared.T) / np.sqrt(own)
        stretch = np.sqrt((own + (shared**2).sum(axis=1)) / own)

        def joint(c: float) -> float:
            total = 0.0
            for s, weight in zip(scale, scale_weight, strict=True):
                reach = c * s * stretch
                inside = special.ndtr(shift + reach) - special.ndtr(shift - reach)
                total += weight * float(z_weight @ inside.prod(axis=1))
            return total

    if joint(bonferroni) <= level:  # quadrature error at the very edge; Bonferroni is always safe
        return Critical(bonferroni, "Bonferroni")
    name = "Sidak" if k > DUNNETT_LOTS else "Dunnett"
    if joint(single) >= level:  # comparisons that share nearly everything are as good as one
        return Critical(single, name)
    return Critical(float(optimize.brentq(lambda c: joint(c) - level, single, bonferroni, xtol=1e-7)), name)


def _chi_nodes(df: float) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights for sqrt(chi-square / df): trapezoids in its normal scores, where it is smooth.

    15 steps give five digits of a critical value from 5 degrees of freedom on; the long tails of fewer need more.
    """
    score = np.linspace(-5, 5, 15) if df >= 5 else np.linspace(-6, 6, 61)
    weight = np.exp(-(score**2) / 2)
    return np.sqrt(2 * special.gammaincinv(df / 2, special.ndtr(score)) / df), weight / weight.sum()


def _normal_nodes(m: int) -> tuple[np.ndarray, np.ndarray]:
    """Nodes (q, m) and weights of a standard normal in m dimensions: trapezoids, which converge fast here."""
    line = np.linspace(-5.5, 5.5, 161 if m == 1 else 45)
    weight = np.exp(-(line**2) / 2)
    weight /= weight.sum()
    if m == 1:
        return line[:, None], weight
    first, second = np.meshgrid(line, line, indexing="ij")
    product = np.outer(weight, weight).ravel()
    heavy = product > 1e-8  # the corners together weigh less than a hundred-thousandth
    return np.column_stack([first.ravel(), second.ravel()])[heavy], product[heavy] / product[heavy].sum()
