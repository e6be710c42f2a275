"""Words beside the marks of a picture: columns left and right of a panel, and its three lines of heading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from predictor.plots.style import FAINT, text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Sizes of letters, the room between columns, and the room that headings need, in points.
LETTER, SMALL, DECISION, GAP, HEADINGS = 9.0, 8.0, 15.0, 9.0, 72.0


def widest(texts: Sequence[str], size: float, *, bold: bool = False) -> float:
    """Width of the widest of some texts, in points."""
    return max((text_width(each, size, bold=bold) for each in texts), default=0.0)


def beside(axes: Axes, side: int, row: float, away: float, text: str, size: float, **style: Any) -> None:
    """A text in a row, so many points away from the left (0) or right (1) side of the panel."""
    _write(axes, (side, row), (away, 0.0), text, size, axes.get_yaxis_transform(), **{"va": "center", **style})


def head(axes: Axes, side: int, away: float, text: str, **style: Any) -> None:
    """The head of a column."""
    _write(axes, (side, 1), (away, 4), text, SMALL, "axes fraction", va="bottom", color=FAINT, **style)


def headings(axes: Axes, away: float, small: str, decision: str, line: str) -> None:
    """What a picture is of, its decision in large letters, and a line about it, so many points from the left side."""
    for up, text, size, weight in (
        (57, small, LETTER, "normal"),
        (38, decision, DECISION, "bold"),
        (24, line, LETTER, "normal"),
    ):
        _write(axes, (0, 1), (away, up), text, size, "axes fraction", va="bottom", fontweight=weight)


def _write(
    axes: Axes, at: tuple[float, float], away: tuple[float, float], text: str, size: float, measured: Any, **style: Any
) -> None:
    if text:
        style = {"annotation_clip": False, "fontsize": size, **style}
        axes.annotate(text, at, away, xycoords=measured, textcoords="offset points", **style)
