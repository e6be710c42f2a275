"""The advice on a box as a picture: catches, curve, target and setting."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from predictor.advice.recommend import Advice
from predictor.domain.control import Lever
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.trials import Trials
from predictor.plots.style import BLUE, GREEN, GREY, ORANGE, dress, new_figure, settings_axis, short
from predictor.text.advice import what_to_do
from predictor.units import RATE_UNIT

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def plot_advice(trials: Trials, results: Sequence[Advice], drill: Drill, units: str | None = None) -> Figure:
    """One panel a box and lot: catches, mean, band of the next catch, target, where the ideal setting lies."""
    count = max(len(results), 1)
    figure = new_figure(7.0, 3.9 * count)
    for axes, advice in zip(figure.subplots(count, 1, squeeze=False)[:, 0], results, strict=False):
        box = drill.box(advice.box)
        mine = trials.of(box=advice.box, lot=advice.lot or None)
        mine = mine.where((mine.season == advice.season) | (mine.season == ""))
        _panel(axes, mine, advice, box, units)
    return figure


def _panel(axes: Axes, mine: Trials, advice: Advice, box: SeedBox, units: str | None) -> None:
    size = advice.turns * advice.rows
    openings = box.control.openings
    doing = what_to_do(advice.decision, advice.setting, advice.present)
    low, high = _window(mine, advice, box)
    if advice.curve is not None:
        x = np.linspace(low, high, 121)
        x = x[x > box.control.lowest_opening]
        lower, upper = advice.curve.interval(x, 0.95, "next")
        axes.fill_between(x, lower * size, upper * size, color=BLUE, alpha=0.16, lw=0, label="95 % of next catches")
        axes.plot(x, advice.curve.mean(x) * size, color=BLUE, lw=2, label="mean")
    target = advice.target_catch_g
    axes.axhline(target, color=ORANGE, lw=1.8, ls="--", label="target")
    band = [target * (1 - advice.tolerance), target * (1 + advice.tolerance)]
    axes.axhspan(*band, facecolor="none", edgecolor=ORANGE, hatch="....", alpha=0.35, lw=0, label="tolerance")
    _catches(axes, mine, size)
    real = openings[(openings >= low) & (openings <= high)]
    axes.plot(
        real,
        np.zeros(len(real)),
        "|",
        color="black",
        ms=7,
        clip_on=False,
        transform=axes.get_xaxis_transform(),
        label="settings the control has",
    )
    _ideal(axes, advice, low, high)
    if advice.setting is not None:
        at = box.control.opening(advice.setting)
        axes.plot(
            [at],
            [target],
            marker="D",
            ms=9,
            mfc="none",
            mec="black",
            mew=1.8,
            ls="none",
            label=doing,
        )
    axes.set_xlim(low, high)
    tops = [target * 1.25, *(mine.output * size * 1.12)]
    axes.set_ylim(0, max(tops) if tops else target * 2)
    settings_axis(axes, box.control)
    rate = advice.rate(advice.target_output, units)
    name = f"{advice.box}, lot {advice.lot}" if advice.lot else advice.box
    dress(axes, f"{short(name)}: {doing}")
    unit = "" if rate is None else f"\n(target is {rate:.3g} {RATE_UNIT[units or advice.drill.units]} bulk)"
    axes.set_ylabel(f"grams in {advice.turns:g} turns, {advice.rows:g} rows{unit}")
    axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), fontsize=8, frameon=False)


def _window(mine: Trials, advice: Advice, box: SeedBox) -> tuple[float, float]:
    """Openings to show: the catches, the advised setting and some room, inside the control's scale."""
    control = box.control
    points = [*mine.opening[np.isfinite(mine.opening)].tolist()]
    if advice.setting is not None:
        points.append(control.opening(advice.setting))
    if not isinstance(control, Lever):
        first, last = float(control.openings[0]), float(control.openings[-1])
        room = 0.06 * (last - first) or 0.06 * last
        return first - room, last + room
    room = max(0.25 * (max(points) - min(points)), 0.08 * control.span) if points else control.span
    low = max(min(points, default=control.lowest) - room, control.lowest)
    return low, min(max(points, default=control.highest) + room, control.highest)


def _catches(axes: Axes, mine: Trials, size: float) -> None:
    """Every catch: round where it counts, a cross where it was left out, square where it was not charged."""
    marks = (
        (mine.counts, "o", BLUE, "catches"),
        (~mine.use & mine.charged, "x", GREY, "left out"),
        (~mine.charged, "s", GREY, "not charged"),
        (mine.use & mine.charged & ~mine.counts, "v", GREY, "weighed nothing"),
    )
    for mask, mark, colour, label in marks:
        if mask.any():
            face = {} if mark == "x" else {"mfc": "white" if colour == GREY else colour, "mec": "black"}
            axes.plot(
                mine.opening[mask],
                mine.output[mask] * size,
                mark,
                color=colour,
                ms=7,
                mew=1.3,
                ls="none",
                label=label,
                clip_on=False,
                zorder=5,
                **face,
            )


def _ideal(axes: Axes, advice: Advice, low: float, high: float) -> None:
    """A bar on the axis where the ideal setting lies."""
    if advice.curve is None:
        return
    found = advice.curve.setting_for(advice.target_output)
    start, stop = max(found.lower, low), min(found.upper, high)
    if start < stop:
        axes.plot(
            [start, stop],
            [0.025, 0.025],
            color=GREEN,
            lw=6,
            solid_capstyle="butt",
            alpha=0.9,
            transform=axes.get_xaxis_transform(),
            label="ideal setting, 95 %",
        )
