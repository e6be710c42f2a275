"""A made-up technician, who does what the advice says until it ends."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from predictor.advice.aim import Aim
from predictor.advice.decision import Action, decide
from predictor.advice.lot_fit import LotFit, fit_lot
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.trials import Trials
from predictor.study.drills import Log

# A calibration that has not ended by then is given up.
MOST_CATCHES = 30
# He goes on past an offer to lock while no more than so many further catches are expected.
PATIENCE = 5
PARTS = 4
End = Literal["lock", "offer", "unreachable", "going"]
InParts = Literal["none", "first", "all"]


@dataclass(frozen=True)
class Ending:
    """How a calibration ended."""

    end: End
    opening: float  # Locked, or named last
    chance: float  # Claimed for it; 0 where none is
    catches: int
    seed: float  # Used, in ordinary catches


def asked(trials: Trials, box: SeedBox, aim: Aim, drill: Drill | None = None) -> tuple[LotFit, Action]:
    """What the program asks for: `recommend` without its sentences and limits.

    Asked about a likely slip he finds none, since made-up catches have none, and stands by what he wrote.
    """
    fit = fit_lot(trials, box, history=aim.history, drill=drill, near=aim.near)
    action = decide(fit, aim)
    return fit, decide(fit, aim, ()) if action.why.code.startswith("slips.") else action


def follow(
    log: Log,
    rng: np.random.Generator,
    aim: Aim,
    *,
    first: float | None = None,
    drill: Drill | None = None,
    in_parts: InParts = "none",
) -> Ending:
    """Catch as asked until the program ends it; the first catch at an opening of its own where one is given."""
    opening, chance, count = first, 0.0, 0
    while True:
        if count or opening is None:
            _, action = asked(log.trials(), log.lot.box, aim, drill)
            opening = opening if action.setting is None else action.setting.opening
            chance, end = action.chance or 0.0, _end(action, count)
            if end is not None:
                return Ending(end, float(opening or 0.0), chance, count, log.seed_used)
            log.turns, log.rows = action.turns or log.turns, int(action.rows or log.rows)
        assert opening is not None
        log.add(rng, opening, PARTS if in_parts == "all" or (in_parts == "first" and not count) else 1)
        count += 1


def _end(action: Action, count: int) -> End | None:
    """How the calibration ends here; None where it goes on."""
    if action.decision == "lock":
        return "lock"
    if action.decision == "unreachable":
        return "unreachable"
    more = action.more
    if action.offers_lock and (count >= MOST_CATCHES or more is None or more > PATIENCE):
        return "offer"
    return "going" if count >= MOST_CATCHES else None
