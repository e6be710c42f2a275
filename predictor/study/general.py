"""Operating characteristics on boxes in general: truths beyond what the program takes for ordinary."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from predictor.advice.aim import Aim
from predictor.advice.history import History
from predictor.advice.lot_fit import LotFit
from predictor.advice.recommend import advise
from predictor.study.drills import Log, MadeUpLot
from predictor.study.rules import calibrate, oracle_rule
from predictor.study.tally import Record
from predictor.study.technician import MOST_CATCHES, PARTS, InParts, asked, follow
from predictor.study.truths import (
    CALM_THEN,
    WILD_NOW,
    Truth,
    another_shape,
    earlier_lots,
    made_up_truth,
)

COVER_CATCHES = (2, 3, 5, 8, 12)
# The nearer its setting to the edge of the tolerance, the more catches an oracle makes for nothing.
ORACLE_NEAREST = 0.5
Earlier = Literal["none", "same box", "calm then", "another shape"]


@dataclass(frozen=True)
class Way:
    """What a calibration has besides single weights of catches."""

    earlier: Earlier = "none"
    in_parts: InParts = "none"


WAYS = {
    "cold": Way(),
    "first catch in four parts": Way(in_parts="first"),
    "all catches in four parts": Way(in_parts="all"),
    "six earlier lots": Way("same box"),
    "six calm lots, scatters now": Way("calm then"),
    "six lots of another shape": Way("another shape"),
}


@dataclass(frozen=True)
class Limits:
    """Whether the 95 % limits held the truth at the setting advised after some catches; None where undefined."""

    labels: dict[str, str]
    catches: int
    mean: bool
    next: bool
    setting: bool | None
    ended: bool  # Whether the calibration would have ended by then


def truth_for(way: Way, seed: int, tolerance: float, run: int) -> Truth:
    """The made-up box of a number, as it is when it is calibrated that way."""
    truth = made_up_truth(seed, run, tolerance)
    return truth.scattering(WILD_NOW) if way.earlier == "calm then" else truth


def calibrated(way: Way, seed: int, tolerance: float, run: int) -> Record:
    """How the calibration of one made-up box ends."""
    truth = truth_for(way, seed, tolerance, run)
    aim = Aim(truth.target, tolerance, history=_history(truth, way, seed))
    ending = follow(Log(truth.lot), np.random.default_rng([seed, run, 1]), aim, in_parts=way.in_parts)
    right = truth.right(ending.opening, ending.catches)
    return Record(truth.labels, truth.within, ending, right, _oracle(truth, seed))


def limits_held(way: Way, seed: int, tolerance: float, run: int) -> list[Limits]:
    """Whether the limits hold at the settings that are advised, catch by catch, whether or not it would have ended."""
    truth = truth_for(way, seed, tolerance, run)
    aim = Aim(truth.target, tolerance, history=_history(truth, way, seed))
    rng, log = np.random.default_rng([seed, run, 4]), Log(truth.lot)
    openings = truth.lot.box.first_control.openings
    middle, found, ended = float(openings[len(openings) // 2]), [], False
    opening = middle
    for count in range(1, max(COVER_CATCHES) + 1):
        log.add(rng, opening, PARTS if way.in_parts == "all" or (way.in_parts == "first" and count == 1) else 1)
        fit, action = asked(log.trials(), truth.lot.box, aim)
        ended = ended or action.decision in ("lock", "unreachable")
        opening = opening if action.setting is None else action.setting.opening
        if count in COVER_CATCHES and fit.curve is not None and action.setting is not None:
            advice, now = advise(fit, aim), truth.lot.after(count)
            size = advice.target_catch_g / advice.target_output  # turns times rows that the weights refer to
            grams = now.catch(rng, opening, size / log.rows, log.rows)[0]
            of_mean = _inside(advice.expected_interval, float(now.mean(opening)))
            of_next = _inside(advice.next_catch_interval_g, grams)
            found.append(Limits(truth.labels, count, of_mean, of_next, setting_held(truth, fit, now), ended))
        log.turns, log.rows = action.turns or log.turns, int(action.rows or log.rows)
    return found


def _inside(limits: tuple[float | None, float | None], value: float) -> bool:
    low, high = limits
    return low is not None and high is not None and low <= value <= high


def setting_held(truth: Truth, fit: LotFit, now: MadeUpLot) -> bool | None:
    """Whether the limits of the ideal setting hold it; None where it lies off the scale."""
    assert fit.curve is not None
    ends = now.mean(truth.lot.box.first_control.openings[[0, -1]])
    if not ends[0] <= truth.target <= ends[1]:
        return None
    found = fit.curve.setting_for(truth.target)
    # the true curve rises, so it tells by its height whether an end lies below or above the ideal setting
    low, high = (float(now.mean(np.clip(end, *_ends(now)))) for end in (found.lower, found.upper))
    return (found.lower <= _ends(now)[0] or low <= truth.target) and (
        found.upper >= _ends(now)[1] or truth.target <= high
    )


def _ends(lot: MadeUpLot) -> tuple[float, float]:
    return lot.box.first_control.lowest_opening, float(lot.box.first_control.openings[-1])


def _history(truth: Truth, way: Way, seed: int) -> History | None:
    if way.earlier == "none":
        return None
    if way.earlier == "calm then":
        return earlier_lots(truth, seed, cv=CALM_THEN)
    return earlier_lots(truth, seed, shape=another_shape(truth, seed) if way.earlier == "another shape" else None)


def _oracle(truth: Truth, seed: int) -> int | None:
    """Catches of the oracle, where there is one: it knows neither slips nor drift, and needs a setting near target."""
    lot, log = truth.lot, Log(truth.lot)
    if truth.special != "none" or truth.nearest > ORACLE_NEAREST * truth.tolerance:
        return None
    openings = lot.box.first_control.openings
    rng, rule = np.random.default_rng([seed, truth.run, 1]), oracle_rule(lot, truth.tolerance)
    count, _ = calibrate(log, rng, rule, truth.target, float(openings[len(openings) // 2]))
    return count if count < MOST_CATCHES else None
