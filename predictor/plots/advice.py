"""The advice on a box as a picture: catches, curve, target and setting."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from predictor.advice.result import Advice
from predictor.domain.control import Floats, Lever
from predictor.domain.drives import OnDrive
from predictor.domain.trials import Trials
from predictor.format import figures
from predictor.plots.style import (
    BLUE,
    GREEN,
    GREY,
    ORANGE,
    axes_or_new,
    dress,
    new_figure,
    settings_axis,
    short,
    told_apart,
)
from predictor.text.doing import headline
from predictor.text.drill import one_word, size_words
from predictor.units import RATE_UNIT, Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE, HIGH = 7.0, 3.9
# Status of a catch to its mark and name.
MARKS = {
    "": ("o", "catches"),
    "unused": ("x", "left out"),
    "uncharged": ("s", "not charged"),
    "nothing": ("v", "weighed nothing"),
}


def plot_boxes(results: Sequence[Advice], units: Units | None = None) -> Figure:
    """One panel for each advice."""
    figure = new_figure(WIDE, HIGH * len(results))
    for axes, advice in zip(figure.subplots(len(results), 1, squeeze=False)[:, 0], results, strict=True):
        plot_advice(advice, axes, units)
    return figure


def plot_advice(advice: Advice, axes: Axes | None = None, units: Units | None = None) -> Axes:
    """Catches, mean, band of the next catch, target, and where the ideal setting lies."""
    axes = axes_or_new(axes, WIDE, HIGH)
    mine, target = advice.trials, advice.target_catch_g
    if isinstance(advice.control, OnDrive):
        mine = mine.on_drive(advice.seed_box.control, advice.control.drive)
    # catches of the standing drill beside towed ones, as the field has them
    slip = advice.aim.slip[0] if advice.towed and advice.aim.slip else 1.0
    weights = mine.output * np.where(mine.towed, 1.0, slip) * advice.next_turns * advice.next_rows
    axes.set_xlim(*_window(advice))
    _curve(axes, advice)
    axes.axhline(target, color=ORANGE, lw=1.8, ls="--", label="target")
    low, high = target * (1 - advice.tolerance), target * (1 + advice.tolerance)
    axes.axhspan(low, high, facecolor="none", edgecolor=ORANGE, hatch="....", alpha=0.35, lw=0, label="tolerance")
    _catches(axes, mine, weights)
    axes.set_ylim(0, max([1.25 * target, *(1.12 * weights)]))
    doing = headline(advice, capitals=False)
    _settings(axes, advice, doing)
    settings_axis(axes, advice.control)
    rate = advice.rate(advice.target_output, units)
    unit = RATE_UNIT[units or (advice.drill.units if advice.drill else "us")]
    wanted = "" if rate is None else f"\n(target is {figures(rate)} {unit} bulk)"
    axes.set_ylabel(f"grams in {size_words(advice.next_size)}{wanted}")
    name = f"{advice.box}, lot {advice.lot}" if advice.lot else advice.box
    dress(axes, f"{short(name)}: {doing}")
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=8, frameon=False)
    return axes


def plot_trials(trials: Trials, axes: Axes | None = None) -> Axes:
    """Output against setting, a colour a box and lot."""
    axes = axes_or_new(axes, WIDE, HIGH)
    boxes = {} if trials.drill is None else {each.name: each for each in trials.drill.boxes}
    for name, lot in dict.fromkeys(zip(trials.box.tolist(), trials.lot.tolist(), strict=True)):
        mine = trials.of(box=name, lot=lot)
        mine = mine.where(mine.counts)
        if name in boxes and isinstance(control := boxes[name].first_control, OnDrive):
            mine = mine.on_drive(boxes[name].control, control.drive)
        axes.plot(*told_apart(mine.opening, mine.output), "o", ms=6, label=short(f"{name}, {lot}"))
    names = set(trials.box.tolist())
    only = boxes.get(*names) if len(names) == 1 else None
    settings_axis(axes, None if only is None else only.first_control)
    per = trials.drill.catch_of(only).counted if trials.drill and only else "wheel turns"
    axes.set_ylabel(f"grams per row per {one_word(per)}")
    dress(axes, "Catches that count")
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=8, frameon=False)
    return axes


def _window(advice: Advice) -> tuple[float, float]:
    """Openings to show: those of the catches and the advised setting with some room, inside the control's scale."""
    control = advice.control
    if not isinstance(control, Lever):
        first, last = control.openings[[0, -1]].tolist()
        room = 0.06 * (last - first) or 0.06 * last
        return first - room, last + room
    points = [*advice.trials.opening.tolist(), *([advice.advised.opening] if advice.advised else [])]
    room = max(0.25 * (max(points) - min(points)), 0.08 * control.span) if points else control.span
    low = max(min(points, default=control.lowest) - room, control.lowest)
    return low, min(max(points, default=control.highest) + room, control.highest)


def _curve(axes: Axes, advice: Advice) -> None:
    """The mean weight, and the band in which the next catch lies."""
    if advice.curve is None:
        return
    x = np.linspace(*axes.get_xlim(), 121)
    x = x[x > advice.control.lowest_opening]
    lower, upper = (advice.next_weights(share, x) for share in (0.025, 0.975))
    axes.fill_between(x, lower, upper, color=BLUE, alpha=0.16, lw=0, label="95 % of next catches")
    axes.plot(x, advice.curve.mean(x) * advice.next_turns * advice.next_rows, color=BLUE, lw=2, label="mean")


def _catches(axes: Axes, mine: Trials, weights: Floats) -> None:
    """Every catch: blue and round where it counts, grey with another mark where it does not."""
    for status, (mark, label) in MARKS.items():
        mask = mine.status == status
        if mask.any():
            (drawn,) = axes.plot(*told_apart(mine.opening[mask], weights[mask]), mark, ms=7, mew=1.3, label=label)
            drawn.set(color=GREY if status else BLUE, clip_on=False, zorder=5)
            if mark != "x":
                drawn.set(mfc="white" if status else BLUE, mec="black")


def _settings(axes: Axes, advice: Advice, doing: str) -> None:
    """Ticks for the settings of the control, a bar where the ideal one lies, and the advised one."""
    low, high = axes.get_xlim()
    openings, on_axis = advice.control.openings, axes.get_xaxis_transform()
    real = openings[(openings >= low) & (openings <= high)]
    (ticks,) = axes.plot(real, 0 * real, "|", color="black", ms=7, transform=on_axis)
    ticks.set(clip_on=False, label="settings the control has")
    if advice.curve is not None:
        found = advice.curve.setting_for(advice.target_output)
        start, stop = max(found.lower, low), min(found.upper, high)
        if start < stop:
            (bar,) = axes.plot([start, stop], [0.025] * 2, color=GREEN, lw=6, alpha=0.9, transform=on_axis)
            bar.set(solid_capstyle="butt", label="ideal setting, 95 %")
    if advice.advised is not None:
        (diamond,) = axes.plot([advice.advised.opening], [advice.target_catch_g], "D", ms=9, label=doing)
        diamond.set(mfc="none", mec="black", mew=1.8)
