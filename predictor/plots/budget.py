"""The uncertainty budget as bars."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from predictor.field.budget import Budget
from predictor.plots.style import BLUE, DARK, axes_or_new, dress, new_figure, short

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def plot_budgets(budgets: Sequence[Budget]) -> Figure:
    """One panel a box, all on one scale."""
    heights = [len(each.sources) + 2 for each in budgets]
    figure = new_figure(7.0, 0.34 * sum(heights) + 0.7 * len(budgets))
    panels = figure.subplots(len(budgets), 1, squeeze=False, sharex=True, height_ratios=heights)[:, 0]
    for axes, budget in zip(panels, budgets, strict=True):
        plot_budget(budget, axes)
        axes.label_outer()
    return figure


def plot_budget(budget: Budget, axes: Axes | None = None) -> Axes:
    """Standard uncertainty of every source, the largest at the top and the combined one at the bottom."""
    axes = axes_or_new(axes, 7.0, 0.34 * (len(budget.sources) + 2) + 0.7)
    names = [str(each.title) for each in budget.sources] + ["all together"]
    sizes = [100 * each.u for each in budget.sources] + [100 * budget.combined]
    places = range(len(names))
    bars = axes.barh(places, sizes, color=[BLUE] * len(budget.sources) + [DARK], height=0.66)
    axes.bar_label(bars, [f"{size:.1f} %" for size in sizes], padding=4, fontsize=8)
    axes.set_yticks(places, names, fontsize=9)
    axes.invert_yaxis()
    dress(axes, short(f"{budget.box}, lot {budget.lot}"))
    axes.margins(x=0.12)
    axes.set_xlabel("standard uncertainty of the planted live-seed rate, %")
    return axes
