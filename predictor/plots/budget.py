"""The uncertainty budget as bars."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from predictor.field.budget import Budget
from predictor.plots.style import BLUE, DARK, axes_or_new, new_figure, short
from predictor.plots.words import GAP, LETTER, beside, head, headings, widest
from predictor.text.budget import TOGETHER, known_to, size, would_be

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE, HIGH, ROW = 6.4, 1.2, 0.25


def plot_budgets(budgets: Sequence[Budget]) -> Figure:
    """One panel a box, all on one scale."""
    heights = [_height(each) for each in budgets]
    figure = new_figure(WIDE, sum(heights), dpi=150)
    panels = figure.subplots(len(budgets), 1, squeeze=False, sharex=True, height_ratios=heights)[:, 0]
    for axes, budget in zip(panels, budgets, strict=True):
        plot_budget(budget, axes)
    return figure


def _height(budget: Budget) -> float:
    return HIGH + ROW * (len(budget.sources) + 1)


def plot_budget(budget: Budget, axes: Axes | None = None) -> Axes:
    """Standard uncertainty of every source, the largest at the top and the combined one at the bottom."""
    axes = axes_or_new(axes, WIDE, _height(budget))
    names = [*(str(each.title) for each in budget.sources), TOGETHER]
    sizes = [*(each.u for each in budget.sources), budget.combined]
    colours = [BLUE] * len(budget.sources) + [DARK]
    axes.barh(range(len(names)), [100 * each for each in sizes], color=colours, height=0.6)
    axes.set(ylim=(len(names) - 0.5, -0.6), xlim=(0, max(100.0 * max(sizes), axes.get_xlim()[1])))
    axes.set_axis_off()
    left = GAP + widest(names, LETTER, bold=True)
    for place, (name, each) in enumerate(zip(names, sizes, strict=True)):
        strong = "bold" if name == TOGETHER else "normal"
        beside(axes, 0, place, -left, name, LETTER, fontweight=strong)
        beside(axes, 1, place, GAP, size(each), LETTER, fontweight=strong)
    head(axes, 0, 0, "standard uncertainty")
    headings(axes, -left, short(f"{budget.box}, {budget.lot}"), known_to(budget), would_be(budget))
    return axes
