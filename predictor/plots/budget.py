"""The uncertainty budget as bars."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from predictor.field.budget import Budget

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def plot_budgets(budgets: Sequence[Budget]) -> Figure:
    """One panel a box: standard uncertainty of every source, largest on top, the combined one below."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    from predictor.plots.advice import BLUE, short

    heights = [len(each.sources) + 2 for each in budgets]
    figure = Figure(figsize=(7.0, 0.34 * sum(heights) + 0.7 * len(budgets)), layout="constrained", dpi=120)
    FigureCanvasAgg(figure)
    panels = figure.subplots(len(budgets), 1, squeeze=False, sharex=True, height_ratios=heights)[:, 0]
    for axes, budget in zip(panels, budgets, strict=True):
        names = [each.name for each in budget.sources] + ["all together"]
        sizes = [100 * each.u for each in budget.sources] + [100 * budget.combined]
        places = range(len(names))
        bars = axes.barh(places, sizes, color=[BLUE] * len(budget.sources) + ["#333333"], height=0.66)
        axes.bar_label(bars, [f"{size:.1f} %" for size in sizes], padding=4, fontsize=8)
        axes.set_yticks(places, names, fontsize=9)
        axes.invert_yaxis()
        axes.set_title(short(f"{budget.box}, lot {budget.lot}"), loc="left", fontsize=11, fontweight="bold")
        axes.margins(x=0.12)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    panels[-1].set_xlabel("standard uncertainty of the planted live-seed rate, %")
    return figure
