"""The decision: what the curve and the chances of a case ask for next."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from predictor.advice.case import Case
from predictor.advice.evidence import place, plugged_rows, suspicious
from predictor.domain.control import Lever, Sprockets
from predictor.domain.drill import CatchDefaults
from predictor.domain.trials import NOTHING_G

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


class Action(NamedTuple):
    """What to do next."""

    decision: Decision
    reason: str
    setting: float | str | None
    chance: float | None
    more: int | None  # Catches still to make
    turns: float | None = None  # Of the next catch, where they are to change
    rows: float | None = None


def decide(case: Case) -> Action:
    """Fit, weigh and decide."""
    if len(case.used) == 0 and (case.history is None or case.history.prior.level is None):
        return _start(case)
    case.fit()
    case.set_aside()
    case.weigh()
    best = case.best()
    again = _falling(case) or _plugged(case) or _recheck(case)
    if again is not None:
        return Action("recheck", *again)
    if len(case.caught) and case.caught_chance.max() >= case.confidence:
        return _lock(case)
    if len(case.used):
        nowhere = case.nowhere()
        if nowhere >= OUT_OF_REACH:
            nearest = case.nearest()
            if len(case.caught) < 2 and case.openings[nearest] not in case.caught:
                first = "No setting looks near enough; this is the nearest, and one catch there settles it."
                return Action("move", first, case.settings[nearest], float(case.real_chance[nearest]), 1)
            return _unreachable(case, f"{_percent(nowhere)} sure: no setting of this box is within tolerance.")
    return _go_on(case, best)


def _start(case: Case) -> Action:
    """No catch and no history: the first catch goes to the middle of the scale."""
    nothing = case.mine.where(case.mine.use & case.mine.charged & (case.mine.catch_g <= NOTHING_G)).in_box(case.box)
    if len(nothing):
        return _after_nothing(case, float(nothing.opening.max()))
    middle = case.settings[len(case.settings) // 2]
    none = "No catch that counts yet" if len(case.mine) else "No catch yet"
    return Action("move", f"{none}: start in the middle.", middle, None, None)


def _after_nothing(case: Case, closed: float) -> Action:
    """Every catch so far weighed nothing, up to the opening `closed`: look further up, or for what is shut."""
    shown = case.box.control.at(closed).text
    further = np.flatnonzero(case.openings > closed)
    if not len(further):
        reason = f"Nothing came at {shown}, the most this box can give: a closed gate, a plugged row, an empty box?"
        return Action("unreachable", reason, case.settings[-1], None, None)
    where = case.settings[further[len(further) // 2]]
    reason = f"Nothing came at {shown}: check gate and seed, then catch further open."
    return Action("move", reason, where, None, None)


def _lock(case: Case) -> Action:
    # of settings as good as sure, the one nearest to target
    good = np.flatnonzero(case.caught_chance >= max(case.confidence, case.caught_chance.max() - CLEARLY))
    mean = np.maximum(np.asarray(case.curve.mean(case.caught[good])), 1e-300)
    i = int(good[np.argmin(np.abs(np.log(mean / case.target)))])
    where = case.box.control.at(float(case.caught[i])).value
    count = int(np.sum(case.used.opening == case.caught[i]))
    times = {1: "once", 2: "twice"}.get(count, f"{count} times")
    if case.caught[i] == case.present:
        reason = f"Caught there {times}, and it is sure enough: lock it and plant."
    else:
        shown = case.box.control.at(float(case.caught[i])).text
        reason = f"Caught {times} at {shown}, and that is sure enough: move it back there, lock it and plant."
    return Action("lock", reason, where, float(case.caught_chance[i]), 0)


def _go_on(case: Case, best: int) -> Action:
    """Move, repeat, lengthen, or see that no number of catches will do."""
    chance = float(case.real_chance[best])
    more, cause = case.prospect.more_catches(case.openings[best])
    enough = len(case.used) >= LAST_CATCH
    if enough or (more is None and len(case.used) > 1):
        if cause == "rows":
            return _lengthen_rows(case, best, chance)
        if cause == "noise" or (enough and cause != "off"):
            return _lengthen_turns(case, best, chance)
        if len(case.used) >= FAIR_TRIAL:
            return _unreachable(
                case,
                f"After {len(case.used)} catches no setting can be told to be within tolerance: "
                "the nearest lies on its edge.",
                edge=True,
            )
    here = np.flatnonzero(case.caught == case.present)
    here_chance = float(case.caught_chance[here[0]]) if len(here) else 0.0
    stay = len(here) and chance - here_chance < CLEARLY
    if not stay:
        where = case.settings[best]
        first = (
            "The earlier lots say to start here."
            if not len(case.used)
            else "This setting is likelier to be right: catch there."
        )
        return Action("move", first, where, chance, more)
    where = case.box.control.at(case.present).value
    return Action("repeat", "The best setting so far, but the evidence is thin: catch again.", where, here_chance, more)


def _lengthen_turns(case: Case, best: int, chance: float) -> Action:
    for times in (2, 3, 4, 6, 8):
        more, _ = case.prospect.more_catches(case.openings[best], noise=case.prospect.likely_noise() / np.sqrt(times))
        if more is not None and more <= LENGTHENED_CATCHES:
            break
    most = MOST_TIMES_TURNS * (case.drill.catch.turns if case.drill else CatchDefaults().turns)
    if case.turns >= most:
        return _unreachable(case, f"Catches of {case.turns:g} turns still scatter too widely: find out why first.")
    turns = min(case.turns * times, most)
    reason = (
        f"Catches scatter by {100 * case.prospect.likely_noise():.0f} %: "
        f"at {case.turns:g} turns it takes too many. "
        f"Use {turns:g} turns a catch from here."
    )
    return Action("lengthen", reason, case.settings[best], chance, more, turns=turns)


def _lengthen_rows(case: Case, best: int, chance: float) -> Action:
    info = case.row_info
    rows = info.drill_rows
    for count in range(info.rows + 1, info.drill_rows + 1):
        more, _ = case.prospect.more_catches(case.openings[best], row_variance=info.variance_with(count))
        if more is not None:
            rows = count
            break
    reason = (
        f"Rows differ by {100 * info.spread:.0f} %: catching the same {info.rows} again cannot tell the whole "
        f"drill's rate. Catch {rows} of the {info.drill_rows} rows."
    )
    return Action("lengthen", reason, case.settings[best], chance, more, rows=rows)


def _unreachable(case: Case, why: str, edge: bool = False) -> Action:
    nearest = case.nearest()
    around = case.openings[max(nearest - 1, 0) : nearest + 2]
    mean = np.asarray(case.curve.mean(around))
    off = 100 * (mean / case.target - 1)
    percent = float(off[np.flatnonzero(around == case.openings[nearest])[0]])
    where = case.box.control.at(case.openings[nearest]).text
    drive = "chain pair" if isinstance(case.box.control, Sprockets) else "drive (if the drill has one)"
    if edge or (off.min() < 0 < off.max()):
        mend = f"The target lies between two settings: change the carrier or use another {drive}, so that one fits"
        mend += ", or ask whether the specification allows more"
    elif percent > 0:
        mend = f"Add carrier (then more must be caught), use a slower {drive}, or close rows"
    else:
        mend = f"Use a faster {drive}, split the seed between two boxes, or drill twice, each at half the rate"
    size = f"{abs(percent):.0f} %" if abs(percent) < 1000 else "many times"
    reason = f"{why} Nearest is {where}: {size} {'above' if percent > 0 else 'below'} target. {mend}."
    return Action("unreachable", reason, case.settings[nearest], float(case.real_chance[nearest]), None)


def _plugged(case: Case):
    """Reason to recheck where a row of the last catch gave next to nothing: it would plant nothing either."""
    last = len(case.used) - 1
    rows = plugged_rows(case.used).get(last)
    if rows is None:
        return None
    spot = np.flatnonzero(case.caught == case.present)[0]
    reason = f"{place(case.used, last)}: {rows}. Clear it and catch again."
    return reason, case.box.control.at(case.present).value, float(case.caught_chance[spot]), None


def _falling(case: Case):
    """Reason to recheck where output falls with the setting beyond doubt: the lever may count the other way."""
    control = case.box.control
    if not isinstance(control, Lever) or len(case.caught) < 3:
        return None
    logs = [float(np.mean(np.log(case.used.output[case.used.opening == each]))) for each in case.caught]
    if not np.all(np.diff(logs) < 0) or logs[0] - logs[-1] < 3 * case.prior.typical_cv:
        return None
    this, other = ("Higher", "lower") if control.more_is == "higher" else ("Lower", "higher")
    reason = (
        f'{this} readings gave less each time. If that is how this lever works, write more_is = "{other}" for box '
        f"{case.box.name} in drill.toml; if not, check the settings."
    )
    return reason, control.at(case.present).value, None, None


def _recheck(case: Case):
    """Reason, setting, chance and more catches where a catch contradicts the rest and was not repeated yet."""
    for i in suspicious(case.used, case.curve, case.prior):
        what = case.contradiction(i)
        if (case.used.opening[i + 1 :] == case.used.opening[i]).any():
            case.warnings.append(f"{what}. It was repeated since; write use = no if you know what went wrong.")
            continue
        hint = (
            "Bridged, not charged, a plugged row, a misread scale?"
            if "less than" in what
            else "A misread scale or setting, twice the turns?"
        )
        where = case.box.control.at(float(case.used.opening[i])).value
        spot = np.flatnonzero(case.caught == case.used.opening[i])[0]
        reason = f"{what}. {hint} Repeat it before anything else."
        return reason, where, float(case.caught_chance[spot]), None
    return None


def _percent(share: float) -> str:
    return f"{100 * min(share, 0.99):.0f} %"
