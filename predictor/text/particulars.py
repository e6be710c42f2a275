"""What stands below the answers: why, what to look at, and what only a statistician needs."""

from __future__ import annotations

import math
from collections.abc import Sequence

from predictor.advice.result import Advice
from predictor.domain.control import Sprockets
from predictor.domain.drives import OnDrive
from predictor.field.results import FieldResult
from predictor.field.verdict import Verdict
from predictor.format import chances, count, figures, percent, plain
from predictor.job.stage import Stage
from predictor.text import verdict as verdict_text
from predictor.text.advice import standing_note
from predictor.text.answer import Answer, advised, answer, of_verdict
from predictor.text.answers import answer_lines
from predictor.text.doing import look_at, on_target
from predictor.text.drill import around
from predictor.text.fold import Fold
from predictor.text.stage import next_time
from predictor.units import RATE_UNIT, Units


def stage_lines(
    stages: Sequence[Stage], units: Units | None, fold: Fold, width: int, *, details: bool = False
) -> list[str]:
    """The answers on boxes and lots, then of each why, what to look at and what is behind it."""
    answers = [answer(each) for each in stages]
    said = [*answer_lines(answers, width), ""]
    several = len(sizes(answers)) > 1
    for stage, found in zip(stages, answers, strict=True):
        later = [next_time(stage)] if stage.doing != "advised" else []
        size = f"weights are for {found.made}" if several and found.ready else ""
        said += _block(found, stage.advice, [found.reason, *later], size, units, fold, details=details)
    return said


def sizes(answers: Sequence[Answer]) -> set[str]:
    """The sizes of catch that weights of boxes that are ready refer to."""
    return {each.made for each in answers if each.ready and each.target}


def advice_lines(advice: Advice, units: Units | None, fold: Fold, width: int) -> list[str]:
    """The answer of the catches alone, with all that is behind it."""
    found = advised(advice)
    size = f"weights are for {found.made}" if found.ready else ""
    return [*answer_lines([found], width), *_block(found, advice, [found.reason], size, units, fold, details=True)]


def _block(
    found: Answer, advice: Advice, why: Sequence[str], size: str, units: Units | None, fold: Fold, *, details: bool
) -> list[str]:
    """One box and lot: why, on what evidence, and what to look at."""
    part = not details and not advice.whole_drill and advice.chance is not None
    reasons = [*why, f"The chance is that {on_target(advice)}." if part else "", _evidence(advice, size, units)]
    said = [*look_at(advice), *advice.warnings, *(_details(found, advice) if details else [])]
    told = f"{_name(found.box, found.lot)}: {' '.join(filter(None, reasons))}"
    return [fold(told, "", "  "), *(fold(each, "  ", "    ") for each in said)]


def _name(box: str, lot: str) -> str:
    return f"{box}, {lot}" if lot else box


def notes(stages: Sequence[Stage]) -> str:
    """What weights and chances refer to, and what comes on top in the field; once a page."""
    answers = [answer(each) for each in stages]
    made = sizes(answers)
    said = [f"Weights are for {made.pop()}."] if len(made) == 1 else []
    shown = [(found.chance, stage) for found, stage in zip(answers, stages, strict=True) if found.chance]
    caught = [(chance, stage.advice) for chance, stage in shown if stage.verdict is None or stage.doing == "advised"]
    if caught:
        chance, advice = caught[0]
        said.append(f"{chance} is the chance that {on_target(advice)}.")
    field = [chance for chance, stage in shown if stage.verdict is not None and stage.doing != "advised"]
    if field and caught:
        said.append("After a field check it is the chance that the rate in the field is within tolerance.")
    elif field:
        said.append(f"{field[0]} is the chance that the rate in the field is within tolerance.")
    known = [advice for _, advice in caught]
    known += [each.advice for each in stages if each.advice.towed and each.advice not in known]
    return " ".join([*said, *([standing_note(known)] if known else [])])


def _evidence(advice: Advice, size: str, units: Units | None) -> str:
    """The catch that weights refer to, the rate, and the catches behind the answer."""
    rate, more = advice.rate(advice.target_output, units), advice.catches_expected_more
    left_out = f", {advice.catches_left_out} left out" if advice.catches_left_out else ""
    parts = (
        size,
        f"bulk rate {figures(rate)} {RATE_UNIT[units or advice.drill.units]}" if rate and advice.drill else "",
        f"{count(advice.catches_used, 'catch', 'catches')} used{left_out}",
        f"about {more} more to come" if more else "",
    )
    text = "; ".join(filter(None, parts))
    return f"{text[0].upper()}{text[1:]}."


def _details(found: Answer, advice: Advice) -> list[str]:
    """What only a statistician needs."""
    said = []
    if advice.chance is not None and advice.decision != "unreachable" and not advice.waiting:
        said.append(f"{chances(advice.chance)} that {on_target(advice)} at {advice.advised}.")
    tolerance = f"Within {plain(100 * advice.tolerance)} % of target are {found.zone}"
    said.append(f"{tolerance}; the next catch should be {found.usual} (95 in 100)." if found.usual else f"{tolerance}.")
    repeats = advice.repeatability
    parts = [_ideal(advice), "" if repeats is None else f"repeatability {percent(repeats)} %", f"curve: {advice.model}"]
    text = "; ".join(filter(None, parts))
    return [*said, f"{text[0].upper()}{text[1:]}.", *([advice.history] if advice.history else [])]


def _ideal(advice: Advice) -> str:
    """Where the ideal setting lies, as far as the control goes."""
    (low, high), control = advice.setting_interval, advice.control
    if low is None and high is None:
        return ""
    if isinstance(control, Sprockets):
        if low is None or high is None:
            return f"ideal setting {'beyond' if high is None else 'before'} {low if high is None else high}"
        return f"ideal setting between {low} and {high}" if low != high else f"ideal setting {low}"
    start, stop = -math.inf if low is None else float(low), math.inf if high is None else float(high)
    lowest, highest = control.ends
    if start > highest or stop < lowest:
        end = highest if start > highest else lowest
        where = "in the shut part" if end == control.shut else "off the scale"
        return f"ideal setting {where}, beyond {end:g}"
    first, last = around(control, max(start, lowest), min(stop, highest))
    first, last = f"{first} or less" if start < lowest else first, f"{last} or more" if stop > highest else last
    on = f" on {control.drive}" if isinstance(control, OnDrive) else ""
    return f"ideal setting {first} to {last}{on}" if first != last else f"ideal setting near {first}{on}"


def checked_lines(
    verdicts: Sequence[Verdict], stages: Sequence[Stage], found: FieldResult | None, fold: Fold, width: int
) -> list[str]:
    """The answers on boxes that were checked in the field, then why; later catches or lines go before a check."""
    places = {(each.box, each.lot.lower()): each for each in stages}
    known = [places.get((each.box, each.lot.lower())) for each in verdicts]
    answers = [answer(at) if at else of_verdict(each) for at, each in zip(known, verdicts, strict=True)]
    said = [*answer_lines(answers, width), *([""] if answers else [])]
    names: dict[str, list[str]] = {}  # by what is said, once for boxes that were weighed together
    for verdict, stage in zip(verdicts, known, strict=True):
        words = verdict_text.verdict_words(verdict, found)
        if stage is not None and stage.verdict is None:
            words = [*words[:-1], verdict_text.LATER]
        names.setdefault(" ".join(words), []).append(_name(verdict.box, verdict.lot))
    return said + [fold(f"{' and '.join(boxes)}: {words}", "", "  ") for words, boxes in names.items()]
