"""Which catches count, which contradict the rest, and what the parts and single rows of a catch tell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.special import ndtri

from predictor.curves.base import Curve
from predictor.curves.bent import ShapeCurve
from predictor.curves.catches import Inside
from predictor.domain.catch import wheel_turns
from predictor.domain.control import Floats
from predictor.domain.drill import CatchDefaults
from predictor.domain.trials import Trials

# A catch is named when a scatter like its own would turn up by chance this rarely among all catches (Bonferroni).
SUSPICIOUS = 0.01
# So many times the expected weight is a slip rather than scatter, if it is unlikely besides.
MANY_TIMES, UNLIKELY = 3.0, 0.2
# Only catches far off the curve of all are held against the curve of the others, at most so many. One odd catch of n
# lies at most sqrt(n - 1) standard deviations off, since it is part of their spread; here a share of that is enough.
LEAST_OFF, LEAST_OFF_OF_THREE, MOST_LOOKED_AT = 0.6, 1.1, 4
# So near to what the catch before gives in proportion, a log ratio, no catch contradicts it.
OUTRIGHT = 0.06
# A row that gives less than this share of the middle row is plugged, or as good as; common practice.
PLUGGED = 0.5
# One that was repeated since, and its repeat agrees with the rest, is set aside only at this: a wild box scatters too.
SURELY_WRONG = 1e-4
# Rows of one drill differ by 1 to 17 %; the median of the mid-ranges that four sources print is 6.9 %.
# Yazgi et al. 2017, Applied Engineering in Agriculture 33(1), 63-71, and 2025, PeerJ 13:e19014, abstracts read; a PAMI
# test of 2018 as a newspaper reported it, read. None is of chaffy seed. Taken as worth two rows; judgement.
ROW_SPREAD, ROW_SPREAD_WORTH = 0.07, 2.0
# Turns times rows of an ordinary catch, to which the repeatability refers.
ORDINARY = CatchDefaults().turns * CatchDefaults().rows
# Weights of each catch in single rows or parts, where it was weighed so.
Apart = tuple[tuple[float, ...] | None, ...]


def lengths(trials: Trials) -> Floats:
    """How many ordinary catches each is as long as."""
    sizes = np.asarray(trials.turns * trials.rows / ORDINARY)
    there, drill = set(trials.box.tolist()), trials.drill
    boxes = [] if drill is None else [box for box in drill.boxes if box.name in there]
    others = {box.name: turns for box in boxes if drill and (turns := wheel_turns(drill, box)) != 1}
    return sizes * [others.get(name, 1.0) for name in trials.box.tolist()] if others else sizes


@dataclass(frozen=True)
class RowDifferences:
    """What single-row weights say of the rows that were not caught."""

    spread: float  # Standard deviation between rows, as a fraction
    mean_variance: float
    rows: int  # Rows caught
    box_rows: int

    def variance_with(self, rows: int) -> float:
        """Variance left in the whole drill's rate if `rows` rows were caught."""
        return self.spread**2 / rows * (1 - rows / self.box_rows)


def plugged_rows(trials: Trials) -> dict[int, tuple[int, ...]]:
    """Catches, by index, in which single rows gave nothing or less than half of the middle row: those rows, from 1."""
    found = {}
    for i, rows in enumerate(trials.rows_g):
        if rows is None or len(rows) < 2:
            continue
        ordered, half = sorted(rows), len(rows) // 2
        usual = (ordered[half] + ordered[-1 - half]) / 2 or ordered[-1]  # the median, quickly
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


@dataclass(frozen=True)
class Contradiction:
    """How a catch differs from what the curve of the others expects of it."""

    i: int
    chance: float  # Of such a scatter by chance, among so many catches
    ratio: float  # Its weight over the expected one
    others: Curve = field(repr=False, compare=False)  # The curve of the other catches

    @property
    def named(self) -> bool:
        """Whether it is to be named: it hardly comes by chance, or is many times off and unlikely besides."""
        return self.chance < SUSPICIOUS or (max(self.ratio, 1 / self.ratio) >= MANY_TIMES and self.chance < UNLIKELY)


def suspicious(trials: Trials, curve: Curve, others: Callable[[int], Curve]) -> list[Contradiction]:
    """Catches by how they contradict the rest, worst first.

    Each is held against what the curve of the other catches expects of it, two-sided, times the number of catches
    (Bonferroni): what externally studentised residuals do for a line.

    Source: Cook & Weisberg (1982), Residuals and Influence in Regression, 2.2 (cited from memory).
    """
    n = len(trials)
    if n < 2:
        return []
    off = np.abs(noises_off(trials, curve))
    least = np.full(n, min(LEAST_OFF * np.sqrt(n - 1), float(ndtri(1 - UNLIKELY / n))))
    if n <= 3:  # so few bend the curve towards themselves: the last is held against the others unless it fits outright
        least[:] = np.inf if n == 2 else LEAST_OFF_OF_THREE
        least[-1] = np.inf if _fits_outright(trials) else 0.0
    # two that contradict each other weigh the same: the later one is named, since it can be repeated as it stands
    far = [i for i in np.lexsort((-np.arange(n), -off.round(6))).tolist() if off[i] >= least[i]]
    found = []
    for i in far[:MOST_LOOKED_AT]:
        expected = others(i)
        below = chance_below(expected, trials, i)
        # where the others say that nothing comes out, any catch is many times more
        ratio = float(trials.output[i]) / max(float(expected.mean(float(trials.opening[i]))), 1e-9 * trials.output[i])
        found.append(Contradiction(i, min(below, 1 - below) * 2 * n, ratio, expected))
    return sorted(found, key=lambda each: round(each.chance, 9))


def _fits_outright(trials: Trials) -> bool:
    """Whether the last catch gives what the one before gives in proportion to the setting, near enough for any box."""
    (before, last), output = trials.opening[-2:].tolist(), trials.output[-2:]
    ratio = last / before if min(before, last) > 0 else 1.0 if before == last else np.inf
    return bool(abs(np.log(output[1] / output[0]) - np.log(ratio)) < OUTRIGHT) if ratio < np.inf else False


def noises_off(trials: Trials, curve: Curve) -> Floats:
    """How far each catch lies off a curve: log ratio over its noise."""
    sizes, which = np.unique(lengths(trials), return_inverse=True)
    x = trials.opening
    middle = curve.middles(x) if isinstance(curve, ShapeCurve) else np.log(np.maximum(curve.mean(x), 1e-300))
    off = np.log(trials.output) - middle
    return np.asarray(off / np.array([curve.noise_of(size) for size in sizes.tolist()])[which])


def chance_below(curve: Curve, trials: Trials, i: int) -> float:
    """Probability that a catch like catch i weighs no more than it did, by a curve."""
    return curve.probability_next(float(trials.opening[i]), float(trials.output[i]), float(lengths(trials)[i]))


def parts_inside(trials: Trials, step: float) -> Inside | None:
    """How parts of equal turns differ inside their catches; `step` is the smallest step of the scale, grams."""
    return _inside(list(_weighed_apart(trials.parts_g, lengths(trials)).values()), step, 0.0)


def rows_inside(trials: Trials, step: float) -> Inside | None:
    """How single rows differ inside their catches once what each row gives on average is taken out.

    Two-way analysis of variance of log row weights, catches by rows, the same rows each time.
    """
    logs, sizes, lasting = _same_rows(trials)
    return _inside([(logs - lasting, sizes)], step, 1.0) if len(logs) > 1 else None


def _inside(weighed: list[tuple[Floats, Floats]], step: float, common: float) -> Inside | None:
    """Sum of squares of an ordinary catch; `common` is how many catches' worth of means was taken out."""
    square = df = floor = 0.0
    catches = sum(len(logs) for logs, _ in weighed)
    for logs, sizes in weighed:
        scale = sizes / logs.shape[1]
        square += float(scale @ ((logs - logs.mean(axis=1, keepdims=True)) ** 2).sum(axis=1))
        floor += float(scale @ np.exp(-2 * logs).mean(axis=1)) * step**2 / 12
        df += len(logs) * (logs.shape[1] - 1) * (1 - common / catches)
    return Inside(square, df, floor / catches) if catches else None


def _weighed_apart(apart: Apart, sizes: Floats) -> dict[int, tuple[Floats, Floats]]:
    """Log weights of what was weighed apart, catches by pieces, and lengths of the catches, by the number of pieces."""
    place: dict[int, list[int]] = {}
    for i, pieces in enumerate(apart):
        if pieces is not None and len(pieces) > 1 and min(pieces) > 0:
            place.setdefault(len(pieces), []).append(i)
    return {number: (np.log(np.array([apart[i] for i in found])), sizes[found]) for number, found in place.items()}


def _same_rows(trials: Trials) -> tuple[Floats, Floats, Floats]:
    """Log row weights and lengths of the catches with as many rows as the last, and what is lasting in each row."""
    weighed = _weighed_apart(trials.rows_g, lengths(trials))
    if not weighed:
        return np.empty((0, 0)), np.empty(0), np.empty(0)
    last = next(len(rows) for rows in reversed(trials.rows_g) if rows is not None and len(rows) > 1 and min(rows) > 0)
    logs, sizes = weighed[last]
    return logs, sizes, (logs - logs.mean(axis=1, keepdims=True)).mean(axis=0)


def row_differences(trials: Trials, cv: float, box_rows: int | None) -> RowDifferences | None:
    """How rows differ lastingly, and what that leaves open in the rate of the whole drill."""
    logs, _, effects = _same_rows(trials)
    if not len(logs) or box_rows is None:
        return None
    catches, count = logs.shape
    between = float(effects @ effects) / (count - 1)
    if catches > 1:
        left = float(((logs - logs.mean(axis=1, keepdims=True) - effects) ** 2).sum())
        within = left / ((catches - 1) * (count - 1))
    else:
        within = count * cv**2
    seen = max(between - within / catches, 0.0)
    square = (ROW_SPREAD_WORTH * ROW_SPREAD**2 + (count - 1) * seen) / (ROW_SPREAD_WORTH + count - 1)
    if catches == 1:  # one catch cannot tell rows from noise, so it does not make the rows more alike than usual
        square = max(square, ROW_SPREAD**2)
    variance = square / count * max(1 - count / box_rows, 0.0)
    return RowDifferences(float(np.sqrt(square)), variance, count, box_rows)
