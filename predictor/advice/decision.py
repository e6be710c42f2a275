"""The decision: what the curve and the chances of a case ask for next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from predictor.advice import evidence
from predictor.advice.aim import Aim
from predictor.advice.case import Case, weigh
from predictor.advice.evidence import named, plugged_rows
from predictor.advice.lot_fit import LEAST_STEPS, LotFit, highest_closed, repeated_since
from predictor.advice.prospects import Cause
from predictor.domain.control import Lever, Setting, Sprockets
from predictor.domain.drill import CatchDefaults
from predictor.domain.drives import LeverAndDrive
from predictor.domain.result import Remark
from predictor.slips.days import season_before
from predictor.slips.find import find
from predictor.slips.finding import Finding
from predictor.slips.odd import odd
from predictor.slips.seen import Seen
from predictor.slips.weigh import spoils_lock

Decision = Literal["lock", "move", "repeat", "lengthen", "unreachable", "recheck"]
# What would end a calibration, were it not for a likely slip.
Otherwise = Literal["lock", "offer", "unreachable"]

# Settings whose chance is smaller by no more than this are as good as the surest.
CLEARLY = 0.01
# Another setting is worth a walk to the lever when its chance is larger by this share.
WORTH_A_MOVE = 0.02
# Surer than this that no setting reaches the target, the search ends. After a fair trial it ends sooner, and the asking
# ends with the last catch, whatever the drill does.
OUT_OF_REACH, FAIR_TRIAL, LAST_CATCH = 0.95, 8, 30
OUT_AFTER_TRIAL, OUT_AT_LAST = 0.88, 0.6
# The nearest setting must have been caught at: twice, or once where that puts it beyond doubt.
BEYOND_DOUBT = 0.995
# After a fair trial a lock is offered at this chance, though it is not the one that was asked for.
OFFERED = 0.5
# No catch is lengthened beyond this many times the drill's ordinary turns; common practice.
MOST_TIMES_TURNS = 8
# Two settings contradict the way the lever counts if their means lie so many standard errors the wrong way round; what
# is usual of the scatter counts like so many catches. Judgement.
BEYOND_SCATTER, USUAL_WORTH = 3.5, 4
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
    offers_lock: bool = False  # Whether its setting may be locked as it is, at a chance below the confidence
    slips: tuple[Finding, ...] = ()  # What looks like a slip, the likeliest first
    otherwise: Otherwise | None = None  # What the catches would say, did a slip not have to be looked at first


def decide(fit: LotFit, aim: Aim, slips: tuple[Finding, ...] | None = None) -> Action:
    """What a fitted lot asks for next, given what is aimed at.

    Slips are looked for unless they are given: those of the catches at hand hold whatever the next catch weighs.
    """
    if fit.curve is None:
        return _start(fit)
    case = weigh(fit, aim)
    action = _falling(case) or _plugged(case)
    contradictions = tuple[Finding, ...]()
    if action is None:
        action, contradictions = _recheck(case)
        action = action or lock(case) or _too_light(case) or out_of_reach(case) or _go_on(case)
        action = _start(fit) if _gave_nothing(fit, aim, action) else action
    if slips is None:
        slips = find(_seen(case), (*contradictions, *season_before(fit.log, fit.catches, fit.box.name, fit.lot)))
    return replace(waiting(_together(action, slips), slips), slips=slips)


def _together(action: Action, slips: tuple[Finding, ...]) -> Action:
    """The action, unless catches that are off together are why a catch seems odd, or why catches seem to scatter."""
    line = action.why["line"] if action.why.code == "advice.contradicted" else None
    alone = any(each.code == "odd" and line in each.lines for each in slips)
    wider = [each for each in slips if each.code == "run" and each.waits and (line is None or line in each.lines)]
    if not wider or alone or (line is None and action.decision != "lengthen"):
        return action
    return Action("recheck", wider[0].remark, action.setting, action.chance, None)


def _seen(case: Case) -> Seen:
    """The lot as the checks for slips see it."""
    fit, aim = case.fit, case.aim
    lot = fit.box, fit.control, fit.lot, fit.used, case.curve, fit.refit, fit.prior
    return Seen(*lot, aim.target_output, aim.low, aim.high, aim.confidence, fit.drill)


def waiting(action: Action, slips: tuple[Finding, ...]) -> Action:
    """The action, unless it ends the calibration while a likely slip would put the rate out of tolerance."""
    first, ends = next((each for each in slips if each.waits), None), ending(action.decision, action.offers_lock)
    if first is None or ends is None:
        return action
    return Action("recheck", first.remark, action.setting, action.chance, None, otherwise=ends)


def ending(decision: Decision, offers_lock: bool) -> Otherwise | None:
    """How an action ends a calibration; None where it goes on."""
    return "offer" if offers_lock else decision if decision in ("lock", "unreachable") else None


def _start(fit: LotFit) -> Action:
    """No curve yet: the first catch goes to the middle of the scale, or of what is left above catches of nothing."""
    control, openings = fit.control, fit.control.openings
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


def _gave_nothing(fit: LotFit, aim: Aim, action: Action) -> bool:
    """Whether earlier lots alone send to a setting that gave nothing, or below one: it would give nothing again."""
    if len(fit.used) or action.decision != "move" or action.setting is None:
        return False
    defaults = fit.drill.catch_of(fit.box) if fit.drill else CatchDefaults()
    closed = highest_closed(fit.catches.in_box(fit.box), fit.used, aim.near, defaults)
    return closed is not None and action.setting.opening <= closed


def lock(case: Case) -> Action | None:
    """Lock where a setting that was caught is sure enough; of those as good as sure, the one nearest to target."""
    if not len(case.caught) or case.caught_chance.max() < case.aim.confidence:
        return None
    good = np.flatnonzero(case.caught_chance >= max(case.aim.confidence, case.caught_chance.max() - CLEARLY))
    i = int(good[np.argmin(case.off_target(case.caught[good]))])
    where = case.fit.control.at(float(case.caught[i]))
    times = int(np.sum(case.fit.made_here.opening == where.opening))
    why = Remark("advice.lock", {"times": times, "setting": where.text, "back": where != case.fit.present})
    return Action("lock", why, where, float(case.caught_chance[i]), 0)


def out_of_reach(case: Case) -> Action | None:
    """End the search where surely no setting reaches the target; after a single catch, one more settles it."""
    n = len(case.fit.used)
    enough = OUT_AT_LAST if n >= LAST_CATCH else OUT_AFTER_TRIAL if n >= FAIR_TRIAL else OUT_OF_REACH
    # it cannot be surer that none will do than that the likeliest will not
    most = 1 - max(case.real_chance.max(), case.caught_chance.max(initial=0.0))
    if n == 0 or most < enough or case.nowhere < enough:
        return None
    nearest = case.setting(case.nearest)
    times = int(np.sum(case.fit.made_here.opening == nearest.opening))
    if times >= 2 or (times and case.nowhere >= BEYOND_DOUBT):
        return _unreachable(case)
    return Action("move", Remark("advice.settle-nearest"), nearest, float(case.real_chance[case.nearest]), 1)


def _go_on(case: Case) -> Action:
    """Move or repeat; lengthen where scatter stands in the way; offer a lock where many catches do not bring one."""
    fit, present, chance = case.fit, case.fit.present, float(case.real_chance[case.best])
    n = len(fit.used)
    more, cause = case.more_catches(fit.turns_caught)
    if more is None and n > 1:
        if cause == "rows" and fit.rows is not None:
            return _lengthen_rows(case, chance)
        longer = _lengthen_turns(case, chance) if cause in ("noise", "rows") and _shown_scatter(fit) else None
        if longer is not None:
            return longer
    surest = case.caught_chance.max(initial=0.0)
    if n >= LAST_CATCH or (n >= FAIR_TRIAL and surest >= max(OFFERED, (1 - WORTH_A_MOVE) * chance)):
        return _offer(case, more, cause)
    if present is not None and present.opening in case.caught:
        here = case.chance_caught(present.opening)
        if chance - here < WORTH_A_MOVE * chance:
            return Action("repeat", Remark("advice.thin"), present, here, more)
    why = Remark("advice.more-likely" if n else "advice.start-as-earlier")
    return Action("move", why, case.setting(case.best), chance, more)


def _too_light(case: Case) -> Action | None:
    """Longer catches where nothing came at a setting to be caught at, and the scale could hardly show what is wanted.

    Such a catch of nothing teaches nothing, so without this the advice would send there again and again.
    """
    fit, wanted = case.fit, (case.openings[case.best], case.openings[case.nearest])
    came = fit.catches.on_drive(fit.box.control, fit.drive)
    nothing = came.where((came.status == "nothing") & np.isin(came.opening, wanted))
    usual = fit.drill.catch_of(fit.box) if fit.drill else CatchDefaults()
    each, most = case.aim.target_output * fit.rows_caught, MOST_TIMES_TURNS * usual.turns
    turns = float(np.ceil(LEAST_STEPS * usual.scale_resolution_g / each))
    if not len(nothing) or nothing.turns.max() >= turns:
        return None
    where, longest = fit.control.at(float(nothing.opening[-1])), float(max(nothing.turns.max(), fit.turns_caught))
    chance = float(case.real_chance[case.openings == where.opening].sum())
    values = {"setting": where.text, "grams": each * longest, "step": usual.scale_resolution_g}
    values["size"] = fit.size(longest)
    if longest >= most:
        return Action("unreachable", Remark("advice.too-light", values), where, chance, None)
    turns = min(turns, most)
    why = Remark("advice.longer-to-see", {**values, "next_size": fit.size(turns)})
    return Action("lengthen", why, where, chance, None, turns=turns)


def _offer(case: Case, more: int | None, cause: Cause) -> Action:
    """Either lock the surest setting that was caught, or go on: the technician decides."""
    # of those as good as the surest, the one where the control stands
    good = case.caught_chance >= case.caught_chance.max() - CLEARLY
    here = good & (case.caught == (case.fit.present.opening if case.fit.present else np.nan))
    i = int(np.argmax(here if here.any() else case.caught_chance))
    where, chance = case.fit.control.at(float(case.caught[i])), float(case.caught_chance[i])
    decision: Decision = "repeat" if where == case.fit.present else "move"
    turns = None
    if more is None:
        turns, more = _longer(case)
        turns, decision = (turns, "lengthen") if more is not None else (None, decision)
    size = None if turns is None else case.fit.size(turns)
    values = {"chance": chance, "setting": where.text, "more": more, "next_size": size, "cause": cause}
    why = Remark("advice.offer", {**values, "catches": len(case.fit.used)})
    return Action(decision, why, where, chance, more, turns=turns, offers_lock=True)


def _shown_scatter(fit: LotFit) -> bool:
    """Whether catches at one setting, or parts of a catch, have shown how they scatter: a wrong shape looks like it."""
    repeats = len(fit.used) - len(np.unique(fit.used.opening))
    return repeats >= 1 or any(parts is not None for parts in fit.used.parts_g)


def _lengthen_turns(case: Case, chance: float) -> Action | None:
    """Ask for longer catches; None where they would not help."""
    turns, more = _longer(case)
    if turns is None:
        return None
    fit = case.fit
    noise = case.curve.noise_of(fit.length_of(fit.turns_caught, fit.rows_caught))
    why = Remark("advice.more-turns", {"cv": noise, "size": fit.size(fit.turns_caught), "next_size": fit.size(turns)})
    return Action("lengthen", why, case.setting(case.best), chance, more, turns=turns)


def _longer(case: Case) -> tuple[float | None, int | None]:
    """Turns that leave few catches to make, or the most, and how many; none where catches are that long already."""
    fit = case.fit
    most = MOST_TIMES_TURNS * (fit.drill.catch_of(fit.box) if fit.drill else CatchDefaults()).turns
    if fit.turns_caught >= most:
        return None, None
    for times in (2, 3, 4, 6, 8):
        turns = min(fit.turns_caught * times, most)
        more, _ = case.more_catches(turns)
        if more is not None and more <= LENGTHENED_CATCHES:
            return turns, more
    return turns, more


def _lengthen_rows(case: Case, chance: float) -> Action:
    info = case.fit.rows
    assert info is not None
    rows, more = info.box_rows, None
    for count in range(info.rows + 1, info.box_rows + 1):
        more, _ = case.more_catches(case.fit.turns_caught, info.variance_with(count))
        if more is not None:
            rows = count
            break
    values = {"spread": info.spread, "rows": info.rows, "next_rows": rows, "box_rows": info.box_rows}
    why = Remark("advice.more-rows", values)
    return Action("lengthen", why, case.setting(case.best), chance, more, rows=float(rows))


def _unreachable(case: Case) -> Action:
    """The nearest setting, how far it is from target, and what would bring the target into range."""
    nearest = case.nearest
    around = np.arange(max(nearest - 1, 0), min(nearest + 2, len(case.openings)))
    off = case.curve.mean(case.openings[around]) / case.aim.target_output - 1
    both, control, too_much = case.fit.box.control, case.fit.control, float(off[around == nearest][0])
    values = {
        "chance": case.nowhere,
        "setting": case.setting(nearest).text,
        "off": too_much,
        "between": bool(off.min() < 0 < off.max()),
        "chain": isinstance(control, Sprockets),
        "drives": tuple(both.drives) if isinstance(both, LeverAndDrive) else (),
        "shut": _shut_below(case) if nearest == 0 and too_much > 0 else None,
        "assumed": isinstance(control, Lever) and control.shut is None,
    }
    why = Remark("advice.unreachable", values)
    return Action("unreachable", why, case.setting(nearest), float(case.real_chance[nearest]), None)


def _shut_below(case: Case) -> str | None:
    """The reading at which the lever is shut, or is taken to be; None where no reading is."""
    control = case.fit.control
    if not isinstance(control, Lever) or case.openings[0] <= control.lowest_opening:
        return None
    return control.at(control.lowest_opening).text


def _plugged(case: Case) -> Action | None:
    """Recheck where a row of the last catch gave next to nothing: it would plant nothing either."""
    used, present = case.fit.used, case.fit.present
    last = np.arange(len(used)) == len(used) - 1
    rows = plugged_rows(used.where(last)).get(0)
    if rows is None or present is None:
        return None
    why = Remark("advice.plugged", {**named(used, len(used) - 1), "rows": rows, "again": False})
    return Action("recheck", why, present, case.chance_caught(present.opening), None)


def _falling(case: Case) -> Action | None:
    """Recheck where output falls with the setting beyond doubt: the lever may count the other way."""
    box, control, used = case.fit.box, case.fit.control, case.fit.made_here
    _, which, times = np.unique(used.opening, return_inverse=True, return_counts=True)
    # of two settings each must have been repeated: one catch alone may be odd
    if not isinstance(control, Lever) or len(times) < 2 or (len(times) == 2 and min(times) < 2):
        return None
    each, usual = np.log(used.output), case.fit.prior.typical_cv
    logs = np.bincount(which, each) / times
    if not np.all(np.diff(logs) < 0) or logs[0] - logs[-1] < 3 * usual:
        return None
    if len(times) == 2:
        # two means of a box that scatters may well lie the wrong way round: they are held against what repeats show
        square = float(((each - logs[which]) ** 2).sum())
        scatter = np.sqrt((USUAL_WORTH * usual**2 + square) / (USUAL_WORTH + times.sum() - 2))
        if logs[0] - logs[1] < BEYOND_SCATTER * scatter * np.sqrt((1 / times).sum()):
            return None
    why = Remark("advice.falling", {"more_is": control.more_is, "box": box.name})
    return Action("recheck", why, case.fit.present, None, None)


def _recheck(case: Case) -> tuple[Action | None, tuple[Finding, ...]]:
    """Recheck where a catch contradicts the rest and was not repeated yet, and every contradiction as a finding."""
    fit, seen, slips, action = case.fit, _seen(case), list[Finding](), None
    for each in fit.suspects:
        where, again = fit.setting_of(each.i), repeated_since(fit.used, each.i)
        length = float(evidence.lengths(fit.used)[each.i])
        found = odd(seen, each.i, where, each.others, length, fit.log, each.chance)
        values, waits = {**found.values, "again": again}, not again or spoils_lock(seen, each.others)
        slips.append(replace(found, waits=waits, values=values))
        if not again and action is None and len(fit.used) < LAST_CATCH:
            why = Remark("advice.contradicted", values)
            action = Action("recheck", why, where, case.chance_caught(where.opening), None)
    return action, tuple(slips)
