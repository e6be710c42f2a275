"""Pictures of a comparison: what they show, and that no odd log spoils one. Every log here is invented."""

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from predictor.lots.compare import compare_lots
from predictor.plots.lots import NOTHING, plot_lots
from predictor.plots.style import render
from tests.lots.lot_logs import BOX, log, made_up

LONG = "Canada wildrye, cleaned twice, from the north bench, bag"


def texts(figure):
    figure.canvas.draw()
    return [text.get_text() for text in figure.findobj(lambda artist: hasattr(artist, "get_text"))]


def drawn(rows, **asked):
    return plot_lots([compare_lots(log(rows), BOX, **asked)])


def test_every_lot_is_named_at_its_curve_and_at_its_ratio():
    figure = drawn(made_up([0.1 * k for k in range(12)], [5] * 12))
    shown = texts(figure)
    for k in range(12):
        assert shown.count(f"L{k}") == 2


def test_ratios_stand_by_season_and_a_new_lot_last():
    rows = made_up([0.0, 0.1, 0.2, 0.3], [5] * 4, seasons=lambda k, i: ("2025", "2024")[k % 2])
    figure = drawn(rows)
    axes = figure.subfigs[0].axes[1]
    place = {text.get_text(): text.get_position()[1] for text in axes.texts}
    order = sorted((name for name in place if name in {"2024", "2025", "L0", "L1", "L2", "L3"}), key=place.get)
    assert order == ["2024", "L1", "L3", "2025", "L0", "L2"]
    assert place["a new lot"] == max(place.values())


def test_a_lot_that_is_compared_season_by_season_is_named_with_each():
    both = {"2025": 0.0, "2026": 0.25}
    rows = [(*row[:3], season) for season, level in both.items() for row in made_up([level], [6], seed=int(season))]
    found = compare_lots(log(rows), BOX)
    shown = texts(plot_lots([found]))
    for name in ("L0 (2025)", "L0 (2026)"):
        assert shown.count(name) == 2  # at its curve and at its ratio
    assert "L0" not in shown
    assert any(text.startswith("Ratio to L0 (2026);") for text in shown)


def test_names_at_the_curves_do_not_cover_one_another():
    figure = drawn(made_up([0.001 * k for k in range(12)], [5] * 12))
    figure.canvas.draw()
    axes = figure.subfigs[0].axes[0]
    boxes = [text.get_window_extent() for text in axes.texts if text.get_text().startswith("L")]
    boxes.sort(key=lambda box: box.y0)
    assert len(boxes) == 12
    assert all(lower.y1 <= upper.y0 + 0.5 for lower, upper in pairwise(boxes))


def test_long_names_are_cut_and_stay_distinct():
    rows = [
        (f"{LONG} {k}", x, grams, season) for k in (7, 8) for _, x, grams, season in made_up([0.1 * k], [5], seed=k)
    ]
    shown = [text for text in texts(drawn(rows)) if text.startswith("Canada")]
    assert len(set(shown)) == 2
    assert max(map(len, shown)) <= 26


def test_marks_differ_by_shape_within_the_lots_that_are_named():
    figure = drawn(made_up([0.05 * k for k in range(12)], [4] * 12))
    axes = figure.subfigs[0].axes[0]
    marks = [
        line.get_marker() for line in axes.lines if line.get_marker() not in ("None", "") and line.get_zorder() == 4
    ]
    assert len(marks) == len(set(marks)) == 12


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "rows",
    [
        [("A", 30, 25.0)],
        [("A", 30, 25.0), ("B", 30, 30.0)],
        [("A", 30, 25.0), ("B", 30, 3e5)],
        [("A", 30, 25.0), ("A", 30, 25.0), ("B", 30, 25.0)],
        made_up([0.0, 0.1, 0.2], [6, 1, 5]),
        made_up([0.0, 0.1, 0.2], [8, 8, 8], dead=[2, 12, 2], cv=0.01),
        [("$a_b$ ^2", 30, 25.0, ""), ("50% \\frac", 40, 35.0, "spring"), ("ж 種", 40, 35.0, "spring")],
        made_up([0.0] * 60, [3] * 60, seasons=lambda k, i: str(1990 + k)),
    ],
    ids=["one catch", "a catch each", "far apart", "no scatter", "one of one", "shapes differ", "odd names", "many"],
)
def test_no_log_spoils_the_picture(rows):
    figure = drawn(rows)
    for kind in ("png", "svg"):
        assert len(render(figure, kind)) > 5000


def test_of_very_many_lots_two_hundred_more_are_drawn_in_grey():
    figure = drawn(made_up([0.001 * k for k in range(230)], [2] * 230, cv=0.01))
    axes = figure.subfigs[0].axes[0]
    assert sum(line.get_alpha() == 0.35 for line in axes.lines) == 200
    assert any("200 of 214" in text.get_text() for text in axes.texts)


def test_a_box_with_nothing_to_compare_says_so():
    trials = log([("A", 30, 25.0)])
    found = compare_lots(trials.where(np.array([True])), BOX)
    nothing = compare_lots(replace(trials, use=np.array([False])), BOX)
    shown = texts(plot_lots([found, nothing]))
    assert NOTHING in shown


def test_the_same_comparison_gives_the_same_bytes():
    rows = made_up([0.0, 0.1], [4, 4])
    first, again = render(drawn(rows), "svg"), render(drawn(rows), "svg")
    assert first == again
    assert re.search(rb' id="n1"', first)  # not named by addresses in memory, which differ from run to run
    assert not re.search(rb' id="\w?[0-9a-f]{10}"', first)
