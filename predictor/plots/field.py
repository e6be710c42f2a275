"""Field factors as marks with their limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from predictor.field.results import FieldResult
from predictor.plots.style import BLUE, GREY, axes_or_new, dress, short

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_factors(found: FieldResult, axes: Axes | None = None) -> Axes:
    """Factor of each box with its 95 % limits, and above it the checks in which the box took part."""
    rows: list[tuple[str, str, tuple[float | None, float | None, float | None]]] = []
    for box in found.boxes:
        for each in found.checks:
            if box.box in each.boxes and each.factor is not None:
                name = f"{each.date} {' + '.join(each.boxes)}"
                rows.append((name, GREY, (each.factor_lower, each.factor, each.factor_upper)))
        rows.append((box.box, BLUE, (box.lower, box.factor, box.upper)))
    axes = axes_or_new(axes, 7.0, 0.34 * len(rows) + 1.2)
    for place, (_, colour, limits) in enumerate(rows):
        factors = [each for each in limits if each is not None]
        axes.plot(factors, [place] * 3, color=colour)
        axes.plot(factors[1], place, "D" if colour == BLUE else "o", color=colour)
    axes.axvline(1.0, color="black", lw=0.9, ls=":")
    axes.set_yticks(range(len(rows)), [short(name) for name, *_ in rows], fontsize=9)
    axes.invert_yaxis()
    axes.set_xlabel("field rate over standing rate, with 95 % limits")
    dress(axes, "Field factors" if found.boxes else "No field factor")
    return axes
