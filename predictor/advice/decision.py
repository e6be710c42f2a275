"""The decision: what the curve and the chances of a case ask for next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from predictor.advice.aim import Aim
from predictor.advice.case import Case, weigh
from predictor.advice.evidence import named, plugged_rows
from predictor.advice.lot_fit import LotFit, repeated_since
from predictor.domain.control import Lever, Setting, Sprockets
from predictor.domain.drill import CatchDefaults
from predictor.domain.result import Remark

Decision = Literal["lock", "move", "repeat", "lengthen", "unreachable", "recheck"]

# Another setting is clearly better when its chance is larger by this much; less is not worth a walk to the lever.
CLEARLY = 0.01
# Surer than this that no setting reaches the target, the search ends.
OUT_OF_REACH = 0.90
# A best setting that looks to lie outside tolerance gets this many catches to prove otherwise, and none gets more than
# the last number: whatever the drill does, the asking ends.
FAIR_TRIAL, LAST_CATCH = 8, 30
# No catch is lengthened beyond this many times the drill's ordinary turns; common practice.
MOST_TIMES_TURNS = 8
# What a lengthened catch should leave to do.
LENGTHENED_CATCHES = 4


@dataclass(frozen=True)
class Action:
    """What to do next, and why."""

    decision: Decision
    why: Remark
    setting: Setting | None
    chance: float | None
    more: int | None  # Catches still to make
    turns: float | None = None  # Of the next catch, where they are to change
    rows: float | None = None
    remarks: tuple[Remark, ...] = ()  # What else was found on the way


def decide(fit: LotFit, aim: Aim) -> Action:
    """What a fitted lot asks for next, given what is aimed at."""
    if fit.curve is None:
        return _start(fit)
    case = weigh(fit, aim)
    action = _falling(case) or _plugged(case)
    if action is not None:
        return action
    action, remarks = _recheck(case)
    return replace(action or _lock(case) or _out_of_reach(case) or _go_on(case), remarks=remarks)


def _start(fit: LotFit) -> Action:
    """No curve yet: the first catch goes to the middle of the scale, or of what is left above catches of nothing."""
    control, openings = fit.box.control, fit.box.control.openings
    why = Remark("advice.start", {"left_out": len(fit.catches)})
    nothing = fit.catches.where(fit.catches.status == "nothing").in_box(fit.box)
    if len(nothing):
        closed = float(nothing.opening.max())
        openings, values = openings[openings > closed], {"setting": control.at(closed).text}
        if not len(openings):
            last, why = control.at(float(control.openings[-1])), Remark("advice.nothing-at-most", values)
            return Action("unreachable", why, last, None, None)
        why = Remark("advice.nothing-yet", values)
    return Action("move", why, control.at(float(openings[len(openings) // 2])), None, None)


def _lock(case: Case) -> Action | None:
    """Lock where a setting that was caught is sure enough; of those as good as sure, the one nearest to target."""
    if not len(case.caught) or case.caught_chance.max() < case.aim.confidence:
        return None
    good = np.flatnonzero(case.caught_chance >= max(case.aim.confidence, case.caught_chance.max() - CLEARLY))
    i = int(good[np.argmin(case.off_target(case.caught[good]))])
    where = case.fit.box.control.at(float(case.caught[i]))
    times = int(np.sum(case.fit.used.opening == where.opening))
    why = Remark("advice.lock", {"times": times, "setting": where.text, "back": where != case.fit.present})
    return Action("lock", why, where, float(case.caught_chance[i]), 0)


def _out_of_reach(case: Case) -> Action | None:
    """End the search where surely no setting reaches the target; after a single catch, one more settles it."""
    nowhere = case.nowhere() if len(case.fit.used) else 0.0
    if nowhere < OUT_OF_REACH:
        return None
    nearest = case.setting(case.nearest)
    if len(case.caught) >= 2 or nearest.opening in case.caught:
        return _unreachable(case, {"cause": "sure", "chance": nowhere})
    return Action("move", Remark("advice.settle-nearest"), nearest, float(case.real_chance[case.nearest]), 1)


def _go_on(case: Case) -> Action:
    """Move, repeat, lengthen, or see that no number of catches will do."""
    fit, present, chance = case.fit, case.fit.present, float(case.real_chance[case.best])
    more, cause = case.more_catches()
    enough = len(fit.used) >= LAST_CATCH
    if enough or (more is None and len(fit.used) > 1):
        if cause == "rows":
            return _lengthen_rows(case, chance)
        if cause == "noise" or (enough and cause != "off"):
            return _lengthen_turns(case, chance)
        if len(fit.used) >= FAIR_TRIAL:
            return _unreachable(case, {"cause": "edge", "catches": len(fit.used)})
    if present is not None and present.opening in case.caught:
        here = case.chance_caught(present.opening)
        if chance - here < CLEARLY:
            return Action("repeat", Remark("advice.thin"), present, here, more)
    why = Remark("advice.more-likely" if len(fit.used) else "advice.start-as-earlier")
    return Action("move", why, case.setting(case.best), chance, more)


def _lengthen_turns(case: Case, chance: float) -> Action:
    fit, noise = case.fit, case.curve.likely_noise
    most = MOST_TIMES_TURNS * (fit.drill.catch if fit.drill else CatchDefaults()).turns
    if fit.turns_caught >= most:
        return _unreachable(case, {"cause": "scatter", "turns": fit.turns_caught})
    for times in (2, 3, 4, 6, 8):
        more, _ = case.more_catches(noise=noise / np.sqrt(times))
        if more is not None and more <= LENGTHENED_CATCHES:
            break
    turns = min(fit.turns_caught * times, most)
    why = Remark("advice.more-turns", {"cv": noise, "turns": fit.turns_caught, "next_turns": turns})
    return Action("lengthen", why, case.setting(case.best), chance, more, turns=turns)


def _lengthen_rows(case: Case, chance: float) -> Action:
    info = case.fit.rows
    assert info is not None
    rows, more = info.drill_rows, None
    for count in range(info.rows + 1, info.drill_rows + 1):
        more, _ = case.more_catches(row_variance=info.variance_with(count))
        if more is not None:
            rows = count
            break
    values = {"spread": info.spread, "rows": info.rows, "next_rows": rows, "drill_rows": info.drill_rows}
    why = Remark("advice.more-rows", values)
    return Action("lengthen", why, case.setting(case.best), chance, more, rows=float(rows))


def _unreachable(case: Case, values: dict[str, Any]) -> Action:
    """The nearest setting, how far it is from target, and what would bring the target into range."""
    nearest = case.nearest
    around = np.arange(max(nearest - 1, 0), min(nearest + 2, len(case.openings)))
    off = case.curve.mean(case.openings[around]) / case.aim.target_output - 1
    values |= {
        "setting": case.setting(nearest).text,
        "off": float(off[around == nearest][0]),
        "between": values["cause"] == "edge" or bool(off.min() < 0 < off.max()),
        "chain": isinstance(case.fit.box.control, Sprockets),
    }
    why = Remark("advice.unreachable", values)
    return Action("unreachable", why, case.setting(nearest), float(case.real_chance[nearest]), None)


def _plugged(case: Case) -> Action | None:
    """Recheck where a row of the last catch gave next to nothing: it would plant nothing either."""
    used, present = case.fit.used, case.fit.present
    rows = plugged_rows(used).get(len(used) - 1)
    if rows is None or present is None:
        return None
    why = Remark("advice.plugged", {**named(used, len(used) - 1), "rows": rows, "again": False})
    return Action("recheck", why, present, case.chance_caught(present.opening), None)


def _falling(case: Case) -> Action | None:
    """Recheck where output falls with the setting beyond doubt: the lever may count the other way."""
    box, used = case.fit.box, case.fit.used
    if not isinstance(box.control, Lever) or len(case.caught) < 3:
        return None
    logs = [float(np.mean(np.log(used.output[used.opening == each]))) for each in case.caught]
    if not np.all(np.diff(logs) < 0) or logs[0] - logs[-1] < 3 * case.fit.prior.typical_cv:
        return None
    why = Remark("advice.falling", {"more_is": box.control.more_is, "box": box.name})
    return Action("recheck", why, case.fit.present, None, None)


def _recheck(case: Case) -> tuple[Action | None, tuple[Remark, ...]]:
    """Recheck where a catch contradicts the rest and was not repeated yet; those that were, as remarks."""
    fit, remarks = case.fit, list[Remark]()
    for i in fit.suspects:
        found = fit.contradiction(i)
        if not repeated_since(fit.used, i):
            where, why = fit.box.control.at(float(fit.used.opening[i])), Remark("advice.contradicted", found)
            return Action("recheck", why, where, case.chance_caught(where.opening), None), tuple(remarks)
        remarks.append(Remark("advice.contradicted-repeated", found))
    return None, tuple(remarks)
