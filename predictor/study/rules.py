"""Ways to calibrate that the program is compared with: by hand, and by an oracle."""

from collections.abc import Callable

import numpy as np
from scipy.special import ndtr

from predictor.advice.aim import CONFIDENCE
from predictor.domain.drill import SeedBox
from predictor.domain.trials import Trials
from predictor.study.drills import Log, MadeUpLot
from predictor.study.technician import MOST_CATCHES

# A way to calibrate: takes the catches so far and the target, and gives an opening and whether to lock it.
Rule = Callable[[Trials, float], tuple[float, bool]]


def hand_rule(box: SeedBox, tolerance: float, confirm: bool = False) -> Rule:
    """The usual hand method: adjust in proportion, stop at the first catch inside tolerance."""
    low = box.first_control.lowest_opening
    usable = box.first_control.openings[box.first_control.openings > low]

    def rule(caught: Trials, target: float) -> tuple[float, bool]:
        last = caught.opening[-2:]
        same = confirm and len(last) > 1 and last[0] == last[1]
        value, here = float(caught.output[-2 if same else -1 :].mean()), float(last[-1])
        if abs(value / target - 1) <= tolerance:
            return here, same or not confirm
        wanted = low + (here - low) * target / max(value, 1e-12)
        return float(usable[np.argmin(np.abs(usable - wanted))]), False

    return rule


def oracle_rule(lot: MadeUpLot, tolerance: float) -> Rule:
    """Know the curve's true shape and the repeatability; a setting is still locked only once it has been caught."""
    openings = lot.box.first_control.openings
    with np.errstate(divide="ignore"):
        log_relative = np.log(lot.relative(openings))

    def rule(caught: Trials, target: float) -> tuple[float, bool]:
        came = caught.where(caught.output > 0)
        level = float(np.mean(np.log(came.output / lot.relative(came.opening)))) + lot.noise**2 / 2
        off = level + log_relative - np.log(target)
        scale = lot.noise / np.sqrt(len(came))
        chance = ndtr((np.log1p(tolerance) - off) / scale) - ndtr((np.log1p(-tolerance) - off) / scale)
        tried = np.isin(openings, caught.opening)
        if tried.any() and chance[tried].max() >= CONFIDENCE:
            return float(openings[tried][np.argmax(chance[tried])]), True
        return float(openings[np.argmax(chance)]), False

    return rule


def calibrate(log: Log, rng: np.random.Generator, rule: Rule, target: float, first: float) -> tuple[int, float]:
    """Catch and adjust until a rule locks: how many catches that took, and the opening."""
    opening, locked = first, False
    while not locked and len(log.catches) < MOST_CATCHES:
        log.add(rng, opening)
        opening, locked = rule(log.trials(), target)
    return len(log.catches), opening
