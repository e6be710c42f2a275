"""A catch that contradicts its own lot, held against the other boxes and lots of the job: it may be one of theirs."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from predictor.advice.lot_fit import LotFit
from predictor.advice.result import Advice
from predictor.domain.drill import SeedBox
from predictor.domain.result import Remark
from predictor.domain.trials import Trials
from predictor.slips.causes import Cause, Range, with_places
from predictor.slips.finding import Finding
from predictor.slips.odd import EXPECTED

# So many lots are looked at, the last caught first, and each needs so many catches to say where a weight fits.
MOST_LOTS, FEWEST_CATCHES = 8, 2

FitOn = Callable[[SeedBox, str], LotFit]


def with_other_places(advice: Advice, log: Trials, fit_on: FitOn) -> Advice:
    """The advice, its odd catches with the boxes and lots of the log that their weight would fit at their setting.

    `fit_on` fits a box and lot as its last season has it.
    """
    why, slips = advice.why, list(advice.slips)
    for k, old in enumerate(advice.slips):
        new = slips[k] = _looked_at(old, log, advice.trials, fit_on)
        if dict(why.values) == dict(old.values):
            why = Remark(why.code, new.values)
        elif why == old.remark:
            why = new.remark
    return replace(advice, why=why, slips=tuple(slips))


def _looked_at(found: Finding, log: Trials, catches: Trials, fit_on: FitOn) -> Finding:
    """An odd catch with the places it would fit; other findings as they are."""
    if found.code != "odd" or found.values["confirmed"]:
        return found
    i = int((catches.line == found.lines[0]).argmax())
    turns, rows = float(catches.turns[i]), float(catches.rows[i])
    places = _places(found, log, turns, rows, fit_on)
    causes = with_places(found.values["causes"], found.values["grams"], places)
    return replace(found, values={**found.values, "causes": causes})


def _places(found: Finding, log: Trials, turns: float, rows: float, fit_on: FitOn) -> Iterator[tuple[Cause, Range]]:
    """Each other box and lot of the log that has the setting, as a cause, with what a catch weighs there."""
    drill, grams = log.drill, found.values["grams"]
    names = list(dict.fromkeys(zip(reversed(log.box.tolist()), reversed(log.lot.tolist()), strict=True)))
    others = [each for each in names if each != (found.box, found.lot)]
    for name, lot in others[:MOST_LOTS]:
        box = next((each for each in drill.boxes if each.name == name), None) if drill else None
        setting = box.control.find(found.values["setting"]) if box else None
        if box is None or setting is None or (name == found.box and lot.lower() == found.lot.lower()):
            continue
        fit = fit_on(box, lot)
        if fit.curve is None or len(fit.used) < FEWEST_CATCHES or fit.drive != setting.drive or fit.towed:
            continue
        low, high = fit.curve.interval(setting.opening, EXPECTED, "next", fit.length_of(turns, rows))
        expected = max(float(low), 0.0) * turns * rows, float(high) * turns * rows
        code = "other_lot" if name == found.box else "other_box"
        yield Cause(code, grams, {"box": name, "lot": lot}), expected
