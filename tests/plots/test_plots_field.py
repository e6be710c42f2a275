"""Pictures and summaries of field checks and budgets of the sample job."""

import matplotlib.pyplot as plt
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from predictor.field.results import FieldResult
from predictor.job.read import read_job
from predictor.plots.advice import plot_boxes
from predictor.plots.budget import plot_budgets
from predictor.plots.style import new_figure, render
from predictor.text.pictures import budget, factors
from tests.conftest import SAMPLE

JOB = read_job(SAMPLE)
RESULTS = [JOB.field, FieldResult((), ()), *JOB.budgets()]


def texts(axes):
    return [each.get_text() for each in axes.texts]


@pytest.mark.parametrize("result", RESULTS)
def test_a_result_is_drawn_into_the_axes_given(result):
    axes = Figure().subplots()
    assert result.plot(axes) is axes
    assert texts(axes)


@pytest.mark.parametrize("result", RESULTS)
def test_without_axes_it_is_drawn_into_a_figure_that_a_notebook_shows(result):
    axes = result.plot()
    assert axes.figure.number in plt.get_fignums()
    plt.close(axes.figure)


def test_every_box_and_check_of_a_factor_is_named_with_its_figures():
    shown = texts(JOB.field.plot(Figure().subplots()))
    for box in JOB.field.boxes:
        assert box.box in shown
        assert f"{box.factor:.2f} ({box.lower:.2f} to {box.upper:.2f})" in shown
    for check in JOB.field.checks:
        took_part = sum(box.box in check.boxes for box in JOB.field.boxes) if check.factor is not None else 0
        at_least = shown.count(f"{check.date} {' + '.join(check.boxes)}")
        assert at_least >= took_part
    assert sum(text[:2] == "20" for text in shown) == sum(each.alone + each.together for each in JOB.field.boxes)


def test_without_a_factor_the_picture_says_why():
    assert texts(FieldResult((), ()).plot(Figure().subplots())) == [factors(FieldResult((), ()))]


def test_letters_are_large_enough_and_no_picture_is_wider_than_a_page():
    figure = plot_budgets(JOB.budgets())
    drawn = new_figure(6.4, 4.0)
    JOB.field.plot(drawn.subplots())
    for each in (figure, drawn):
        render(each, "png")
        assert each.get_figwidth() <= 6.5
        shown = [text for text in each.findobj(Text) if text.get_text() and text.get_visible()]
        assert min(text.get_fontsize() for text in shown) >= 8
        assert min(text.get_window_extent().x0 for text in shown) >= -0.5
        assert max(text.get_window_extent().x1 for text in shown) <= each.bbox.width + 0.5


def test_what_the_pictures_show_is_said_in_words():
    for each in JOB.budgets():
        shown, said = texts(each.plot(Figure().subplots())), budget(each)
        for source in each.sources:
            assert f"{source.title} {100 * source.u:.1f} %" in said
            assert {str(source.title), f"{100 * source.u:.1f} %"} <= set(shown)
        assert f"known to {100 * each.expanded:.0f} % either way" in said
        assert f"{100 * each.after(min(each.sources, key=each.after)):.0f} %" in said
    assert all(f"{box.box} {box.factor:.2f} ({box.lower:.2f}" in factors(JOB.field) for box in JOB.field.boxes)


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
    stages = JOB.stages()
    for make in (lambda: plot_boxes(stages[:1]), lambda: plot_budgets(JOB.budgets()[:1])):
        assert render(make(), "svg") == render(make(), "svg")
