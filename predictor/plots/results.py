"""One picture for each kind of result, drawn into axes."""

from __future__ import annotations

from functools import singledispatch
from typing import TYPE_CHECKING

from predictor.advice.result import Advice
from predictor.curves.base import Curve
from predictor.domain.trials import Trials
from predictor.field.budget import Budget
from predictor.field.results import FieldResult
from predictor.lots.results import LotComparison
from predictor.plots.advice import plot_advice
from predictor.plots.budget import plot_budget
from predictor.plots.curves import plot_curve
from predictor.plots.field import plot_factors
from predictor.plots.lots import plot_comparison
from predictor.plots.trials import plot_trials

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@singledispatch
def plot(result: object, axes: Axes | None = None) -> Axes:
    """Draw a result into axes, or into those of a new figure."""
    raise TypeError(f"There is no picture of {type(result).__name__}.")


plot.register(Advice)(plot_advice)
plot.register(Trials)(plot_trials)
plot.register(Curve)(plot_curve)
plot.register(Budget)(plot_budget)
plot.register(FieldResult)(plot_factors)
plot.register(LotComparison)(plot_comparison)
