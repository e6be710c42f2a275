"""What looks like a slip in the whole log of a job: it shows only beside the plan, the other lots and the day."""

from __future__ import annotations

import numpy as np

from predictor.advice.result import Advice
from predictor.domain.seed import Plan
from predictor.domain.trials import Trials
from predictor.slips.finding import Finding

# How likely a lot without a target is one of the plan with its name mistyped: with a name near it, and with none.
# Judgement: a technician seldom catches seed that is not to be planted.
NEAR_NAME, OTHER_NAME = 0.6, 0.3
# A day that has not come is a slip for sure.
FUTURE = 1.0


Names = tuple[tuple[str, ...], frozenset[str]]


def names_in(plan: Plan | None, box: str) -> Names:
    """The names of a plan for a box: those with a target, and all of them, those of parts too, in small letters."""
    if plan is None:
        return (), frozenset()
    planned = tuple(each.lot for each in plan.boxes if each.box.name == box)
    parts = (name.lower() for each in plan.lots if each.box == box for name in (each.lot, each.bag))
    return planned, frozenset((*parts, *(each.lower() for each in planned)))


def log_slips(advice: Advice, log: Trials, names: Names, today: str) -> tuple[Finding, ...]:
    """Dates to come in the catches of a lot, and catches of its box and season under a name that has no target."""
    return (*_to_come(advice, today), *_without_target(advice, log, *names))


def _to_come(advice: Advice, today: str) -> tuple[Finding, ...]:
    mine = advice.trials
    late = mine.counts & (mine.date > today) & ~mine.confirmed
    if not late.any():
        return ()
    lines, day = tuple(mine.line[late].tolist()), max(mine.date[late].tolist())
    return (Finding("future", advice.box, advice.lot, lines, FUTURE, False, {"day": day}),)


def _without_target(
    advice: Advice, log: Trials, planned: tuple[str, ...], known: frozenset[str]
) -> tuple[Finding, ...]:
    """A finding for each such name: its catches count for nothing, or as those of an earlier lot."""
    if advice.lot.lower() not in {each.lower() for each in planned}:
        return ()
    mine = log.of(box=advice.box)
    mine = mine.where(mine.counts & ~mine.confirmed & np.isnan(mine.target_g))
    mine = mine.where((mine.season == advice.season) | (mine.season == "")) if advice.season else mine
    found = []
    for name in dict.fromkeys(mine.lot.tolist()):
        if name.lower() in known:
            continue
        near = near_names(name, advice.lot)
        lines = tuple(mine.line[mine.lot == name].tolist())
        values = {"name": name, "near": near, "planned": planned}
        chance = NEAR_NAME if near else OTHER_NAME
        found.append(Finding("no_target", advice.box, advice.lot, lines, chance, False, values))
    return tuple(found)


def near_names(one: str, other: str) -> bool:
    """Whether two names differ by one letter that is changed, left out or added, or by two that are swapped.

    >>> near_names("KS-26", "KS-62"), near_names("KS-26", "KS-2"), near_names("KS-26", "CW-27")
    (True, True, False)
    """
    a, b = sorted((one.lower(), other.lower()), key=len)
    if len(a) < 3 or len(b) - len(a) > 1:
        return False
    if len(a) < len(b):
        return any(b[:i] + b[i + 1 :] == a for i in range(len(b)))
    apart = [i for i in range(len(a)) if a[i] != b[i]]
    swapped = len(apart) == 2 and apart[1] == apart[0] + 1 and a[apart[0]] == b[apart[1]] and a[apart[1]] == b[apart[0]]
    return len(apart) == 1 or swapped
