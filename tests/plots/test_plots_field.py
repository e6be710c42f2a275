"""Pictures and summaries of field checks and budgets of the sample job."""

import matplotlib.pyplot as plt
import pytest
from matplotlib.figure import Figure

from predictor.field.results import FieldResult
from predictor.job.read import read_job
from predictor.plots.advice import plot_boxes
from predictor.plots.budget import plot_budgets
from predictor.plots.style import render
from tests.conftest import SAMPLE

JOB = read_job(SAMPLE)
RESULTS = [JOB.field, FieldResult((), ()), *JOB.budgets()]


@pytest.mark.parametrize("result", RESULTS)
def test_a_result_is_drawn_into_the_axes_given(result):
    axes = Figure().subplots()
    assert result.plot(axes) is axes
    assert axes.get_title(loc="left")


@pytest.mark.parametrize("result", RESULTS)
def test_without_axes_it_is_drawn_into_a_figure_that_a_notebook_shows(result):
    axes = result.plot()
    assert axes.figure.number in plt.get_fignums()
    plt.close(axes.figure)


def test_every_box_and_check_of_a_factor_is_named():
    axes = JOB.field.plot(Figure().subplots())
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert [name for name in names if not name.startswith("20")] == [each.box for each in JOB.field.boxes]
    assert len(names) == sum(1 + each.alone + each.together for each in JOB.field.boxes)


def test_budgets_have_one_scale_and_a_bar_for_each_source_and_the_whole():
    budgets = JOB.budgets()
    figure = plot_budgets(budgets)
    assert len({axes.get_xlim() for axes in figure.axes}) == 1
    assert [len(axes.patches) for axes in figure.axes] == [len(each.sources) + 1 for each in budgets]
    assert render(figure, "png").startswith(b"\x89PNG")


@pytest.mark.parametrize("result", RESULTS)
def test_a_result_is_printed_line_by_line(result):
    assert str(result) == result.summary()
    assert max(map(len, str(result).splitlines())) <= 80
    assert result._repr_html_().startswith("<pre>")


def test_the_same_results_give_the_same_bytes():
    results = [JOB.advice(task) for task in JOB.in_hand()]
    for make in (lambda: plot_boxes(results[:1]), lambda: plot_budgets(JOB.budgets()[:1])):
        assert render(make(), "svg") == render(make(), "svg")
