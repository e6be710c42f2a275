"""Field factors as marks with their limits."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from predictor.field.results import FieldResult
from predictor.plots.style import BLUE, FAINT, GREY, axes_or_new, short
from predictor.plots.words import GAP, LETTER, beside, head, headings, widest
from predictor.text.field import NO_FACTOR, WHAT_FACTORS_ARE, factor_figures

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDE, HIGH, ROW = 6.4, 1.6, 0.25
# Most letters of a name and of the heading.
NAME, MOST = 32, 44


@dataclass(frozen=True)
class _Row:
    """A box, or one of the checks that it took part in."""

    name: str
    factor: float
    limits: tuple[float, float] | None
    box: bool


def plot_factors(found: FieldResult, axes: Axes | None = None) -> Axes:
    """Factor of each box with its 95 % limits, and below it the checks in which the box took part."""
    rows = _rows(found)
    axes = axes_or_new(axes, WIDE, HIGH + ROW * len(rows))
    if not rows:
        axes.set_axis_off()
        axes.text(0.5, 0.5, NO_FACTOR, ha="center", va="center", transform=axes.transAxes, fontsize=LETTER)
        return axes
    axes.axvline(1.0, color="black", lw=0.9, zorder=1)
    for place, row in enumerate(rows):
        colour = BLUE if row.box else GREY
        if row.limits is not None:
            axes.plot(row.limits, [place, place], color=colour, lw=2.2 if row.box else 1.2, solid_capstyle="butt")
        axes.plot([row.factor], [place], "D" if row.box else "o", ms=6, mfc=colour if row.box else "white", mec=colour)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_yticks([])
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.tick_params(labelsize=LETTER)
    axes.set_xlabel("field rate over standing rate", fontsize=LETTER)
    _words(axes, rows)
    return axes


def _rows(found: FieldResult) -> list[_Row]:
    rows = []
    for box in found.boxes:
        rows.append(_Row(box.box, box.factor, (box.lower, box.upper), box=True))
        for each in found.checks:
            if box.box in each.boxes and each.factor is not None:
                known = each.factor_lower is not None and each.factor_upper is not None
                limits = (each.factor_lower or 0.0, each.factor_upper or 0.0) if known else None
                rows.append(_Row(f"{each.date} {' + '.join(each.boxes)}", each.factor, limits, box=False))
    return rows


def _words(axes: Axes, rows: list[_Row]) -> None:
    names = [short(row.name, NAME) for row in rows]
    left = 2 * GAP + widest(names, LETTER, bold=True)
    for place, (row, name) in enumerate(zip(rows, names, strict=True)):
        style = {"fontweight": "bold"} if row.box else {"color": FAINT}
        beside(axes, 0, place, -left + (0 if row.box else GAP), name, LETTER, **style)
        beside(axes, 1, place, GAP, factor_figures(row.factor, row.limits), LETTER, **style)
    head(axes, 1, GAP, "95 % limits")
    boxes = ", ".join(f"{row.name} {factor_figures(row.factor, None)}" for row in rows if row.box)
    headings(axes, -left, "Field factors", short(boxes, MOST), WHAT_FACTORS_ARE)
