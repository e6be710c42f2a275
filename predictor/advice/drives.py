"""Which drive of a box with two controls to be on: the one in hand, unless another is far more likely to do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from predictor.advice.aim import Aim
from predictor.advice.case import FLAT, Case, weigh
from predictor.advice.decision import Action, decide, lock, out_of_reach, waiting
from predictor.advice.lot_fit import LotFit, fit_lot
from predictor.domain.drives import LeverAndDrive
from predictor.domain.result import Remark
from predictor.slips.finding import Finding

# Where both chances are small, the drive that is so many times as likely to do is worth the change; judgement.
MANY_TIMES = 4.0


def choose(fit: LotFit, aim: Aim, slips: tuple[Finding, ...] | None = None) -> tuple[LotFit, Action]:
    """What a fitted lot asks for next, and the fit on the drive that it asks for.

    A change of drive needs a chance larger by far: catches on another drive count less, and the change takes time.
    Slips are looked for unless they are given.
    """
    action = decide(fit, aim, slips)
    other, changed = _changed(fit, aim, action)
    # the slips are those of the same catches, whichever drive they are seen from
    return other, action if changed is action else replace(waiting(changed, action.slips), slips=action.slips)


def _changed(fit: LotFit, aim: Aim, action: Action) -> tuple[LotFit, Action]:
    """The action, or another one on the drive that serves better."""
    if fit.curve is None or not fit.drive or action.decision in ("lock", "recheck") or action.offers_lock:
        return fit, action
    here = weigh(fit, aim)
    out = out_of_reach(here) is not None
    others = [_on(fit, aim, drive) for drive in fit.other_drives if out or _worth_a_look(here, drive)]
    cases = [weigh(other, aim) for other in others if other.curve is not None]
    for case in cases:
        if (locked := lock(case)) is not None:
            return case.fit, locked
    within = [case for case in cases if out_of_reach(case) is None]
    untried = next((other for other in others if other.curve is None), None)
    if not within and action.decision == "unreachable" and untried is not None:
        return _try_out(untried, fit)
    if not within:
        return _nearest(here, cases, action) if out else (fit, action)
    best = max(within, key=_chance)
    if not out and _chance(best) <= min(_chance(here) + FLAT, MANY_TIMES * _chance(here)):
        return fit, action
    more, _ = best.more_catches(fit.turns_caught)
    why = Remark("advice.other-drive", {"drive": best.fit.drive, "from": fit.drive, "chance": _chance(here)})
    moved = Action("move", why, best.setting(best.best), _chance(best), more)
    return best.fit, replace(moved, slips=action.slips)


def _worth_a_look(here: Case, drive: str) -> bool:
    """Whether a drive may serve better, by the curve of the drive in hand, which costs no fit."""
    fit, both = here.fit, here.fit.box.control
    assert isinstance(both, LeverAndDrive)
    times = both.times(drive, fit.drive)
    if np.isnan(times) or (fit.used.drives(both) == drive).any():
        return True
    return _chance(weigh(fit, replace(here.aim, target_output=here.aim.target_output / times))) > _chance(here)


def _on(fit: LotFit, aim: Aim, drive: str) -> LotFit:
    """The same lot fitted on another drive; without a curve where neither catches nor earlier lots speak of it."""
    return fit_lot(
        fit.log,
        fit.box,
        lot=fit.lot,
        season=fit.season,
        history=aim.history,
        drill=fit.drill,
        near=fit.near,
        slip=fit.slip,
        drive=drive,
    )


def _try_out(untried: LotFit, fit: LotFit) -> tuple[LotFit, Action]:
    """A first catch on a drive of which nothing is known, in the middle of its scale."""
    openings = untried.control.openings
    why = Remark("advice.untried-drive", {"from": fit.drive, "drive": untried.drive})
    return untried, Action("move", why, untried.control.at(float(openings[len(openings) // 2])), None, None)


def _chance(case: Case) -> float:
    return float(case.real_chance[case.best])


def _nearest(here: Case, others: list[Case], action: Action) -> tuple[LotFit, Action]:
    """Where no drive reaches the target: the drive that comes nearest, settled by a catch there."""

    def off(case: Case) -> float:
        return float(case.off_target(case.openings[[case.nearest]])[0])

    nearest = min([here, *others], key=off)
    found = None if nearest is here else out_of_reach(nearest)
    return (here.fit, action) if found is None else (nearest.fit, found)
