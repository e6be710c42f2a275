"""The catch picture of a box and lot: its title and its panel, and several pictures one below the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from predictor.advice.result import Advice
from predictor.format import plain
from predictor.job.stage import Stage
from predictor.plots.drawing import LEFT, SMALL, USUAL, draw, right_names
from predictor.plots.labels import cut, folded
from predictor.plots.style import DARK, text_width
from predictor.plots.view import View, view_of, view_of_advice

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Inches: narrow, so that letters stay readable where a page shrinks the picture to a phone.
WIDE = 5.4
# Points: height of the panel, and the room around it.
PANEL, ABOVE, BELOW, LINE, GAP = 205.0, 10.0, 56.0, 11.5, 20.0
# Points: the decision, which is smaller only where it would not fit.
SIZES = (18.0, 16.0, 14.0)
# Lines of a title: text, size and weight.
Title = list[tuple[str, float, str]]


def plot_boxes(stages: Sequence[Stage]) -> Figure:
    """One picture for each box and lot, one below the other."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    views = [view_of(each) for each in stages]
    heights = [_height(each) for each in views]
    high = sum(heights) + GAP * (len(views) - 1)
    figure = Figure(figsize=(WIDE, high / 72), dpi=160)
    FigureCanvasAgg(figure)
    top = high
    for view, height in zip(views, heights, strict=True):
        _panel(figure, view, top - height, high)
        top -= height + GAP
    return figure


def plot_advice(advice: Advice, axes: Axes | None = None) -> Axes:
    """What the catches alone say of one box and lot."""
    view = view_of_advice(advice)
    if axes is not None:
        return _dressed(axes, view)
    from matplotlib import pyplot

    high = _height(view)
    return _panel(pyplot.figure(figsize=(WIDE, high / 72)), view, 0.0, high)


def _panel(figure: Figure, view: View, foot: float, high: float) -> Axes:
    """One picture into a figure so many points high, its foot at a height."""
    wide = WIDE * 72
    right = max(text_width(each.text, SMALL, bold=True) for each in right_names(view)) + 16
    area = LEFT / wide, (foot + _below(view)) / high, (wide - LEFT - right) / wide, PANEL / high
    return _dressed(figure.add_axes(area), view)


def _dressed(axes: Axes, view: View) -> Axes:
    """The picture into axes that stand where they will be, and its title above."""
    draw(axes, view)
    up = 7.0
    place: dict[str, Any] = {"xycoords": "axes fraction", "textcoords": "offset points", "ha": "left", "va": "bottom"}
    for text, size, weight in reversed(_title(view)):
        style: dict[str, Any] = {"fontsize": size, "fontweight": weight, "color": DARK, "annotation_clip": False}
        axes.annotate(text, (0, 1), xytext=(8 - LEFT, up), **style, **place)
        up += 1.3 * size
    return axes


def _height(view: View) -> float:
    """Height of the picture, points."""
    return ABOVE + sum(1.3 * size for _, size, _ in _title(view)) + PANEL + _below(view)


def _below(view: View) -> float:
    """Points below the panel: more where the foot may have to name catches that have no room in it."""
    return BELOW + LINE * (bool((~view.caught.used).any()) + bool(view.caught.doubts))


def _title(view: View) -> Title:
    """Box and lot, the decision, and how sure it is."""
    said, wide = view.answer, WIDE * 72 - 14
    size = next((each for each in SIZES if text_width(said.headline, each, bold=True) <= wide), SIZES[-1])
    drill = "towed drill" if view.advice.towed else "standing drill"
    whose = f"({drill})" if view.advice.whole_drill else f"(caught rows of the {drill})"
    name = f"{said.box}, {said.lot}" if said.lot else said.box
    first = f"{cut(name, USUAL, wide - text_width(f' {whose}', USUAL))} {whose}"
    decision = folded(said.headline, size, wide, 2, bold=True)
    sure = folded(_sure(view), USUAL, wide, 2)
    return [
        (first, USUAL, "normal"),
        *((each, size, "bold") for each in decision),
        *((each, USUAL, "normal") for each in sure),
    ]


def _sure(view: View) -> str:
    """How sure the setting is and what to expect there, or why nothing is known."""
    said, tolerance = view.answer, plain(100 * view.advice.tolerance)
    expected = (
        f" Expect\N{NO-BREAK SPACE}{said.expected}.".replace(" g.", "\N{NO-BREAK SPACE}g.") if said.expected else ""
    )
    if said.sure:
        return f"Within {tolerance} % of target: {said.sure}.{expected}"
    first = said.reason.partition(". ")[0].removesuffix(".")
    return f"{first}.{expected}" if first else expected.strip()
