"""Pictures of a comparison: what they show, and that no odd log spoils one. Every log here is invented."""

import re
import warnings
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest

from predictor.domain.control import Lever
from predictor.lots.compare import compare_lots
from predictor.plots.lots import plot_lots
from predictor.plots.style import render
from predictor.text.lot_rows import NOTHING
from predictor.text.pictures import lots_compared
from tests.lots.lot_logs import BOX, log, made_up

LONG = "Canada wildrye, cleaned twice, from the north bench, bag"
# Six lots of three seasons, one of them caught once.
SIX = made_up([0, 0.1, -0.2, 0.3, 0.05, -0.4], [6, 1, 5, 4, 7, 3], seasons=lambda k, i: str(2024 + k % 3))
FORTY = [*made_up([*np.random.default_rng(3).normal(0, 0.15, 38), 0.9, -0.9], [4] * 40)]


def drawn(rows, **asked):
    return plot_lots([compare_lots(log(rows), BOX, **asked)])


def words(figure):
    """Every text of a figure that can be seen."""
    found = figure.findobj(lambda artist: hasattr(artist, "get_text"))
    return [text for text in found if text.get_text() and text.get_visible()]


def texts(figure):
    return [text.get_text() for text in words(figure)]


def line_of(figure, name):
    """What stands beside the name of a lot, from left to right."""
    in_rows = [text for text in words(figure) if getattr(text, "xycoords", "axes fraction") != "axes fraction"]
    place = next(text.xy[1] for text in in_rows if text.get_text() == name)
    beside = [text for text in in_rows if text.xy[1] == place]
    return [text.get_text() for text in sorted(beside, key=lambda text: (text.xy[0], text.xyann[0]))]


def marks(figure):
    """Where the marks of lots are, from the top: row and ratio to mark and face."""
    lines = [line for line in figure.findobj(lambda artist: hasattr(artist, "get_marker")) if line.get_zorder() == 4]
    return dict(
        sorted(
            ((place, ratio), (line.get_marker(), line.get_markerfacecolor()))
            for line in lines
            for ratio, place in zip(line.get_xdata(), line.get_ydata(), strict=True)
        )
    )


def test_each_lot_has_its_season_start_ratio_and_limits_beside_its_name():
    found = compare_lots(log(SIX), BOX)
    figure = plot_lots([found])
    for lot in found.lots:
        name, season, start, ratio, limits = line_of(figure, lot.name)
        assert (name, season, start) == (lot.name, lot.seasons[0], lot.setting.text)
        assert int(ratio.removesuffix(" %")) == round(100 * lot.ratio)
        if lot.name == found.reference.name:
            assert limits == "reference"
        else:
            assert limits.split(" %")[0] == f"{100 * lot.lower:.0f} to {100 * lot.upper:.0f}"
    # the answer is the largest of a row
    sizes = {text.get_text(): text.get_fontsize() for text in words(figure)}
    assert all(sizes[lot.setting.text] > sizes[lot.name] for lot in found.lots)


def test_lots_are_sorted_by_ratio_and_a_new_lot_is_last():
    found = compare_lots(log(SIX), BOX)
    figure = plot_lots([found])
    by_place = sorted((text.xy[1], text.get_text()) for text in words(figure) if getattr(text, "xy", (9, 0))[0] == 0)
    order = [text for place, text in by_place if text in {*(lot.name for lot in found.lots), "a new lot"}]
    fastest_first = [lot.name for lot in sorted(found.lots, key=lambda lot: -lot.ratio)]
    assert order == [*fastest_first, "a new lot"]
    assert [ratio for _, ratio in marks(figure)] == sorted((lot.ratio for lot in found.lots), reverse=True)


def test_the_bar_of_a_new_lot_has_its_limits_against_the_reference():
    found = compare_lots(log(SIX), BOX)
    (bar,) = (each for each in plot_lots([found]).subfigs[0].axes[0].patches)
    spread = found.spread
    ends = [each * spread.average_to_reference for each in (spread.next_lower, spread.next_upper)]
    assert [bar.get_x(), bar.get_x() + bar.get_width()] == pytest.approx(ends)


def test_the_setting_to_start_near_is_one_that_the_control_has():
    box = replace(BOX, control=Lever(0, 60, 0.5))
    found = compare_lots(log(SIX, box.control), box)
    has = {each.text for each in box.control.settings}
    assert {line_of(plot_lots([found]), lot.name)[2] for lot in found.lots} <= has


def test_the_reference_an_unusual_lot_and_one_catch_differ_by_mark_and_word():
    found = compare_lots(log(FORTY), BOX)
    assert len(found.spread.unusual) == 2
    figure = plot_lots([found])
    by_ratio = {ratio: mark for (_, ratio), mark in marks(figure).items()}
    for lot in found.lots:
        mark = by_ratio[lot.ratio][0]
        assert mark == ("D" if lot.name == found.reference.name else "*" if lot.unusual else "o")
        assert line_of(figure, lot.name)[-1].endswith("unusual") == lot.unusual
    once = drawn(SIX)
    hollow = [mark for mark in marks(once).values() if mark[1] == "white"]
    assert hollow == [("o", "white")]
    assert line_of(once, "L1")[-1].endswith("one catch")


def test_of_sixty_lots_forty_are_shown_and_the_others_are_counted():
    found = compare_lots(log(made_up([0.001 * k for k in range(60)], [3 + k % 2 for k in range(60)])), BOX)
    figure = plot_lots([found])
    assert len(marks(figure)) == 40
    shown = texts(figure)
    assert all(lot.name in shown for lot in found.lots if lot.catches == 4)
    assert any("20 more lots not shown" in text for text in shown)
    assert "20 more lots not shown" in lots_compared(found)
    assert not any("not shown" in text for text in texts(drawn(FORTY)))


def test_a_lot_that_is_compared_season_by_season_is_named_with_each():
    both = {"2025": 0.0, "2026": 0.25}
    rows = [(*row[:3], season) for season, level in both.items() for row in made_up([level], [6], seed=int(season))]
    shown = texts(drawn(rows))
    assert {"L0 (2025)", "L0 (2026)"} <= set(shown)
    assert not {"L0", "2025", "2026"} & set(shown)  # the name says the season


def test_the_settings_are_for_the_target_or_for_what_the_reference_gives():
    assert "These settings give what L4 gives at 27." in texts(drawn(SIX))
    (target,) = (each for each in texts(drawn(SIX, target_output=0.3)) if each.startswith("These"))
    assert "the target, 0.30 g per row per turn" in target


def test_a_setting_beyond_the_scale_is_said():
    rows = [(lot, x, grams * (0.5 if lot == "B" else 1)) for lot in "AB" for x, grams in ((50, 47), (50, 48), (30, 27))]
    assert line_of(drawn(rows, reference="A"), "B")[2] == "off scale"


def test_where_no_setting_can_be_given_the_picture_says_so():
    rows = [("A", "low", 50), ("A", "low", 52), ("B", "low", 60), ("B", "low", 61)]
    shown = texts(plot_lots([compare_lots(log(rows), "small")]))
    assert "No setting to start at can be given." in shown
    assert "start near" not in shown


def test_long_names_are_cut_and_stay_distinct():
    rows = [
        (f"{LONG} {k}", x, grams, season) for k in (7, 8) for _, x, grams, season in made_up([0.1 * k], [5], seed=k)
    ]
    shown = {text for text in texts(drawn(rows)) if text.startswith("Canada")}
    assert len(shown) == 2
    assert max(map(len, shown)) <= 26


ODD = {
    "one catch": [("A", 30, 25.0)],
    "a catch each": [("A", 30, 25.0), ("B", 30, 30.0)],
    "far apart": [("A", 30, 25.0), ("B", 30, 3e5)],
    "no scatter": [("A", 30, 25.0), ("A", 30, 25.0), ("B", 30, 25.0)],
    "huge limits": [("A", 30, 25.0), ("B", 30, 31.0), ("C", 30, 28.0), ("C", 30, 20.0)],
    "one of one": made_up([0.0, 0.1, 0.2], [6, 1, 5]),
    "shapes differ": made_up([0.0, 0.1, 0.2], [8, 8, 8], dead=[2, 12, 2], cv=0.01),
    "odd names": [("$a_b$ ^2", 30, 25.0, ""), ("50% \\frac", 40, 35.0, "spring"), ("ж 種", 40, 35.0, "spring")],
    "long names": [(f"{LONG} {k}", 30 + j, 25.0 + k, "the spring of 2026") for k in range(3) for j in range(3)],
    "forty": FORTY,
    "many": made_up([0.0] * 60, [3] * 60, seasons=lambda k, i: str(1990 + k)),
}
MANY = ("forty", "many")


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(
    "rows", [pytest.param(rows, id=name, marks=[pytest.mark.slow] * (name in MANY)) for name, rows in ODD.items()]
)
def test_no_log_spoils_the_picture(rows):
    figure = drawn(rows)
    for kind in ("svg", "png"):
        assert len(render(figure, kind)) > 4000
    assert figure.get_figwidth() <= 6.5
    shown = words(figure)
    assert min(text.get_fontsize() for text in shown) >= 8
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")  # of a letter that the font lacks
        boxes = [text.get_window_extent() for text in shown]
    assert min(box.x0 for box in boxes) >= -0.5
    assert max(box.x1 for box in boxes) <= figure.bbox.width + 0.5
    for one, other in combinations(boxes, 2):
        # half a pixel is a rounding of the renderer
        assert not (
            min(one.x1, other.x1) - max(one.x0, other.x0) > 0.5 and min(one.y1, other.y1) - max(one.y0, other.y0) > 2
        )


def test_letters_are_dark_and_marks_show_on_white():
    figure = drawn(SIX)
    assert min(contrast(text.get_color()) for text in words(figure)) >= 7
    (bar,) = figure.subfigs[0].axes[0].patches
    assert contrast(bar.get_edgecolor()) >= 3
    assert min(contrast(mark[1]) for mark in marks(figure).values() if mark[1] != "white") >= 3


def contrast(colour):
    """Contrast with white by WCAG 2.2, definition of contrast ratio and relative luminance (from memory)."""
    from matplotlib.colors import to_rgb

    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour)]
    return 1.05 / (float(np.dot(parts, (0.2126, 0.7152, 0.0722))) + 0.05)


def test_the_file_of_six_lots_is_small_and_has_nothing_that_files_cannot_show():
    svg = render(drawn(SIX), "svg")
    assert len(svg) < 25_000
    assert b"opacity" not in svg
    assert b"<pattern" not in svg


def test_a_box_with_nothing_to_compare_says_so():
    trials = log([("A", 30, 25.0)])
    nothing = compare_lots(replace(trials, use=np.array([False])), BOX)
    assert NOTHING in texts(plot_lots([compare_lots(trials, BOX), nothing]))
    assert lots_compared(nothing) == NOTHING


def test_a_comparison_is_drawn_into_axes_that_are_given():
    from matplotlib.figure import Figure

    axes = Figure().subplots()
    found = compare_lots(log(SIX), BOX)
    assert found.plot(axes) is axes
    low, high = axes.get_xlim()
    assert low < min(lot.ratio for lot in found.lots) < max(lot.ratio for lot in found.lots) < high


def test_what_the_picture_shows_is_said_in_words():
    found = compare_lots(log(SIX), BOX)
    said, figure = lots_compared(found), plot_lots([found])
    places = [
        said.index(f"{name}: start near ")
        for name in (lot.name for lot in sorted(found.lots, key=lambda lot: -lot.ratio))
    ]
    assert all(one < other for one, other in pairwise(places))
    for lot in found.lots:
        _, _, start, ratio, limits = line_of(figure, lot.name)
        part = said[said.index(f"{lot.name}: start near ") :].split(". ")[0]
        assert f"start near {start}, " in part
        assert ("reference" if limits == "reference" else f"{ratio} ({limits.split(' %')[0]} %)") in part


def test_of_forty_lots_the_ends_and_the_unusual_ones_are_said_in_words():
    found = compare_lots(log(FORTY), BOX)
    said = lots_compared(found)
    named = [lot.name for lot in found.lots if f" {lot.name}: " in said]
    assert 12 <= len(named) <= 15
    assert {*found.spread.unusual, found.reference.name} <= set(named)
    assert f"{40 - len(named)} lots between these" in said


def test_the_same_comparison_gives_the_same_bytes():
    rows = made_up([0.0, 0.1], [4, 4])
    first, again = render(drawn(rows), "svg"), render(drawn(rows), "svg")
    assert first == again
    assert re.search(rb' id="n1"', first)  # not named by addresses in memory, which differ from run to run
    assert not re.search(rb' id="\w?[0-9a-f]{10}"', first)
