"""The answer on a box and lot in its pieces: one result behind every screen, page, card and picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

from predictor.advice.result import Advice
from predictor.field.verdict import Verdict
from predictor.format import in_100, weight, weights
from predictor.job.stage import Stage
from predictor.text import doing, verdict as verdict_text
from predictor.text.doing import Doing
from predictor.text.drill import charge_words, size_words
from predictor.text.stage import doing_of

# Why a setting that is sure enough is not locked yet, by what is asked for.
NOT_YET = {"move": "not caught there yet", "lengthen": "not caught there yet", "recheck": "a catch is in doubt"}


@dataclass(frozen=True)
class Answer:
    """What to do with a box and lot.

    Attributes
    ----------
    box, lot : str
    ready : bool
        Whether the box may plant at its setting: locked, planted, left there or moved after a field check.
    doing : Doing
        What to do or what was done, in pieces: "set", "14", "catch again". The setting is "" where none is to be used.
    chance : str
        How sure the setting is: "98 in 100"; "" where nothing is known.
    not_yet : str
        Why a setting that is sure enough is no lock yet: "not caught there yet"; else "".
    reason : str
        Why, in a few sentences.
    made : str
        Length and rows of the catch that all weights refer to, the next one where one is asked for: "28 turns, 3 rows".
    charge : str
        What fills the meters before it.
    target, zone : str
        Weight that it should have, and those within tolerance of it: "53.3 g", "48.0 to 58.6 g".
    expected, usual : str
        Weight to expect at the setting, and where 95 of 100 catches there lie; "" where nothing is known.
    """

    box: str
    lot: str
    ready: bool
    doing: Doing
    chance: str
    not_yet: str
    reason: str
    made: str
    charge: str
    target: str
    zone: str
    expected: str
    usual: str

    @property
    def headline(self) -> str:
        """What to do or what was done, in one phrase, all but settings and fields in capitals."""
        return self.doing.text()

    @property
    def sure(self) -> str:
        """How sure the setting is, and why that is no lock yet: "98 in 100", "not caught there yet (98 in 100)"."""
        return f"{self.not_yet} ({self.chance})" if self.not_yet else self.chance


def answer(stage: Stage) -> Answer:
    """The answer on a box and lot, from where they are."""
    there = stage.doing == "advised" or stage.advice.advised == stage.setting
    ready = stage.reached != "testing" and stage.doing != "weigh"
    return _answer(stage.advice, doing_of(stage), ready, _chance(stage), _reason(stage), there)


def advised(advice: Advice) -> Answer:
    """The answer of the catches alone, whatever was planted or checked in the field."""
    return _answer(advice, doing.doing(advice), advice.decision == "lock", _advised(advice), _why(advice), there=True)


def of_verdict(verdict: Verdict) -> Answer:
    """The answer of field checks alone, on a lot that no catch has advice on this season."""
    return Answer(
        box=verdict.box,
        lot=verdict.lot,
        ready=verdict.answer != "weigh",
        doing=verdict_text.doing(verdict),
        chance=_in_field(verdict),
        not_yet="",
        reason=" ".join(verdict_text.verdict_words(verdict)),
        **dict.fromkeys(("made", "charge", "target", "zone", "expected", "usual"), ""),
    )


def _answer(advice: Advice, found: Doing, ready: bool, sure: tuple[str, str], reason: str, there: bool) -> Answer:
    step, target = advice.step_g, advice.target_catch_g
    low, high = advice.next_catch_interval_g if there else (None, None)
    expected = advice.expected_catch_g if there else None
    return Answer(
        box=advice.box,
        lot=advice.lot,
        ready=ready,
        doing=found,
        chance=sure[0],
        not_yet=sure[1],
        reason=reason,
        made=size_words(advice.next_size),
        charge="" if advice.drill is None else charge_words(advice.drill.catch_of(advice.seed_box), advice.next_size),
        target=f"{weight(target, step)} g",
        zone=weights(target * (1 - advice.tolerance), target * (1 + advice.tolerance), step),
        expected="" if expected is None else f"{weight(expected, step)} g",
        usual="" if low is None or high is None else weights(low, high, step),
    )


def _chance(stage: Stage) -> tuple[str, str]:
    """How sure the setting in force is, of a planted one as it was on that day, and why that is no lock yet."""
    if stage.verdict is not None and stage.doing != "advised":
        return _in_field(stage.verdict), ""
    if stage.planted:
        found = stage.planted[-1].evidence
        return ("" if found is None or math.isnan(found.chance) else f"{in_100(found.chance)} in 100"), ""
    return _advised(stage.advice)


def _in_field(verdict: Verdict) -> str:
    """How sure the rate in the field is within tolerance."""
    if verdict.answer == "weigh":
        return ""
    return f"{in_100(verdict.chance if verdict.chance_there is None else verdict.chance_there)} in 100"


def _advised(advice: Advice) -> tuple[str, str]:
    """How sure the advised setting is, and why that is no lock yet where it would be enough for one."""
    if advice.chance is None or advice.decision == "unreachable" or advice.waiting:
        return "", ""
    enough = advice.chance >= advice.confidence and advice.decision != "lock"
    return f"{in_100(advice.chance)} in 100", NOT_YET.get(advice.decision, "") if enough else ""


def _reason(stage: Stage) -> str:
    """Why the box is where it is."""
    if stage.doing == "advised":
        return _why(stage.advice)
    verdict = stage.verdict
    if verdict is None:
        return ""
    # that they are within tolerance is seen from the limits
    seen = str(verdict.why) if verdict.why.code == "verdict.leave" else ""
    return " ".join(each for each in verdict_text.verdict_words(verdict) if each != seen)


def _why(advice: Advice) -> str:
    return " ".join(filter(None, (advice.reason, doing.without_slip(advice))))
