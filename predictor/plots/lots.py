"""Pictures of a comparison of lots: curves, ratios, seasons. Lots differ by mark as well as by colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import cycle
from typing import TYPE_CHECKING

import numpy as np

from predictor.domain.control import Floats, Lever
from predictor.lots.results import LotComparison
from predictor.plots.forest import Chosen, choose, height_of, plot_ratios, plot_seasons, preferred
from predictor.plots.style import BLUE, GREEN, GREY, ORANGE, axes_or_new, dress, new_figure, settings_axis, told_apart
from predictor.text.drill import one_word

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from predictor.lots.catches import Catches

# Okabe & Ito (2008), the colours that show on white; black is kept for the reference lot.
COLOURS = (BLUE, ORANGE, GREEN, "#CC79A7", "#56B4E9", "#E69F00")
MARKS = ("s", "^", "D", "v", "P", "X", "<", ">", "p", "h", "*")
# More names than this cannot be read at the end of the curves; more lines than that are one grey patch.
MOST_NAMED, MOST_DRAWN = 16, 200
NOTHING = "No catch of this box counts, so there is nothing to compare."


def plot_lots(results: Sequence[LotComparison]) -> Figure:
    """Three panels a box: curves of all lots, their ratios by season, repeatability by season."""
    heights = [height_of(found) for found in results]
    figure = new_figure(12.0, sum(heights), dpi=110)
    parts = figure.subfigures(len(results), 1, squeeze=False, height_ratios=heights)[:, 0]
    for part, found, height in zip(parts, results, heights, strict=True):
        part.suptitle(f"Box {found.box}", x=0.01, ha="left", fontsize=12, fontweight="bold")
        chosen = choose(found)
        if chosen is None:
            part.text(0.5, 0.5, NOTHING, ha="center", va="center")
            continue
        grid = part.add_gridspec(2, 2, height_ratios=[max(height - 2.3, 1.0), 1.6])
        plot_curves(part.add_subplot(grid[:, 0]), chosen)
        plot_ratios(part.add_subplot(grid[0, 1]), chosen)
        plot_seasons(part.add_subplot(grid[1, 1]), found)
    return figure


def plot_comparison(found: LotComparison, axes: Axes | None = None) -> Axes:
    """The ratios of one comparison."""
    axes = axes_or_new(axes, 7.0, max(height_of(found) - 2.0, 2.0))
    chosen = choose(found)
    if chosen is None:
        axes.set_axis_off()
        axes.text(0.5, 0.5, NOTHING, ha="center", va="center", transform=axes.transAxes)
    else:
        plot_ratios(axes, chosen)
    return axes


def plot_curves(axes: Axes, chosen: Chosen) -> None:
    """Catches and curves of all lots, named at their ends; a curve is thin where the lot was not caught."""
    found, reference = chosen.found, chosen.reference
    catches, curves = chosen.curves.catches, chosen.curves
    low, high = _window(catches)
    grid = np.linspace(low, high, 161)
    named = [row.name for row in preferred(found, MOST_NAMED)]
    _backdrop(axes, chosen, grid, set(named))
    ends, styles = [], zip(cycle(COLOURS), cycle(MARKS), strict=False)
    for name in named:
        (colour, mark), heavy = (("black", "o"), 2.4) if name == reference.name else (next(styles), 1.6)
        k = catches.names.index(name)
        x, output, mean = catches.opening[catches.lot == k], catches.output[catches.lot == k], curves.output(k, grid)
        inside = (grid >= x.min()) & (grid <= x.max())
        axes.plot(grid, mean, color=colour, lw=0.8, ls=":")
        axes.plot(grid[inside], mean[inside], color=colour, lw=heavy)
        axes.plot(*told_apart(x, output), mark, color=colour, ms=6, mec="white", mew=0.6, ls="none", zorder=4)
        ends.append((float(mean[-1]), chosen.names[name], colour, mark))
    ends = sorted(end for end in ends if math.isfinite(end[0]))
    most, least = float(catches.output.max()), float(catches.output.min())
    top = max(1.1 * most, min(1.02 * max((end[0] for end in ends), default=0.0), 1.6 * most))
    bottom = 0.0 if least < 0.5 * top else 0.85 * least
    axes.set(xlim=(low, high), ylim=(bottom, top), ylabel=f"grams per row per {one_word(catches.counted)}")
    _name_ends(axes, [((end[0] - bottom) / (top - bottom), *end[1:]) for end in ends], height_of(found) - 1.2)
    if bottom <= reference.output < top:
        axes.axhline(reference.output, color=GREY, lw=1, ls="--", zorder=1)
        word = "target" if reference.output_given else f"usual output of {chosen.names[reference.name]}"
        axes.text(low, reference.output, f" {word}", va="bottom", ha="left", fontsize=8, color=GREY)
    settings_axis(axes, catches.control)
    same = found.shape.same if found.shape is not None else None
    title = {True: "one curve shape", False: "curve shapes differ", None: "one curve shape assumed"}[same]
    dress(axes, f"Output of each lot: {title}", strong=False)
    said = "thick where caught, dotted where not" + _undrawn(len(found.lots) - len(named))
    axes.text(0.015, 1.0, said, transform=axes.transAxes, fontsize=7.5, color=GREY, va="top")


def _undrawn(more: int) -> str:
    if more <= 0:
        return ""
    return f"\n{more} more lots in grey" if more <= MOST_DRAWN else f"\n{MOST_DRAWN} of {more} more lots in grey"


def _window(catches: Catches) -> tuple[float, float]:
    """Openings to show: those caught at and some room, inside the control's scale."""
    low, high = float(catches.opening.min()), float(catches.opening.max())
    room = max(0.12 * (high - low), 0.1 * abs(high), 1e-9)
    if isinstance(catches.control, Lever):
        bottom = catches.control.lowest_opening
        return max(low - room, bottom), min(high + room, bottom + catches.control.span)
    return max(low - room, 0.0) if low >= 0 else low - room, high + room


def _backdrop(axes: Axes, chosen: Chosen, grid: Floats, named: set[str]) -> None:
    """The lots that are not named, as thin grey curves; of very many evenly picked by level."""
    curves, names = chosen.curves, chosen.curves.catches.names
    others = [k for k in np.argsort(curves.lines.level).tolist() if names[k] not in named]
    if len(others) > MOST_DRAWN:
        others = [others[round(place)] for place in np.linspace(0, len(others) - 1, MOST_DRAWN).tolist()]
    for k in others:
        axes.plot(grid, curves.output(k, grid), color=GREY, lw=0.5, alpha=0.35, zorder=1)


def _name_ends(axes: Axes, ends: list[tuple[float, str, str, str]], panel: float) -> None:
    """Each curve's name beside its end, moved apart so that none covers another; `panel` is its height in inches."""
    gap = min(11.5 / (72 * panel), 1 / max(len(ends), 1))
    starts = [min(max(end[0], 0.0), 1.0) for end in ends]
    for start, place, (_, name, colour, mark) in zip(starts, spread_out(starts, gap), ends, strict=True):
        axes.plot([1.0, 1.03], [start, place], color=colour, lw=0.7, transform=axes.transAxes, clip_on=False)
        axes.plot([1.045], [place], mark, color=colour, ms=5.5, transform=axes.transAxes, clip_on=False)
        axes.text(1.065, place, name, transform=axes.transAxes, va="center", ha="left", fontsize=8)


def spread_out(places: Sequence[float], gap: float) -> list[float]:
    """Ascending places in 0 to 1, moved as little as needed to lie `gap` apart."""
    moved = list(places)
    for k in range(1, len(moved)):
        moved[k] = max(moved[k], moved[k - 1] + gap)
    ceiling = 1.0
    for k in range(len(moved) - 1, -1, -1):
        moved[k] = min(moved[k], ceiling)
        ceiling = moved[k] - gap
    return moved
