"""Weights too equal to be true: rows written twice, repeats without scatter, rows that were not weighed one by one."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
from scipy.special import betainc, gammainc

from predictor.domain.control import Floats
from predictor.domain.drill import CatchDefaults
from predictor.domain.trials import Trials
from predictor.slips.finding import Finding
from predictor.slips.seen import Seen, alike
from predictor.slips.weigh import LIKELY, probability, spoils_lock
from predictor.units import GRAMS

# How often rows are copied, repeats written down without weighing, a catch divided by its rows and weights rounded;
# judgement. The first is so small that one pair of equal weights on an ordinary scale is no alarm.
COPIED, NOT_WEIGHED, DIVIDED, ROUNDED = 0.001, 0.01, 0.02, 0.05
# No box repeats better than this: 0.3 to 5.5 % in Yazgi et al. 2017 and 2025 (named beside `COLD` in curves/prior.py).
TAMEST = 0.003
# So many different weights beyond the first at their settings tell how a box scatters, copies or not; judgement.
TELLING = 5
# Rounding to a step below this share of the smallest catch changes nothing that matters; judgement.
COARSE = 0.04
# Steps people round to, and those of scales that show ounces or pounds, in grams.
OUNCES, POUNDS = (0.05, 0.1, 1 / 8, 0.25, 0.5, 1.0), (0.01, 0.02, 0.05, 0.1)
ROUND_STEPS = (0.5, 1.0, 5.0, 10.0, *(GRAMS["oz"] * each for each in OUNCES), *(GRAMS["lb"] * each for each in POUNDS))
ROW_SPREAD = 0.07  # How rows of one drill differ; source in advice/evidence.py
ORDINARY = CatchDefaults().turns * CatchDefaults().rows  # Of a catch that the repeatability refers to
# Columns that make two rows alike.
CELLS = ("setting", "opening", "catch_g", "turns", "rows", "date", "fill_pct", "target_g", "tare_g", "operator", "note")


def look(seen: Seen) -> tuple[Finding, ...]:
    """Copies, repeats that are too equal, divided rows and rounded weights."""
    found = (_copies(seen), _too_equal(seen), _divided(seen), _rounded(seen))
    return tuple(each for each in found if each is not None)


def equal_rows(used: Trials) -> tuple[tuple[int, int], ...]:
    """Lines of the rows that are alike in all cells, in pairs: the first of them and a later one."""
    return tuple((int(used.line[i]), int(used.line[j])) for i, j in _alike(used))


def _alike(used: Trials) -> list[tuple[int, int]]:
    """Each row that is alike an earlier one in all cells, with that one, by index."""
    first: dict[tuple[object, ...], int] = {}
    pairs = []
    for j, key in enumerate(_keys(used, CELLS)):
        i = first.setdefault((*key, used.rows_g[j], used.parts_g[j]), j)
        if i != j:
            pairs.append((i, j))
    return pairs


def _keys(used: Trials, names: tuple[str, ...]) -> list[tuple[object, ...]]:
    columns = [getattr(used, name).tolist() for name in names]
    return [tuple(None if value != value else value for value in row) for row in zip(*columns, strict=True)]


def shown_step(seen: Seen) -> float:
    """The step that the weights show, in grams: that of the scale, or the one that all were rounded to."""
    step, grams = seen.defaults.scale_resolution_g, seen.used.catch_g
    fits = [
        each for each in ROUND_STEPS if each > step and np.allclose(grams, np.round(grams / each) * each, atol=1e-6)
    ]
    return max(fits, default=step)


def _copies(seen: Seen) -> Finding | None:
    """Rows that are alike an earlier one, more of them than equal weights make likely."""
    used, pairs = seen.used, _alike(seen.used)
    if not pairs:
        return None
    later = [j for _, j in pairs]
    chance = probability(COPIED, _copied_factor(seen, pairs))
    if chance < LIKELY:
        return None
    kept = ~np.isin(np.arange(len(used)), later)
    waits = spoils_lock(seen, seen.refit(used.where(kept)))
    lines = tuple(used.line[later].tolist())
    values = {"first": tuple(int(used.line[i]) for i, _ in pairs), "copies": len(pairs)}
    return Finding("copies", seen.box.name, seen.lot, lines, chance, waits, values)


def _copied_factor(seen: Seen, pairs: list[tuple[int, int]]) -> float:
    """How many times as probable such pairs are among copies as among catches, a logarithm."""
    earlier, equal = _equal_by_chance(seen)
    apart = np.array([bool(rows or parts) for rows, parts in zip(seen.used.rows_g, seen.used.parts_g, strict=True)])
    # a row that goes on where the one before it was alike, as in a pasted block, has only one row to be alike
    every = set(pairs)
    going_on = {j for i, j in pairs if (i - 1, j - 1) in every}
    log_factor, count = 0.0, len(going_on)
    if count:  # as many as that or more: each pair but the first may go on, by chance as often as weights are equal
        others = max(len(pairs) - 1, count)
        usual = float(equal[[j for _, j in pairs]].mean())
        log_factor -= float(np.log(max(betainc(count, others - count + 1, usual), 1e-300)))
    for kind in (False, True):
        count = sum(bool(apart[j]) == kind for _, j in pairs if j not in going_on)
        if count:  # as many as that or more, if their number is Poisson's
            usual = max(float((earlier * equal)[apart == kind].sum()), 1e-12)
            log_factor -= float(np.log(max(gammainc(count, usual), 1e-300)))
    return log_factor


def _equal_by_chance(seen: Seen) -> tuple[Floats, Floats]:
    """For each row, how many earlier ones are alike but for the weights, and the chance that those are alike; (n,)."""
    used, step = seen.used, shown_step(seen)
    keys = _keys(used, tuple(name for name in CELLS if name != "catch_g"))
    before: Counter[tuple[object, ...]] = Counter()
    earlier = np.zeros(len(keys))
    for j, key in enumerate(keys):
        earlier[j] = before[key]
        before[key] += 1
    scatter = _scatter(seen)
    chance = _equal(step, scatter * used.catch_g)
    for j in range(len(used)):
        single = used.rows_g[j] or used.parts_g[j]
        if single is not None:
            chance[j] = float(np.prod(_equal(step, scatter * np.sqrt(len(single)) * np.asarray(single))))
    return earlier, chance


def _scatter(seen: Seen) -> float:
    """How catches scatter, where copies may make it seem less."""
    usual = max(seen.curve.spread, min(cv for _, cv, _ in seen.prior.repeatability) / 2)
    used, grams = seen.used, seen.used.catch_g
    group, _ = alike(used.opening, used.turns, used.rows)
    count = np.bincount(group)
    squares = float(((grams / (np.bincount(group, grams) / count)[group] - 1) ** 2).sum())
    df = len(grams) - len(count)
    apart = len(set(zip(group.tolist(), grams.tolist(), strict=True))) - len(count)
    # a very even box gives equal weights again and again, which only weights that differ can tell from copies
    return min(usual, max(float(np.sqrt(squares / df)), TAMEST)) if apart >= TELLING else usual


def _equal(step: float, spread: Floats) -> Floats:
    """Probability that two weights of a spread show the same on a scale of a step."""
    return np.asarray(np.minimum(step / np.maximum(2 * np.sqrt(np.pi) * spread, 1e-12), 1.0))


def _too_equal(seen: Seen) -> Finding | None:
    """Repeats that scatter less than those of any box, the step of the scale allowed for."""
    used, step = seen.used, shown_step(seen)
    groups: dict[tuple[object, ...], list[int]] = {}
    for i, key in enumerate(_keys(used, ("opening", "turns", "rows"))):
        groups.setdefault(key, []).append(i)
    square = df = 0.0
    inside: list[int] = []
    for group in groups.values():
        if len(group) > 1:
            logs = np.log(used.catch_g[group])
            size = float(used.turns[group[0]] * used.rows[group[0]])
            reading = float(np.mean((step / used.catch_g[group]) ** 2)) / 6
            square += (float(((logs - logs.mean()) ** 2).sum()) + (len(group) - 1) * reading) * max(
                size / ORDINARY, 1.0
            )
            df += len(group) - 1
            inside += group
    if df < 2:
        return None
    as_little = float(gammainc(df / 2, square / TAMEST**2 / 2))
    chance = probability(NOT_WEIGHED, -float(np.log(max(as_little, 1e-300))))
    if chance < LIKELY:
        return None
    alone = seen.refit(used.where(np.isin(np.arange(len(used)), [group[0] for group in groups.values()])))
    lines = tuple(used.line[sorted(inside)].tolist())
    values = {"cv": float(np.sqrt(square / df)), "usual": seen.prior.typical_cv}
    return Finding("too-equal", seen.box.name, seen.lot, lines, chance, spoils_lock(seen, alone), values)


def _divided(seen: Seen) -> Finding | None:
    """Single rows that weigh the same to the last digit: a catch divided by its rows tells nothing of them."""
    used, step = seen.used, seen.defaults.scale_resolution_g
    weighed = [(i, rows) for i, rows in enumerate(used.rows_g) if rows is not None and len(rows) > 1]
    alike = [i for i, rows in weighed if max(rows) - min(rows) < step / 2]
    log_factor = 0.0
    for i in alike:
        rows = np.asarray(used.rows_g[i])
        log_factor -= float(np.log(np.maximum(_equal(step, ROW_SPREAD * rows[1:]), 1e-12)).sum())
    chance = probability(DIVIDED, log_factor) if alike else 0.0
    if chance < LIKELY:
        return None
    without = replace(used, rows_g=tuple(None if i in alike else rows for i, rows in enumerate(used.rows_g)))
    values = {"rows": len(used.rows_g[alike[0]] or ()), "grams": (used.rows_g[alike[0]] or (0.0,))[0]}
    lines = tuple(used.line[alike].tolist())
    return Finding("divided", seen.box.name, seen.lot, lines, chance, spoils_lock(seen, seen.refit(without)), values)


def _rounded(seen: Seen) -> Finding | None:
    """Weights rounded to more than the scale shows, where that matters: told, and nothing waits for it."""
    used, shown = seen.used, shown_step(seen)
    step = seen.defaults.scale_resolution_g
    if shown <= step or shown < COARSE * float(used.catch_g.min()):
        return None
    chance = probability(ROUNDED, len(used) * float(np.log(shown / step)))
    if chance < LIKELY or len(used) < 4:
        return None
    lines = tuple(used.line.tolist())
    return Finding("rounded", seen.box.name, seen.lot, lines, chance, False, {"shown": shown, "step": step})
