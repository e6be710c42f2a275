"""Pictures of logs with thousands of catches."""

import numpy as np

from predictor import recommend
from predictor.plots.advice import plot_advice
from predictor.plots.style import CELLS, MOST_MARKS, told_apart
from predictor.plots.trials import plot_trials
from tests.advice.test_growth import BOX, log


def marks(axes):
    return max(len(line.get_xdata()) for line in axes.lines if line.get_marker() == "o")


def test_of_thousands_of_catches_those_are_drawn_that_can_be_told_apart():
    trials = log(8000, 5, scatter=0.01)
    advice = recommend(trials, BOX, target_g=40.0)
    for axes in (plot_advice(advice), plot_trials(trials)):
        assert 5 <= marks(axes) < 1000
    few = log(MOST_MARKS, 5)
    assert marks(plot_trials(few)) == MOST_MARKS


def test_no_catch_is_further_from_a_mark_than_a_cell_and_the_ends_are_drawn():
    x, y = np.random.default_rng(1).uniform(0, 50, (2, 60_000))
    shown = np.column_stack(told_apart(x, y))
    assert len(shown) <= (CELLS + 1) ** 2
    for i in range(0, 60_000, 997):
        assert np.abs(shown - [x[i], y[i]]).max(axis=1).min() <= 50 / CELLS
