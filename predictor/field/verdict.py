"""What a field check means for a box that is planting: leave it, move it for the rest, or weigh again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from scipy.special import stdtrit

from predictor.advice.aim import TOLERANCE
from predictor.advice.lot_fit import LotFit
from predictor.advice.setup import DRIVE_SPREAD
from predictor.curves.ratios import Ratios, log_ratio, log_ratios
from predictor.domain.catch import rate_for_output
from predictor.domain.control import Floats, Setting
from predictor.domain.drill import Drill
from predictor.domain.result import Remark
from predictor.field.comparing import Compared, Evidence
from predictor.field.factors import usable
from predictor.field.model import Estimate, Model
from predictor.field.usual import CHECK_SPREAD, FAULT_SPREAD, TOWED_SPREAD

Answer = Literal["leave", "move", "weigh"]
# A box, lot and season.
Place = tuple[str, str, str | None]
# A box is moved only where it is more likely out of tolerance than in it, and where the chance elsewhere is larger by
# so much. The page for the statistician says how often both are right.
LEAST_CHANCE, WORTH_MOVING = 0.5, 0.1
# Settings whose chances differ by less are alike, and the one nearest to target is taken.
ALIKE = 0.02
# A rate that is likely out of tolerance, where no setting is clearly better.
NO_BETTER = "verdict.leave_no_better"
# More further checks than this are not asked for.
MOST_CHECKS = 4


@dataclass(frozen=True)
class Verdict:
    """What the field checks of a box and lot say of the setting it is at.

    Attributes
    ----------
    box, lot, season : str
        The season is that of its catches.
    setting : Setting
        Where the box stood in its last check.
    answer : {"leave", "move", "weigh"}
        Leave it there, move it for the rest, or check the last weighing first.
    why : Remark
        The reason; `str(verdict.why)` gives the sentence.
    ratio, ratio_lower, ratio_upper : float
        Field rate over target at that setting, with 95 % limits: from the catches, what is known of the field factor,
        and all checks that are not likely slips. Of boxes that were only weighed together it is that of their total.
    chance : float
        Probability that the field rate there is within tolerance.
    move_to : Setting or None
        Where to move it; None where it is not to be moved.
    chance_there : float or None
        Probability that the field rate there is within tolerance.
    checks : tuple of int
        Lines of the file of field checks that it rests on.
    date : str
        Of the last check, as YYYY-MM-DD.
    tolerance : float
    factor : float
        Field rate over standing rate by all this.
    together : tuple of str
        The boxes whose total it is of; empty where the box was weighed alone.
    """

    box: str
    lot: str
    season: str
    setting: Setting
    answer: Answer
    why: Remark
    ratio: float
    ratio_lower: float
    ratio_upper: float
    chance: float
    move_to: Setting | None
    chance_there: float | None
    checks: tuple[int, ...]
    date: str
    tolerance: float = TOLERANCE
    factor: float = 1.0
    together: tuple[str, ...] = ()

    @property
    def out(self) -> bool:
        """Whether the rate is likely out of tolerance, also where no other setting is clearly better."""
        return self.answer == "move" or self.why.code == NO_BETTER

    def to_dict(self) -> dict[str, Any]:
        """Fields by name, settings as the control shows them and the reason as a sentence.

        Returns
        -------
        dict

        Examples
        --------
        >>> import predictor
        >>> verdict = predictor.read_job("sample_trials").verdict("grain", "CW-26")
        >>> verdict.to_dict()["answer"], verdict.to_dict()["setting"]
        ('leave', '17')
        """
        moved = None if self.move_to is None else self.move_to.text
        return {**vars(self), "setting": self.setting.text, "move_to": moved, "why": str(self.why)}


def judge(
    compared: Sequence[Compared], place: Place, fit: LotFit, drill: Drill, tolerance: float = TOLERANCE
) -> Verdict | None:
    """The verdict on a box, lot and season by checks in the order of their days, the last of this box included.

    `fit` is the lot's curve on the drive of that check. None without a target or a catch of the lot.
    """
    own = [each for each in compared if place in each.places]
    if not own or fit.curve is None:
        return None
    last, others = own[-1], [each for each in usable(compared) if place not in each.places]
    i = last.places.index(place)
    alone = [each for each in own if len(each.places) == 1 and each.evidence and each.finding in ("fits", "fault")]
    if len(last.places) > 1 and not alone:
        return _together(own, i, others, drill, tolerance)
    known, here = last.known[i], last.check.parts[i].setting
    if known.standing is None or isinstance(known.target, Remark):
        return None
    rate = rate_for_output(math.exp(known.standing.log_output), drill, last.check.parts[i].box)
    seen = _Seen(last, i, tuple(alone), _single(alone, last, i, others, fit, drill), math.log(rate / known.target))
    chance = seen.chances(tolerance, np.zeros(1), np.zeros(1)).item()
    if last.finding == "slip" or last.check.seeds == 0:
        why = last.result.why_not if last.finding == "slip" else None
        why = why or Remark("verdict.no_seed")
        return replace(seen.verdict(tolerance, chance), answer="weigh", why=why)
    if chance >= LEAST_CHANCE:
        return replace(seen.verdict(tolerance, chance), why=seen.leave(tolerance))
    to, there = _best(seen, fit, log_ratios(fit.curve, fit.openings, here.opening), tolerance)
    made = seen.verdict(tolerance, chance)
    if there < chance + WORTH_MOVING or to.opening == here.opening:
        return replace(made, why=Remark(NO_BETTER, {"setting": here.text}))
    code = "verdict.move_fault" if any(each.finding == "fault" for each in alone) else "verdict.move"
    why = Remark(code, {"setting": here.text, "to": to.text})
    return replace(made, answer="move", why=why, move_to=to, chance_there=there)


@dataclass(frozen=True, eq=False)
class _Seen:
    """What the checks show of a box where it stands, or of several boxes together."""

    last: Compared
    i: int  # Place of the box in its last check
    used: tuple[Compared, ...]
    estimate: Estimate  # Log of the field rate over the standing one, at the setting of the last check
    base: float  # Log of the standing rate there over the target

    def chances(self, tolerance: float, shift: Floats, more_sd: Floats) -> Floats:
        """Chances of being within tolerance at settings that give so much more, as logarithms."""
        low, high = math.log1p(-tolerance) - self.base, math.log1p(tolerance) - self.base
        return self.estimate.between(low, high, shift, more_sd)

    def verdict(self, tolerance: float, chance: float) -> Verdict:
        """A verdict to leave the box, without its reason."""
        part, middle = self.last.check.parts[self.i], self.base + self.estimate.location
        lower, ratio, upper = (math.exp(middle + way * self.estimate.reach) for way in (-1, 0, 1))
        return Verdict(
            part.box.name,
            part.lot,
            self.last.known[self.i].season or "",
            part.setting,
            "leave",
            Remark("verdict.leave"),
            *(ratio, lower, upper),
            chance,
            None,
            None,
            tuple(each.check.line for each in self.used),
            self.last.check.date,
            tolerance,
            math.exp(self.estimate.location),
        )

    def leave(self, tolerance: float) -> Remark:
        """Why it is left: its limits are within tolerance, or how many more checks would likely show that."""
        middle = self.base + self.estimate.location
        for more in range(MOST_CHECKS + 1):
            variance = 1 / (1 / self.estimate.sd**2 + more / CHECK_SPREAD**2)
            reach = float(stdtrit(self.estimate.dof + more, 0.975)) * math.sqrt(variance)
            if math.log1p(-tolerance) <= middle - reach and middle + reach <= math.log1p(tolerance):
                break
        else:
            return Remark("verdict.leave_near_edge")
        counted = self.last.check.counted
        return Remark("verdict.leave_unsure", {"more": more, "counted": counted}) if more else Remark("verdict.leave")


def _best(seen: _Seen, fit: LotFit, ratios: Ratios, tolerance: float) -> tuple[Setting, float]:
    """The setting to be at, and the chance there: of those whose chances are alike the one nearest to target."""
    chances = ratios.weight @ seen.chances(tolerance, ratios.logs, ratios.sds)
    off = np.abs(seen.base + seen.estimate.location + ratios.middle)
    best = int(np.argmin(np.where(chances >= chances.max() - ALIKE, off, np.inf)))
    return fit.control.at(float(fit.openings[best])), float(chances[best])


def _single(
    alone: Sequence[Compared], last: Compared, i: int, others: Sequence[Evidence], fit: LotFit, drill: Drill
) -> Estimate:
    """Log of the field rate over the standing one at the setting of the last check, from all checks."""
    part, known = last.check.parts[i], last.known[i]
    assert known.standing is not None
    fault = FAULT_SPREAD if any(each.finding == "fault" for each in alone) else 0.0
    sd = math.hypot(known.standing.log_sd, TOWED_SPREAD if known.towed else 0.0, fault)
    one, none = np.ones(1), np.zeros(1)
    itself = replace(last.check, parts=(part,))
    wanted = Evidence(itself, (known.season,), known.towed, 0.0, 0.0, 0.0, one, sd * one, none)
    observed = [_translated(each, part.setting, known.standing.log_output, wanted, fit) for each in alone]
    return Model([*others, *observed], drill).expects(wanted)


def _translated(each: Compared, here: Setting, log_output: float, wanted: Evidence, fit: LotFit) -> Evidence:
    """A check as if it had been made at another setting: by the curve, and by the drives where they differ."""
    there, standing, found = each.check.parts[0].setting, each.known[0].standing, each.evidence
    assert fit.curve is not None
    assert standing is not None
    assert found is not None
    if there.drive != here.drive:
        return replace(found, sds=wanted.sds, moved_sd=DRIVE_SPREAD)
    shift, moved_sd = log_ratio(fit.curve, there.opening, here.opening)
    log_factor = found.log_factor + standing.log_output - log_output - shift
    return replace(found, log_factor=log_factor, sds=wanted.sds, moved_sd=moved_sd)


def _together(
    own: Sequence[Compared], i: int, others: Sequence[Evidence], drill: Drill, tolerance: float
) -> Verdict | None:
    """The verdict on a box that was only weighed together with others: the total is judged, and no box is moved."""
    last = own[-1]
    if last.evidence is None or last.result.target is None:
        return None
    settings = [part.setting for part in last.check.parts]
    used = [
        each
        for each in own
        if each.finding in ("fits", "fault")
        and each.places == last.places
        and [part.setting for part in each.check.parts] == settings
    ]
    wanted = replace(last.evidence, log_factor=0.0, variance=0.0, count_sds=0 * last.evidence.sds)
    estimate = Model([*others, *(each.evidence for each in used if each.evidence)], drill).expects(wanted)
    seen = _Seen(last, i, tuple(used), estimate, last.evidence.log_standing - math.log(last.result.target))
    chance = seen.chances(tolerance, np.zeros(1), np.zeros(1)).item()
    boxes = {"boxes": tuple(last.evidence.names)}
    made = replace(seen.verdict(tolerance, chance), together=boxes["boxes"])
    if last.finding == "slip" and last.result.why_not is not None:
        return replace(made, answer="weigh", why=last.result.why_not)
    if chance >= LEAST_CHANCE:
        return replace(made, why=Remark("verdict.leave_together", boxes))
    return replace(made, answer="weigh", why=Remark("verdict.weigh_alone", boxes))
