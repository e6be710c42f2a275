"""Pictures of a comparison of lots: curves, ratios, seasons. Lots differ by mark as well as by colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from predictor.domain.control import Lever
from predictor.lots.results import Curves, LotComparison
from predictor.plots.forest import distinct, plot_ratios, plot_seasons
from predictor.plots.style import BLUE, GREEN, GREY, ORANGE, dress, new_figure, settings_axis

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Okabe & Ito (2008), the colours that show on white; black is kept for the reference lot.
COLOURS = (BLUE, ORANGE, GREEN, "#CC79A7", "#56B4E9", "#E69F00")
MARKS = ("s", "^", "D", "v", "P", "X", "<", ">", "p", "h", "*")
# More names than this cannot be read at the end of the curves; more lines than that are one grey patch.
MOST_NAMED, MOST_DRAWN, MOST_RATIOS = 16, 200, 40


def plot_lots(results: Sequence[LotComparison]) -> Figure:
    """Three panels a box: curves of all lots, their ratios by season, repeatability by season."""
    heights = [_height(found) for found in results] or [2.0]
    figure = new_figure(12.0, sum(heights), dpi=110)
    parts = figure.subfigures(max(len(results), 1), 1, squeeze=False, height_ratios=heights)[:, 0]
    for part, found in zip(parts, results, strict=False):
        part.suptitle(f"Box {found.box}", x=0.01, ha="left", fontsize=12, fontweight="bold")
        if found.curves is None:
            part.text(0.5, 0.5, "No catch of this box counts: nothing to compare.", ha="center", va="center")
            continue
        grid = part.add_gridspec(2, 2, height_ratios=[max(_height(found) - 2.3, 1.0), 1.6])
        chosen = _chosen(found, MOST_RATIOS)
        short = distinct([found.lots[k].lot for k in chosen])
        names = {found.lots[k].lot: name for k, name in zip(chosen, short, strict=True)}
        plot_curves(part.add_subplot(grid[:, 0]), found, names)
        plot_ratios(part.add_subplot(grid[0, 1]), found, names)
        plot_seasons(part.add_subplot(grid[1, 1]), found)
    return figure


def _height(found: LotComparison) -> float:
    if found.curves is None:
        return 1.2
    seasons = len({row.seasons[0] for row in found.lots})
    return 3.9 + 0.26 * min(len(found.lots) + seasons, MOST_RATIOS + 8)


def _chosen(found: LotComparison, most: int) -> list[int]:
    """Rows to show: the reference, those that stand apart, then the most caught; in the table's order."""
    order = sorted(
        range(len(found.lots)),
        key=lambda k: (
            found.lots[k].lot != found.reference,
            not found.lots[k].unusual,
            -found.lots[k].catches,
            found.lots[k].lot,
        ),
    )
    return sorted(order[:most])


def plot_curves(axes: Axes, found: LotComparison, names: dict[str, str]) -> None:
    """Catches and curves of all lots, named at their ends; a curve is thin where the lot was not caught."""
    curves = found.curves
    low, high = _window(curves)
    grid = np.linspace(low, high, 161)
    named = [found.lots[k].lot for k in _chosen(found, MOST_NAMED)]
    code = {name: k for k, name in enumerate(curves.names)}
    _backdrop(axes, curves, grid, {code[name] for name in named})
    ends = []
    style = 0
    for name in named:
        if name == found.reference:
            colour, mark, heavy = "black", "o", 2.4
        else:
            colour, mark, heavy = COLOURS[style % len(COLOURS)], MARKS[style % len(MARKS)], 1.6
            style += 1
        k = code[name]
        mine = curves.lot == k
        x, mean = curves.opening[mine], curves.mean(k, grid)
        inside = (grid >= x.min()) & (grid <= x.max())
        axes.plot(grid, mean, color=colour, lw=0.8, ls=":")
        axes.plot(grid[inside], mean[inside], color=colour, lw=heavy)
        axes.plot(
            x, curves.output[mine], mark, color=colour, ms=6, mfc=colour, mec="white", mew=0.6, ls="none", zorder=4
        )
        ends.append((float(mean[-1]), names[name], colour, mark))
    most, least = float(curves.output.max()), float(curves.output.min())
    top = max(1.1 * most, min(1.02 * max((end[0] for end in ends if math.isfinite(end[0])), default=0.0), 1.6 * most))
    bottom = 0.0 if least < 0.5 * top else 0.85 * least
    axes.set_ylim(bottom, top)
    axes.set_xlim(low, high)
    _name_ends(
        axes,
        [((end[0] - bottom) / (top - bottom), *end[1:]) for end in ends if math.isfinite(end[0])],
        _height(found) - 1.2,
    )
    if found.target_output is not None and bottom <= found.target_output < top:
        axes.axhline(found.target_output, color=GREY, lw=1, ls="--", zorder=1)
        word = "target" if found.target_given else f"usual output of {names[found.reference]}"
        axes.text(low, found.target_output, f" {word}", va="bottom", ha="left", fontsize=8, color=GREY)
    settings_axis(axes, curves.control)
    same = found.shape.same if found.shape is not None else None
    title = {True: "one curve shape", False: "curve shapes differ", None: "one curve shape assumed"}[same]
    dress(axes, f"Output of each lot: {title}", strong=False)
    axes.set_ylabel("grams per row per turn")
    axes.text(
        0.015,
        1.0,
        "thick where caught, dotted where not" + _undrawn(found, len(named)),
        transform=axes.transAxes,
        fontsize=7.5,
        color=GREY,
        va="top",
    )


def _undrawn(found: LotComparison, named: int) -> str:
    more = len(found.lots) - named
    if more <= 0:
        return ""
    return f"\n{more} more lots in grey" if more <= MOST_DRAWN else f"\n{MOST_DRAWN} of {more} more lots in grey"


def _window(curves: Curves) -> tuple[float, float]:
    """Openings to show: those caught at and some room, inside the control's scale."""
    low, high = float(curves.opening.min()), float(curves.opening.max())
    room = max(0.12 * (high - low), 0.1 * abs(high), 1e-9)
    if isinstance(curves.control, Lever):
        bottom = curves.control.lowest_opening
        return max(low - room, bottom), min(high + room, bottom + curves.control.span)
    return max(low - room, 0.0) if low >= 0 else low - room, high + room


def _backdrop(axes: Axes, curves: Curves, grid: np.ndarray, named: set[int]) -> None:
    """The lots that are not named, as thin grey curves; of very many evenly picked by level."""
    others = [k for k in np.argsort(curves.common.level).tolist() if k not in named]
    if len(others) > MOST_DRAWN:
        others = [others[round(i)] for i in np.linspace(0, len(others) - 1, MOST_DRAWN)]
    for k in others:
        axes.plot(grid, curves.mean(k, grid), color=GREY, lw=0.5, alpha=0.35, zorder=1)


def _name_ends(axes: Axes, ends: list[tuple[float, str, str, str]], panel: float) -> None:
    """Each curve's name beside its end, moved apart so that none covers another; `panel` is its height in inches."""
    ends = sorted(ends)
    gap = min(11.5 / (72 * panel), 1 / max(len(ends), 1))
    places = spread_out([min(max(end[0], 0.0), 1.0) for end in ends], gap)
    for (value, name, colour, mark), place in zip(ends, places, strict=True):
        start = min(max(value, 0.0), 1.0)
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
