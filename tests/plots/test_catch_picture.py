"""The catch picture, held against what the catches say and what an eye can see."""

import re
from functools import cache
from itertools import combinations, pairwise

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.text import Text

from predictor.advice.limits import bar
from predictor.job.read import read_job
from predictor.plots.advice import WIDE, plot_advice, plot_boxes
from predictor.plots.drawing import MOST_NAMED
from predictor.plots.style import BAND, BLUE, BOTH, DARK, GREY, ORANGE, ORANGE_TEXT, ZONE, render
from predictor.text.answer import answer
from tests.conftest import SAMPLE
from tests.plots.catch_cases import CASES, case

JOB = read_job(SAMPLE)
STAGES = JOB.stages()
WHITE = "#FFFFFF"
# The others take longer.
QUICK = ("locked", "one catch", "left out", "contradicted", "lower gives more", "none counts")
EVERY = pytest.mark.parametrize(
    "name", [each if each in QUICK else pytest.param(each, marks=pytest.mark.slow) for each in CASES]
)


@cache
def drawn(name):
    """The axes of a case, drawn once."""
    with plt.rc_context({"figure.max_open_warning": 0}):
        axes = plot_advice(case(name))
    axes.figure.canvas.draw()
    return axes


def texts(axes):
    """Everything written in a picture that is seen."""
    found = [each for each in axes.findobj(Text) if each.get_visible() and each.get_text().strip()]
    ticks = [*axes.get_xticklabels(which="both"), *axes.get_yticklabels()]
    low, high = axes.get_xlim()
    assert all(low <= tick.get_position()[0] <= high for tick in axes.get_xticklabels())
    return [each for each in found if each not in ticks] + [each for each in ticks if each.get_text()]


def written(axes):
    return [each.get_text() for each in texts(axes)]


def luminance(colour):
    """Relative luminance: WCAG 2.1, definition of relative luminance (from memory)."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [each / 12.92 if each <= 0.03928 else ((each + 0.055) / 1.055) ** 2.4 for each in parts]
    return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))


def contrast(colour, other):
    """Contrast ratio: WCAG 2.1, definition of contrast ratio (from memory)."""
    dark, light = sorted((luminance(colour), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_that_of_the_standard():
    assert contrast("#000000", WHITE) == pytest.approx(21)
    assert contrast("#777777", WHITE) == pytest.approx(4.48, abs=0.005)  # a known near miss of 4.5, from memory


def test_text_has_a_contrast_of_seven_and_marks_of_three_with_what_they_lie_on():
    for colour in (BLUE, ORANGE_TEXT, GREY, DARK):
        assert contrast(colour, WHITE) >= 7
    for under in (WHITE, ZONE, BAND, BOTH):
        assert contrast(DARK, under) >= 7  # names of catches lie on the areas
        assert min(contrast(each, under) for each in (BLUE, ORANGE, GREY, DARK)) >= 3


@EVERY
def test_a_picture_has_no_other_colours_and_nothing_transparent(name):
    axes = drawn(name)
    marks = [getter() for each in axes.lines for getter in (each.get_color, each.get_mfc, each.get_mec)]
    used = {to_hex(each).upper() for each in marks if each != "none"} | {
        to_hex(face).upper() for each in axes.collections for face in each.get_facecolor()
    }
    assert used <= {each.upper() for each in (BLUE, ORANGE, ORANGE_TEXT, GREY, DARK, WHITE, ZONE, BAND, BOTH)}
    assert all(each.get_alpha() in (None, 1) for each in axes.findobj())
    assert {to_hex(each.get_color()).upper() for each in texts(axes)} <= {
        each.upper() for each in (BLUE, ORANGE_TEXT, GREY, DARK, "#000000")
    }


@EVERY
def test_nothing_that_is_written_leaves_the_picture_or_lies_on_another_text(name):
    axes = drawn(name)
    whole = axes.figure.bbox
    boxes = {each: each.get_window_extent() for each in texts(axes)}
    for text, box in boxes.items():
        assert whole.x0 <= box.x0, text
        assert box.x1 <= whole.x1, text
        assert whole.y0 <= box.y0, text
        assert box.y1 <= whole.y1, text
    for one, other in combinations(boxes, 2):
        a, b = boxes[one], boxes[other]
        across, up = min(a.x1, b.x1) - max(a.x0, b.x0), min(a.y1, b.y1) - max(a.y0, b.y0)
        # the box of a letter is higher than its ink by a fifth
        assert across <= 1 or up <= 0.2 * min(a.height, b.height), (one.get_text(), other.get_text())


@EVERY
def test_letters_are_readable_and_the_picture_is_a_panel_wide(name):
    axes = drawn(name)
    wide, _ = axes.figure.get_size_inches()
    assert wide == pytest.approx(WIDE)
    assert wide <= 6.5
    assert min(each.get_fontsize() for each in texts(axes)) * 6.5 / wide >= 9
    # on a phone of 360 px with margins of 16 px, in points
    assert min(each.get_fontsize() for each in texts(axes)) * (328 / 96) / wide >= 5.5


@EVERY
def test_no_name_covers_a_catch(name):
    axes = drawn(name)
    names = [each.get_window_extent() for each in axes.texts]
    for line in axes.lines:
        if line.get_marker() in ("o", "x") and line.get_markersize() < 10 and name != "thousands":
            for x, y in axes.transData.transform(np.column_stack(line.get_data())):
                assert not any(box.x0 < x < box.x1 and box.y0 < y < box.y1 for box in names)


@EVERY
def test_the_diamond_is_on_the_curve_at_the_setting_and_under_the_catches(name):
    axes, advice = drawn(name), case(name)
    diamonds = [each for each in axes.lines if each.get_marker() == "D"]
    if advice.curve is None or advice.advised is None:
        assert not diamonds
        return
    (diamond,) = diamonds
    mean = advice.curve.mean(advice.advised.opening) * advice.next_turns * advice.next_rows
    assert (diamond.get_xdata()[0], diamond.get_ydata()[0]) == pytest.approx((advice.advised.opening, mean))
    few = [each for each in axes.lines if each.get_marker() in ("o", "x") and name != "thousands"]
    assert all(each.get_zorder() > diamond.get_zorder() for each in few)
    low, high = axes.get_ylim()
    assert low < mean < high


@EVERY
def test_target_zone_and_bar_are_as_wide_as_they_are(name):
    axes, advice = drawn(name), case(name)
    target = advice.target_catch_g
    lines = sorted(each.get_ydata()[0] for each in axes.lines if to_hex(each.get_color()) == ORANGE.lower())
    zone = [target * (1 - advice.tolerance), target, target * (1 + advice.tolerance)]
    assert lines == pytest.approx(zone)
    low, high = axes.get_ylim()
    assert low < zone[0] < zone[2] < high
    if advice.curve is not None:
        drawn_bars = [each for each in axes.lines if each.get_linewidth() > 5]
        assert drawn_bars[0].get_ydata() == pytest.approx(bar(advice, advice.advised.opening))


@EVERY
def test_ticks_stand_only_where_the_control_has_settings_and_the_advised_one_is_bold(name):
    axes, advice = drawn(name), case(name)
    ticks = [*axes.get_xticks(), *axes.get_xticks(minor=True)]
    allowed = [*advice.control.openings.tolist(), *([advice.advised.opening] if advice.advised else [])]
    assert np.abs(np.subtract.outer(ticks, allowed)).min(axis=1).max() < 1e-9
    bold = [each.get_text() for each in axes.get_xticklabels() if each.get_fontweight() == "bold"]
    assert bold == ([advice.advised.text.partition(" on ")[0]] if advice.advised else [])
    labels = {each.get_text(): each.get_position()[0] for each in axes.get_xticklabels()}
    for text, opening in labels.items():
        assert advice.control.at(opening).text.partition(" on ")[0] == text


def test_a_lever_on_which_lower_gives_more_counts_down_to_the_right():
    labels = [(each.get_position()[0], float(each.get_text())) for each in drawn("lower gives more").get_xticklabels()]
    assert [reading for _, reading in sorted(labels)] == sorted((reading for _, reading in labels), reverse=True)
    assert "lower gives more" in drawn("lower gives more").get_xlabel()
    assert "on low" in drawn("two drives").get_xlabel()


@EVERY
def test_a_picture_is_a_small_file_without_hatches(name):
    svg = render(drawn(name).figure, "svg").decode()
    assert "<pattern" not in svg
    assert "opacity" not in svg
    assert len(svg) < (60_000 if name == "thousands" else 30_000)
    assert not re.search(r" d=\"[^\"]*\.\d{3}", svg)


@EVERY
def test_every_catch_is_drawn(name):
    axes, advice = drawn(name), case(name)
    if name == "thousands":
        return
    marks = sum(len(each.get_xdata()) for each in axes.lines if each.get_marker() in ("o", "x") and each.get_ms() < 10)
    assert marks == len(advice.trials)
    low, high = axes.get_ylim()
    inside = [y for each in axes.lines if each.get_marker() in ("o", "x") for y in each.get_ydata()]
    assert all(low < y < high for y in inside)


@pytest.mark.slow
def test_left_out_catches_stay_with_their_reason_beside_them():
    assert "not charged" in written(drawn("left out"))
    assert "spilled" in written(drawn("none counts"))
    assert written(drawn("nothing came")).count("nothing came") == 2
    assert any(each.startswith("600 g: weighed with") for each in written(drawn("left out far off")))
    many = written(drawn("many left out"))
    named = sum(any(each.startswith(note[:12]) for note in case("many left out").trials.note if note) for each in many)
    assert 4 <= named <= MOST_NAMED
    assert f"\N{MULTIPLICATION SIGN} {10 - named} more left out, the log says why." in many


@pytest.mark.slow
def test_a_contradicted_catch_is_ringed_and_named():
    said = {
        "contradicted": "line 4, 40.2 g: in doubt",
        "decimal sign": "line 4, 610 g: in doubt",
        "set aside": "line 4, 30.2 g: set aside",
        "several in doubt": "lines 5 to 7: in doubt",
    }
    for name, text in said.items():
        axes = drawn(name)
        assert text in written(axes)
        rings = [each for each in axes.lines if each.get_marker() == "o" and each.get_ms() > 10]
        assert len(rings) == 1
    assert not [each for each in drawn("locked").lines if each.get_marker() == "o" and each.get_ms() > 10]


def test_the_title_is_that_of_every_other_screen():
    for stage in STAGES:
        figure = plot_boxes([stage])
        said = [each.get_text().replace("\N{NO-BREAK SPACE}", " ") for each in figure.axes[0].texts]
        found = answer(stage)
        assert found.headline in said
        assert any(found.sure in each for each in said)
        assert any(f"Expect {found.expected}." in each for each in said)
        assert f"target {found.target}" in said
        assert figure.axes[0].get_ylabel() == f"grams in {found.made}"


def test_the_decision_has_the_largest_letters():
    for axes in map(drawn, QUICK):
        sizes = sorted((each.get_fontsize() for each in texts(axes)), reverse=True)
        assert sizes[0] >= 14
        assert sizes[0] >= 1.4 * next(each for each in sizes if each < sizes[0])


def test_boxes_stand_one_below_the_other():
    axes = plot_boxes(STAGES).axes
    assert len(axes) == len(STAGES)
    ends = [(each.get_position().y0, each.get_position().y1) for each in axes]
    assert all(lower[1] < upper[0] for upper, lower in pairwise(ends))


def test_a_picture_can_be_drawn_into_axes_that_are_given():
    axes = Figure(figsize=(6, 5)).add_axes((0.15, 0.2, 0.6, 0.55))
    assert plot_advice(case("locked"), axes) is axes
    assert "LOCK AT 38" in written(axes)
