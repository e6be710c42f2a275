"""Which catches count, which contradict the rest, and what the single rows of a catch tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtr

from predictor.curves.base import Curve
from predictor.curves.shapes import Prior, ShapeCurve, kind_evidence
from predictor.trials import Trials

# A catch is named when a scatter like its own would turn up by chance this rarely among all catches (Bonferroni).
SUSPICIOUS = 0.01
# Rows of one drill differ by 1 to 10 % (Yazgi et al. 2017 and 2025, between row units); taken as 4 %, worth two rows.
ROW_SPREAD, ROW_SPREAD_WORTH = 0.04, 2.0
# Rows filled from one box rise and fall together, so their differences understate how catches differ: half their count.
ROWS_WORTH = 0.5


@dataclass(frozen=True)
class RowDifferences:
    """What single-row weights say.

    Attributes
    ----------
    spread : float
        Standard deviation between rows, as a fraction.
    mean_variance : float
        Variance it leaves in the whole drill's rate, a fraction squared; repeating the same rows does not reduce it.
    cv, cv_worth : float
        Repeatability of a catch as the rows tell it, and the degrees of freedom it is counted for; NaN and 0 with one
        catch.
    rows : int
        Rows caught.
    drill_rows : int
    """

    spread: float
    mean_variance: float
    cv: float
    cv_worth: float
    rows: int
    drill_rows: int

    def variance_with(self, rows: int) -> float:
        """Variance left in the whole drill's rate if `rows` rows were caught."""
        return self.spread**2 / rows * (1 - rows / self.drill_rows)


def left_out(trials: Trials) -> list[str]:
    """A sentence for each catch that does not enter the curve, and why."""
    sentences = []
    for i in np.flatnonzero(~trials.counts):
        note = f" ({trials.note[i]})" if trials.note[i] else ""
        if not trials.use[i]:
            why = f"left out as you marked it{note}"
        elif not trials.charged[i]:
            why = "left out: the meters were not charged"
        else:
            why = "left out: it weighed nothing. A plugged row, a closed gate? Check, and catch again"
        sentences.append(f"{place(trials, i)}, {trials.catch_g[i]:.4g} g at {trials.setting[i]}: {why}.")
    return sentences


def place(trials: Trials, i: int) -> str:
    """Where a catch stands, for a sentence."""
    return f"Line {trials.line[i]}" if trials.line[i] else f"Catch {i + 1}"


def suspicious(trials: Trials, curve: Curve, prior: Prior) -> np.ndarray:
    """Catches that contradict the rest.

    Parameters
    ----------
    trials : Trials
        Those the curve was fitted to.
    curve : Curve
    prior : Prior
        Its repeatability counts too, so that two catches can contradict each other.

    Returns
    -------
    ndarray of int
        Their positions, worst first.

    Notes
    -----
    Externally studentised residuals of log output, two-sided Student-t tails times the number of catches (Bonferroni),
    averaged over the kinds of repeatability that the other catches leave possible.

    References
    ----------
    Cook & Weisberg (1982), Residuals and Influence in Regression, 2.2 (cited from memory).
    """
    n = len(trials)
    if n < 2:
        return np.array([], dtype=int)
    settings, inverse = np.unique(trials.opening, return_inverse=True)
    if isinstance(curve, ShapeCurve):
        centre = curve.log_centre(settings)
    else:
        centre = np.log(np.maximum(np.asarray(curve.mean(settings)), 1e-300))
    residual = np.log(trials.output) - centre[inverse]
    leverage = np.minimum((1.0 + _shape_leverage(curve, settings)[inverse]) / n, 0.95)
    own = residual**2 / (1 - leverage)
    rest = np.maximum(float(residual @ residual) - own, 0.0)
    kinds = [(share, worth, worth * cv**2) for share, cv, worth in prior.repeatability]
    log_weight = kind_evidence(rest, n - 1, kinds)
    weight = np.exp(log_weight - log_weight.max(axis=0))
    weight /= weight.sum(axis=0)
    tail = np.zeros(n)
    for share, (_, worth, square) in zip(weight, kinds, strict=True):
        df = worth + n - 2
        tail += share * 2 * stdtr(df, -np.sqrt(own / ((square + rest) / df)))
    found = np.flatnonzero(tail * n < SUSPICIOUS)
    # two that contradict each other weigh the same: the later one is named, since it can be repeated as it stands
    return found[np.lexsort((-found, tail[found].round(12)))]


def _shape_leverage(curve: Curve, settings: np.ndarray) -> np.ndarray:
    """How strongly each setting pulls the dead setting, relative to an average catch; 1 in the middle of a line."""
    if not isinstance(curve, ShapeCurve) or len(settings) < 2:
        return np.zeros(len(settings))
    dead = float(curve.weight @ curve.dead)
    pull = 1.0 / np.maximum(settings - dead, 1e-3 * (settings.max() - dead))
    off = pull - pull.mean()
    total = float(np.mean(off**2))
    return off**2 / total if total > 0 else np.zeros(len(settings))


def row_differences(trials: Trials, cv: float, drill_rows: int | None) -> RowDifferences | None:
    """What the single rows say, from catches of the same number of rows.

    Parameters
    ----------
    trials : Trials
    cv : float
        Repeatability expected of a whole catch: with one catch it is what the rows cannot tell from their differences.
    drill_rows : int or None
        Rows of the drill; without it nothing is said.

    Returns
    -------
    RowDifferences or None

    Notes
    -----
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
    variance = square / count * max(1 - count / drill_rows, 0.0)
    return RowDifferences(float(np.sqrt(square)), variance, own_cv, worth, count, drill_rows)
