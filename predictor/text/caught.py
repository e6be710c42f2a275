"""The catch picture in words, with every value that it gives, and the names of catches in it."""

from __future__ import annotations

import numpy as np

from predictor.advice.caught import Caught, Doubt, caught
from predictor.advice.limits import bar
from predictor.advice.result import Advice
from predictor.domain.control import Setting
from predictor.domain.drives import OnDrive
from predictor.domain.trials import Trials
from predictor.format import count, listed, plain, weight, weights
from predictor.job.stage import Stage
from predictor.text.answer import answer

REASONS = {"uncharged": "not charged", "nothing": "nothing came"}
# Lines of a doubt that are named one by one.
MOST_LINES = 4
# Settings whose catches are described one by one; weights of one setting; catches left out.
MOST_SETTINGS, MOST_WEIGHTS, MOST_LEFT_OUT = 6, 3, 5


def catch_picture(stage: Stage) -> str:
    """The catch picture of a box and lot: decision, target, bar, and the catches."""
    advice, said, setting = stage.advice, answer(stage), shown_setting(stage)
    lot = f", lot {said.lot}" if said.lot else ""
    decision = f"{said.headline}{f', {said.sure}' if said.sure else ''}"
    parts = [
        f"Catches of box {said.box}{lot}. {decision}",
        f"Target {said.target} in {said.made}; within {plain(100 * advice.tolerance)} % is {said.zone}",
        _bar_words(advice, setting),
        _used_words(advice),
        _doubt_words(advice),
        _left_out_words(advice),
    ]
    return " ".join(f"{each}." for each in parts if each)


def _bar_words(advice: Advice, setting: Setting | None) -> str:
    """What is expected at the setting, and whether the bar of the mean lies in the target zone."""
    if advice.curve is None or setting is None:
        return "There is no curve yet"
    (low, high), step = bar(advice, setting.opening), advice.step_g
    target, tolerance = advice.target_catch_g, advice.tolerance
    inside = low >= target * (1 - tolerance) and high <= target * (1 + tolerance)
    mean = float(advice.curve.mean(setting.opening)) * advice.next_turns * advice.next_rows
    where = "inside" if inside else "not wholly inside"
    return (
        f"Expected at {setting}: {weight(mean, step)} g. The mean is {weights(low, high, step)} with "
        f"{plain(100 * advice.confidence)} chances in 100, {where} the target zone"
    )


def _used_words(advice: Advice) -> str:
    """The catches used by setting, with their weights; of many settings and weights the ends."""
    found = caught(advice)
    if not found.used.any():
        return "No catch counts"
    texts, opening, grams = found.trials.setting[found.used], found.opening[found.used], found.grams[found.used]
    first = dict(zip(opening.tolist(), texts.tolist(), strict=True))
    many = count(len(grams), "catch used", "catches used")
    if len(first) > MOST_SETTINGS:
        ends = first[min(first)], first[max(first)]
        return f"{many} at {len(first)} settings from {ends[0]} to {ends[1]}: {_told(grams.tolist(), advice.step_g)}"
    each = (f"{_told(sorted(grams[opening == at].tolist()), advice.step_g)} at {first[at]}" for at in sorted(first))
    return f"{many}: {', '.join(each)}"


def _told(grams: list[float], step: float) -> str:
    """Weights one by one, or their range."""
    if len(grams) <= MOST_WEIGHTS:
        return f"{' and '.join(weight(each, step) for each in grams)} g"
    return f"{weights(min(grams), max(grams), step)} ({len(grams)})"


def _doubt_words(advice: Advice) -> str:
    found = caught(advice)
    said = "; ".join(doubt(advice, found, each) for each in dict.fromkeys(found.doubts.values()))
    return said[:1].upper() + said[1:]


def _left_out_words(advice: Advice) -> str:
    """The catches that do not count, with their reasons, the last ones first."""
    found = caught(advice)
    left = [i for i in np.flatnonzero(~found.trials.counts).tolist() if i not in found.doubts][::-1]
    told = [
        f"{weight(float(found.grams[i]), advice.step_g)} g at {found.trials.setting[i]} "
        f"({left_out(advice, found.trials, i)})"
        for i in left[:MOST_LEFT_OUT]
    ]
    more = f" and {len(left) - len(told):,} more" if len(left) > len(told) else ""
    return f"Left out: {', '.join(told)}{more}" if told else ""


def shown_setting(stage: Stage) -> Setting | None:
    """The setting that the picture of a box marks: the one in force, or the one advised; None on another drive."""
    setting, control = stage.advice.advised if stage.doing == "advised" else stage.setting, stage.advice.control
    other = setting is not None and isinstance(control, OnDrive) and setting.drive != control.drive
    return None if other else setting


def left_out(advice: Advice, trials: Trials, i: int) -> str:
    """Why a catch does not count, in a few words."""
    status, note = str(trials.status[i]), str(trials.note[i])
    if status == "unused" and advice.towed and not trials.towed[i]:
        return "the drill stood"
    return REASONS.get(status) or note or "marked not to be used"


def doubt(advice: Advice, found: Caught, each: Doubt) -> str:
    """Catches in doubt, named as the log has them."""
    if len(each.lines) > 1:
        first, last = min(each.lines), max(each.lines)
        whole = last - first == len(each.lines) - 1
        lines = f"{first} to {last}" if whole and last > first + 1 else listed(map(str, sorted(each.lines)), MOST_LINES)
        return f"lines {lines}: {each.state}"
    i = found.trials.line.tolist().index(each.lines[0])
    return f"line {each.lines[0]}, {weight(float(found.trials.catch_g[i]), advice.step_g)} g: {each.state}"
