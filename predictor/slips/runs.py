"""Several catches that are off together: from some catch on, on one day, by one person, or here and there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import lgamma, log
from typing import Literal

import numpy as np

from predictor.curves.base import Curve
from predictor.curves.bent import ShapeCurve
from predictor.domain.codes import codes_of
from predictor.domain.control import Floats
from predictor.domain.trials import Flags, Trials
from predictor.slips.causes import Cause, Range
from predictor.slips.finding import Finding
from predictor.slips.odd import EXPECTED, causes_of
from predictor.slips.seen import Seen
from predictor.slips.weigh import LIKELY, log_times, probability, spoils_lock
from predictor.units import GRAMS

How = Literal["from", "to", "date", "operator", "some"]

# How often catches are off together in a lot: in a row, or here and there; judgement.
IN_A_ROW, HERE_AND_THERE = 0.01, 0.005
# Of those, the share with a factor that a known slip has, and with a container in them; the others may have any factor,
# whose logarithm has this standard deviation.
KNOWN, CONTAINER, SPREAD = 0.5, 0.15, 0.6
# A container weighs so much of an ordinary catch, give or take a factor; common practice.
CONTAINER_SHARE, CONTAINER_SPREAD = 0.3, 1.0
# Groups that differ by less than this log ratio, or whose difference takes away less than this share of the scatter,
# are not looked at; at most so many are.
LEAST_LOG_RATIO, LEAST_SHARE, MOST_LOOKED_AT = 0.14, 0.5, 4
LEAST_EACH = 2
# Of all splits the best by their sums alone; several may be of the same catches, so they are a few more.
MOST_SCREENED = 32
# What can be wrong with several catches in the same way.
COMMON = ("all_rows", "few_rows", "turns", "unit", "decimal", "container", "container_twice", "chain")


@dataclass(frozen=True)
class Group:
    """Catches that may be off together, against the others."""

    how: How
    mine: Flags  # Those off; the smaller group, or the later one
    prior: float  # Of one group of its kind, and the logarithm of how many there are
    log_choices: float
    share: float  # Of the scatter about a line through nothing that the difference takes away


def look(seen: Seen) -> tuple[Finding, ...]:
    """Catches that are off together, by a factor or by a container."""
    if len(seen.used) < 2 * LEAST_EACH:
        return ()
    groups = sorted(_groups(seen), key=lambda each: -each.share)[:MOST_LOOKED_AT]
    if not groups:
        return ()
    plain = _evidence(seen.refit(seen.used))
    weighed = [_weigh(seen, each, plain) for each in groups]
    chance, group, right = max(weighed, key=lambda each: each[0])
    return (_finding(seen, group, right, chance),) if chance >= LIKELY else ()


def _groups(seen: Seen) -> Iterator[Group]:
    """Groups whose catches differ from the others, by what they give in proportion to the opening."""
    used, n = seen.used, len(seen.used)
    logs = np.log(used.output) - np.log(
        np.maximum(used.opening - seen.control.lowest_opening, 1e-3 * seen.control.span)
    )
    found = dict[bytes, Group]()
    for how, flags, prior, log_choices in _splits(used, logs):
        mine = flags if flags.sum() * 2 <= n else ~flags
        if min(mine.sum(), (~mine).sum()) < LEAST_EACH:
            continue
        apart = abs(float(logs[mine].mean() - logs[~mine].mean()))
        inside = sum(float(((logs[each] - logs[each].mean()) ** 2).sum()) for each in (mine, ~mine))
        share = 1 - inside / max(float(((logs - logs.mean()) ** 2).sum()), 1e-300)
        if apart >= LEAST_LOG_RATIO and share >= LEAST_SHARE:
            found.setdefault(mine.tobytes(), Group(how, mine, prior, log_choices, share))
    return iter(found.values())


def _splits(used: Trials, logs: Floats) -> Iterator[tuple[How, Flags, float, float]]:
    """Ways to tell some catches from the others that may be worth it, with the prior and the log number of its kind."""
    n, place, off = len(used), np.arange(len(used)), logs - logs.mean()
    first = np.arange(LEAST_EACH, n - LEAST_EACH + 1)
    for k in first[_best(n - first, np.cumsum(off[::-1])[::-1][first], n)].tolist():
        yield "from" if 2 * k >= n else "to", place >= k, IN_A_ROW, log(len(first))
    names: tuple[Literal["date", "operator"], ...] = ("date", "operator")
    for how in names:
        values, which = codes_of(used, how)
        told = np.flatnonzero([value != "" for value in values])
        if len(told) > 1:
            best = _best(np.bincount(which)[told], np.bincount(which, weights=off)[told], n)
            for each in told[best].tolist():
                yield how, which == each, IN_A_ROW, log(len(told))
    ranked = np.sort(logs)
    gap = int(np.argmax(np.diff(ranked)))
    some: Flags = logs > (ranked[gap] + ranked[gap + 1]) / 2
    count = int(some.sum())
    yield "some", some, HERE_AND_THERE, lgamma(n + 1) - lgamma(count + 1) - lgamma(n - count + 1)


def _best(count: np.ndarray, total: np.ndarray, n: int) -> np.ndarray:
    """Which splits of n catches are worth a closer look, ascending; all are judged by sums, however many there are.

    On one side a split has `count` catches, whose logs are off the mean of all by `total` together.
    """
    apart = np.abs(total) * n / np.maximum(count * (n - count), 1)
    gain = np.where(apart >= 0.99 * LEAST_LOG_RATIO, apart * np.abs(total), -1.0)
    best = np.argsort(-gain, kind="stable")[:MOST_SCREENED]
    return np.sort(best[gain[best] >= 0])


@dataclass(frozen=True)
class Right:
    """The catches as they are if a group is put right."""

    catches: Trials
    log_evidence: float  # Of the group being off in this way, its prior included
    tare_g: float | None = None  # Of the container, where one was weighed along


def _weigh(seen: Seen, group: Group, plain: float) -> tuple[float, Group, Right]:
    """How likely it is that a group is off, and its catches put right."""
    used, mine = seen.used, group.mine
    rest = seen.refit(used.where(~mine))
    expected = np.asarray(rest.mean(used.opening[mine]))
    off = log_times(used.output[mine], expected)
    middle, noise = float(off.mean()), rest.noise_of()
    sd = noise * float(np.sqrt(1 / mine.sum() + 1 / (~mine).sum()))
    near = min(_factors(seen), key=lambda each: abs(middle - np.log(each)))
    any_prior = np.log((1 - KNOWN - CONTAINER) * min(sd / SPREAD, 1.0)) - 0.5 * (middle / SPREAD) ** 2
    factors = (near, float(np.log(KNOWN / len(_factors(seen))))), (float(np.exp(middle)), float(any_prior))
    found = [_divided(seen, mine, *each) for each in factors]
    container = _container(seen, mine, expected, sd)
    best = max(found if container is None else [*found, container], key=lambda each: each.log_evidence)
    return probability(group.prior, best.log_evidence - plain, group.log_choices), group, best


def _container(seen: Seen, mine: Flags, expected: Floats, sd: float) -> Right | None:
    """The catches without one container that was weighed along with each catch of a group."""
    used, grams = seen.used, seen.used.catch_g[mine]
    size = (used.turns * used.rows)[mine]
    tare = float(np.median(grams - expected * size))
    if not 0 < tare < 0.95 * grams.min():
        return None
    weights = used.catch_g.copy()
    weights[mine] = grams - tare
    changed = replace(used, catch_g=weights)
    usual = CONTAINER_SHARE * seen.target * float(np.median(size))
    log_sd = min(sd * float(np.median(weights[mine])) / tare, CONTAINER_SPREAD)
    off = np.log(tare / usual) / CONTAINER_SPREAD
    log_prior = np.log(CONTAINER * log_sd / CONTAINER_SPREAD) - 0.5 * off**2
    # a density of grams: the log of what is left changes faster with the weight
    stretch = float(np.log(grams / (grams - tare)).sum())
    return Right(changed, float(log_prior) + stretch + _evidence(seen.refit(changed)), tare)


def _factors(seen: Seen) -> tuple[float, ...]:
    """What known slips multiply an output by."""
    every = seen.drill.rows_of(seen.box) if seen.drill else seen.defaults.rows * 4
    rows = every / float(np.median(seen.used.rows))
    times = {2.0, 10.0, 16.0, 1000.0, GRAMS["oz"], GRAMS["lb"], *((rows,) if rows > 1 else ())}
    return tuple(sorted(times | {1 / each for each in times}))


def _divided(seen: Seen, mine: Flags, factor: float, log_prior: float) -> Right:
    """The catches with a group divided by a factor."""
    changed = replace(seen.used, catch_g=np.where(mine, seen.used.catch_g / factor, seen.used.catch_g))
    return Right(changed, log_prior + _evidence(seen.refit(changed)))


def _evidence(curve: Curve) -> float:
    return curve.log_evidence if isinstance(curve, ShapeCurve) else float("-inf")


def _finding(seen: Seen, group: Group, right: Right, chance: float) -> Finding:
    """A group as a finding: a lock waits if it would be spoiled by either group being wrong."""
    used, mine = seen.used, group.mine
    factor = float(np.exp(np.mean(np.log(used.catch_g[mine] / right.catches.catch_g[mine]))))
    # either the group is wrong, or all others are
    curves = seen.refit(right.catches), seen.refit(replace(right.catches, catch_g=right.catches.catch_g * factor))
    lines = tuple(used.line[mine].tolist())
    values = {
        "how": group.how,
        "factor": factor,
        "last": lines[-1],
        "name": str(used.date[mine][0] if group.how == "date" else used.operator[mine][0]),
        "number": int(np.flatnonzero(mine)[0]) + 1,
        "causes": _causes(seen, mine, right, curves),
    }
    waits = any(spoils_lock(seen, curve) for curve in curves)
    return Finding("run", seen.box.name, seen.lot, lines, chance, waits, values)


def _causes(seen: Seen, mine: Flags, right: Right, curves: tuple[Curve, Curve]) -> tuple[Cause, ...]:
    """What the catches of a group may have been meant as, if it is the one that is wrong; else what the others may."""
    container = tuple[Cause, ...]()
    if right.tare_g is not None:
        container = (Cause("container", float(right.catches.catch_g[mine][0]), {"tare_g": right.tare_g}),)
    for which, curve in zip((mine, ~mine), curves, strict=True):
        i = int(np.flatnonzero(which)[0])
        size, setting = float(seen.used.turns[i] * seen.used.rows[i]), seen.control.at(float(seen.used.opening[i]))

        def at(opening: float, curve: Curve = curve, size: float = size) -> Range:
            low, high = curve.interval(opening, EXPECTED, "next", 1.0)
            return max(float(low), 0.0) * size, float(high) * size

        found = causes_of(seen, i, setting, at(setting.opening), seen.used, at)
        # beside a container that fits best only a chain is named: weights do not tell the two apart
        if common := tuple(each for each in found if each.code in (("chain",) if container else COMMON)):
            return container + common
    return container
