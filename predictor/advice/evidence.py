"""Which catches count, which contradict the rest, and what the single rows of a catch tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import stdtr

from predictor.curves.base import Curve
from predictor.curves.prior import Prior, Repeatability
from predictor.domain.trials import Trials

# A catch is named when a scatter like its own would turn up by chance this rarely among all catches (Bonferroni).
SUSPICIOUS = 0.01
# A row that gives less than this share of the middle row is plugged, or as good as; common practice.
PLUGGED = 0.5
MOST_CANDIDATES = 40
# One that was repeated since, and its repeat agrees with the rest, is set aside only at this: a wild box scatters too.
SURELY_WRONG = 1e-4
# Rows of one drill differ by 1 to 10 % (between row units: Yazgi et al. 2017, Applied Engineering in Agriculture 33(1),
# 63-71, and 2025, PeerJ 13:e19014, both read); taken as 4 %, worth two rows.
ROW_SPREAD, ROW_SPREAD_WORTH = 0.04, 2.0
# Rows filled from one box rise and fall together, so their differences understate how catches differ: half their count.
ROWS_WORTH = 0.5


@dataclass(frozen=True)
class RowDifferences:
    """What single-row weights say."""

    spread: float  # Standard deviation between rows, as a fraction
    mean_variance: float
    cv: float
    cv_worth: float
    rows: int  # Rows caught
    drill_rows: int

    def variance_with(self, rows: int) -> float:
        """Variance left in the whole drill's rate if `rows` rows were caught."""
        return self.spread**2 / rows * (1 - rows / self.drill_rows)


def plugged_rows(trials: Trials) -> dict[int, tuple[int, ...]]:
    """Catches, by index, in which single rows gave nothing or less than half of the middle row: those rows, from 1."""
    found = {}
    for i, rows in enumerate(trials.rows_g):
        if rows is None or len(rows) < 2:
            continue
        usual = float(np.median(rows)) or max(rows)
        weak = tuple(k + 1 for k, grams in enumerate(rows) if grams < PLUGGED * usual)
        if weak:
            found[i] = weak
    return found


def named(trials: Trials, i: int) -> dict[str, Any]:
    """What a sentence needs to name a catch: its line in the file, its number among these, weight and setting."""
    return {
        "line": int(trials.line[i]),
        "number": i + 1,
        "grams": float(trials.catch_g[i]),
        "setting": str(trials.setting[i]),
    }


def suspicious(trials: Trials, curve: Curve, prior: Prior) -> list[tuple[int, float]]:
    """Catches by how they contradict the rest, worst first: index, and the chance of such scatter among so many.

    Externally studentised residuals of log output, two-sided Student-t tails times the number of catches (Bonferroni),
    averaged over the kinds of repeatability that the other catches leave possible.

    Source: Cook & Weisberg (1982), Residuals and Influence in Regression, 2.2 (cited from memory).
    """
    n = len(trials)
    if n < 2:
        return []
    shape, residual = curve.log_residuals(trials.opening, trials.output)
    # as the fit: noise of a catch as long as the last one
    size = trials.turns * trials.rows
    residual = residual * np.sqrt(size / size[-1])
    square_sum = (residual**2).sum(axis=1, keepdims=True)
    # only the farthest can be suspicious, and tails cost time
    far = np.argsort(shape @ residual**2)[::-1][:MOST_CANDIDATES]
    own = residual[:, far] ** 2 * n / (n - 1.0)
    rest = np.maximum(square_sum - own, 0.0)
    log_weight = Repeatability(prior.repeatability).evidence(rest, n - 2)
    weight = np.exp(log_weight - log_weight.max(axis=0))
    weight /= weight.sum(axis=0)
    tail = np.zeros(len(far))
    for share, (_, cv, worth) in zip(weight, prior.repeatability, strict=True):
        df = worth + n - 2
        tail += shape @ (share * 2 * stdtr(df, -np.sqrt(own / ((worth * cv**2 + rest) / df))))
    # two that contradict each other weigh the same: the later one is named, since it can be repeated as it stands
    return [(int(far[k]), float(tail[k] * n)) for k in np.lexsort((-far, tail.round(12)))]


def row_differences(trials: Trials, cv: float, drill_rows: int | None) -> RowDifferences | None:
    """What the single rows say, from catches of the same number of rows.

    Two-way analysis of variance of log row weights, catches by rows, the same rows each time.
    """
    weighed = [rows for rows in trials.rows_g if rows is not None and min(rows) > 0]
    if not weighed or drill_rows is None:
        return None
    count = len(weighed[-1])
    logs = np.log([rows for rows in weighed if len(rows) == count])
    if count < 2:
        return None
    catches = len(logs)
    logs = logs - logs.mean(axis=1, keepdims=True)
    effects = logs.mean(axis=0)
    between = float(effects @ effects) / (count - 1)
    if catches > 1:
        df = (catches - 1) * (count - 1)
        within = float(((logs - effects) ** 2).sum()) / df
        own_cv, worth = float(np.sqrt(within / count)), ROWS_WORTH * df
    else:
        within, own_cv, worth = count * cv**2, float("nan"), 0.0
    seen = max(between - within / catches, 0.0)
    square = (ROW_SPREAD_WORTH * ROW_SPREAD**2 + (count - 1) * seen) / (ROW_SPREAD_WORTH + count - 1)
    if catches == 1:  # one catch cannot tell rows from noise, so it does not make the rows more alike than usual
        square = max(square, ROW_SPREAD**2)
    variance = square / count * max(1 - count / drill_rows, 0.0)
    return RowDifferences(float(np.sqrt(square)), variance, own_cv, worth, count, drill_rows)
