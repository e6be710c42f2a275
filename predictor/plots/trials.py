"""Catches of a log as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from predictor.domain.drives import OnDrive
from predictor.domain.trials import Trials
from predictor.plots.style import axes_or_new, dress, short, told_apart
from predictor.plots.ticks import settings_axis
from predictor.text.drill import one_word

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_trials(trials: Trials, axes: Axes | None = None) -> Axes:
    """Output against setting, a colour a box and lot."""
    axes = axes_or_new(axes, 6.5, 3.9)
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
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=9, frameon=False)
    return axes
