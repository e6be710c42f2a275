"""What looks like a slip in the whole log of a job: it shows only beside the plan, the other lots and the day."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from predictor.advice.result import Advice
from predictor.domain.seed import Plan
from predictor.domain.trials import Trials
from predictor.slips.finding import Finding
from predictor.slips.names import near_name

# How likely a lot without a target is one of the plan with its name mistyped: with a name near it, and with none.
# Judgement: a technician seldom catches seed that is not to be planted.
NEAR_NAME, OTHER_NAME = 0.6, 0.3
# How likely two lots with near names are one where no plan names them and one of them has few catches. Judgement.
FEW_OF_A_NAME, FEW = 0.4, 2
# A day that has not come is a slip for sure.
FUTURE = 1.0


@dataclass(frozen=True)
class Names:
    """The names of a plan for a box."""

    planned: tuple[str, ...] = ()  # Those with a target
    known: frozenset[str] = frozenset()  # All of them, those of parts too, in small letters
    elsewhere: tuple[tuple[str, str], ...] = ()  # Names that only other boxes have, in small letters, with the box


def names_in(plan: Plan | None, box: str) -> Names:
    """The names of a plan for a box."""
    if plan is None:
        return Names()
    planned = tuple(each.lot for each in plan.boxes if each.box.name == box)
    names = [(name.lower(), each.box) for each in plan.lots for name in (each.lot, each.bag, each.blend) if name]
    known = {name for name, where in names if where == box}
    return Names(planned, frozenset(known), tuple(each for each in dict.fromkeys(names) if each[0] not in known))


def log_slips(advice: Advice, log: Trials, names: Names, today: str) -> tuple[Finding, ...]:
    """Dates to come in the catches of a lot, and catches of its box and season under a name that is likely a slip."""
    named = _without_target(advice, log, names) if names.planned else _few_of_a_name(advice, log)
    return (*_to_come(advice, today), *named)


def _to_come(advice: Advice, today: str) -> tuple[Finding, ...]:
    mine = advice.trials
    late = mine.counts & (mine.date > today) & ~mine.confirmed
    if not late.any():
        return ()
    lines, day = tuple(mine.line[late].tolist()), max(mine.date[late].tolist())
    return (Finding("future", advice.box, advice.lot, lines, FUTURE, False, {"day": day}),)


def _without_target(advice: Advice, log: Trials, names: Names) -> tuple[Finding, ...]:
    """A finding for each name that has no target: its catches count for nothing, or as those of an earlier lot."""
    if advice.lot.lower() not in {each.lower() for each in names.planned}:
        return ()
    mine, found = _same_season(advice, log), []
    mine = mine.where(~mine.confirmed & np.isnan(mine.target_g))
    for name in dict.fromkeys(mine.lot.tolist()):
        if name.lower() in names.known:
            continue
        near = near_name(name, [advice.lot]) is not None
        lines = tuple(mine.of(lot=name).line.tolist())
        elsewhere = dict(names.elsewhere).get(name.lower(), "")
        values = {"name": name, "near": near, "planned": names.planned, "elsewhere": elsewhere}
        chance = NEAR_NAME if near or elsewhere else OTHER_NAME
        found.append(Finding("no_target", advice.box, advice.lot, lines, chance, False, values))
    return tuple(found)


def _few_of_a_name(advice: Advice, log: Trials) -> tuple[Finding, ...]:
    """Without a plan: catches under a name near another one of the box that has more of them."""
    mine, found = _same_season(advice, log), []
    counts = Counter(mine.lot.tolist())
    for name, count in counts.items():
        if count > FEW or count >= counts[advice.lot]:
            continue
        here = mine.of(lot=name)
        if not here.confirmed.any() and near_name(name, [advice.lot]):
            lines = tuple(here.line.tolist())
            found.append(Finding("few_of_a_name", advice.box, advice.lot, lines, FEW_OF_A_NAME, False, {"name": name}))
    return tuple(found)


def _same_season(advice: Advice, log: Trials) -> Trials:
    """The catches of a box that count, of the season of an advice."""
    mine = log.of(box=advice.box)
    mine = mine.where(mine.counts)
    return mine.where((mine.season == advice.season) | (mine.season == "")) if advice.season else mine
