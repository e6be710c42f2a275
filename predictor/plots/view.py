"""What a catch picture shows: the setting, the target zone, the bar, the catches, and the window that holds them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from predictor.advice.caught import Caught, caught
from predictor.advice.limits import bar
from predictor.advice.result import Advice
from predictor.domain.control import Lever, Setting
from predictor.job.stage import Stage
from predictor.text.answer import Answer, advised, answer
from predictor.text.caught import shown_setting

# The bar is cut so many heights off what has to be seen. A catch further off than so many heights, and than such a
# share of the target, is drawn at the edge.
FAR_BAR, FAR_CATCH, FAR_OFF_TARGET = 0.5, 1.0, 0.6


@dataclass(frozen=True)
class View:
    """One picture: what it says, and the window it shows."""

    advice: Advice
    answer: Answer
    setting: Setting | None  # Where the diamond and the bar are
    caught: Caught
    zone: tuple[float, float]
    bar: tuple[float, float] | None
    low: float  # Ends of the axes
    high: float
    bottom: float
    top: float

    @property
    def mean(self) -> float:
        """Mean catch at the setting, grams."""
        advice, setting = self.advice, self.setting
        assert advice.curve is not None
        assert setting is not None
        return float(advice.curve.mean(setting.opening)) * advice.next_turns * advice.next_rows


def view_of(stage: Stage) -> View:
    """The picture of a box and lot, from where they are."""
    return _view(stage.advice, answer(stage), shown_setting(stage))


def view_of_advice(advice: Advice) -> View:
    """The picture of what the catches alone say."""
    return _view(advice, advised(advice), advice.advised)


def _view(advice: Advice, said: Answer, setting: Setting | None) -> View:
    """What to show, and the window that holds it."""
    found, target = caught(advice), advice.target_catch_g
    zone = target * (1 - advice.tolerance), target * (1 + advice.tolerance)
    limits = None if advice.curve is None or setting is None else bar(advice, setting.opening)
    low, high = _across(advice, found, setting)
    view = View(advice, said, setting, found, zone, limits, low, high, 0.0, 1.0)
    return _heightened(view)


def _across(advice: Advice, found: Caught, setting: Setting | None) -> tuple[float, float]:
    """Openings to show: those of the catches and of the setting, and the next settings beside them."""
    control, openings = advice.control, advice.control.openings
    points = [*found.opening.tolist(), *([setting.opening] if setting else [])] or [float(np.median(openings))]
    least, most = min(points), max(points)
    if isinstance(control, Lever):
        room = max(0.2 * (most - least), 0.06 * control.span, 1.5 * control.step)
        ends = control.lowest, control.highest
        edge = 0.05 * (most - least + 2 * room)
        return max(least - room, ends[0] - edge), min(most + room, ends[1] + edge)
    before, after = openings[openings < least - 1e-9], openings[openings > most + 1e-9]
    first, last = (before[-1] if len(before) else least), (after[0] if len(after) else most)
    room = 0.08 * (last - first) or 0.1 * last
    return float(first - room), float(last + room)


def _heightened(view: View) -> View:
    """The view with the weights that it shows: target zone, mean and bar, catches, and room for names below."""
    found, points = view.caught, [*view.zone]
    plain = [i for i in np.flatnonzero(found.used).tolist() if i not in found.doubts]
    points += found.grams[plain].tolist()
    points += [] if view.bar is None else [view.mean]
    least, most = min(points), max(points)
    far = FAR_OFF_TARGET if view.advice.curve is not None else 1.0
    reach = max(FAR_CATCH * (most - least), far * view.advice.target_catch_g)
    ends = [each for each in found.grams.tolist() if least - reach <= each <= most + reach]
    if view.bar is not None:
        reach = FAR_BAR * (most - least)
        ends += [max(view.bar[0], least - reach), min(view.bar[1], most + reach)]
    least, most = min([least, *ends]), max([most, *ends])
    below = 0.2 if view.advice.curve is not None else 0.1  # room for the bracket of the ideal setting
    return replace(view, bottom=least - below * (most - least), top=most + 0.1 * (most - least))
