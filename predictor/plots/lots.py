"""Pictures of a comparison of lots: where to start with each, and how it flows against the reference."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from predictor.lots.results import LotComparison
from predictor.plots.style import BLUE, FAINT, GREY, PALE, axes_or_new, new_figure, short, text_width
from predictor.plots.words import GAP, LETTER, SMALL, beside, head, headings, widest
from predictor.text.lot_rows import (
    NEW_LOT,
    NO_START,
    NOTHING,
    OFF_SCALE,
    START,
    TOO_FEW,
    Row,
    caught,
    limits,
    new_lot,
    new_start,
    not_shown,
    rows_of,
    share,
    wanted,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDE = 6.4
# Above so many lots, letters are smaller and rows nearer to each other.
MANY = 20
# Most letters of a name and of a season.
NAME, SEASON = 24, 12
# A ratio outside of these tells no more by its exact place; limits that run on end in an arrow.
WIDEST = (1 / 6, 6.0)
TICKS = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 10.0)
# Least part of the axis between two of its figures.
APART = 0.14


def plot_lots(results: Sequence[LotComparison]) -> Figure:
    """One panel a box."""
    heights = [height_of(found) for found in results]
    figure = new_figure(WIDE, sum(heights), dpi=150)
    parts = figure.subfigures(len(results), 1, squeeze=False, height_ratios=heights)[:, 0]
    for part, found in zip(parts, results, strict=True):
        plot_comparison(found, part.subplots())
    return figure


def height_of(found: LotComparison) -> float:
    """Height in inches of the picture of a comparison."""
    number = len(rows_of(found))
    return 1.65 + (0.25 if number <= MANY else 0.18) * (number + 1) if number else 0.6


def plot_comparison(found: LotComparison, axes: Axes | None = None) -> Axes:
    """A row a lot, the fastest first: its name, where to start, its output against the reference with its limits."""
    axes = axes_or_new(axes, WIDE, height_of(found))
    rows = rows_of(found)
    if not rows:
        axes.set_axis_off()
        axes.text(0.5, 0.5, NOTHING, ha="center", va="center", transform=axes.transAxes)
        return axes
    _scale(axes, found, rows)
    _marks(axes, rows)
    _new_lot(axes, found, len(rows))
    _right(axes, found, rows)
    left = _left(axes, rows, new_start(found)[0])
    _headings(axes, found, rows, left)
    return axes


def _scale(axes: Axes, found: LotComparison, rows: Sequence[Row]) -> None:
    """The axis of ratios, in per cent of the reference lot."""
    axes.set_xscale("log")
    axes.set_xlim(*_window(found, rows))
    axes.set_ylim(len(rows) + 0.6, -0.6)
    ticks = _ticks(*axes.get_xlim())
    axes.set_xticks(ticks, [f"{100 * tick:.0f}" for tick in ticks], fontsize=LETTER)
    axes.set_xticks([], minor=True)
    axes.set_yticks([])
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.axvline(1.0, color="black", lw=0.9, zorder=1)
    at = {row.at for row in rows if row.at}
    where = f" at {next(iter(at))}" if len(at) == 1 else ""
    more = not_shown(found)
    axes.set_xlabel(f"output{where} in %, {_reference(rows)} = 100{more and f'. {more}.'}", fontsize=LETTER)


def _window(found: LotComparison, rows: Sequence[Row]) -> tuple[float, float]:
    """Ratios to show: every estimate, and its limits and a new lot's as far as they are of use."""
    seen = [1.0, *(row.lot.ratio for row in rows)]
    ends = [end for row in rows for end in (row.lot.lower, row.lot.upper) if end is not None]
    ends += new_lot(found) or ()
    least, most = min(seen), max(seen)
    low = max(min([*seen, *ends]) * 0.97, min(least * 0.9, max(WIDEST[0], least / 2)))
    high = min(max([*seen, *ends]) * 1.03, max(most * 1.1, min(WIDEST[1], most * 2)))
    return min(low, 0.89), max(high, 1.12)


def _ticks(low: float, high: float) -> list[float]:
    """Ratios to name on the axis: 1, and from there both ways as many as there is room for."""
    room = APART * math.log(high / low)
    found = [1.0]
    for way in (TICKS, TICKS[::-1]):
        last = 1.0
        for tick in way:
            beyond = tick > 1 if way is TICKS else tick < 1
            if beyond and low <= tick <= high and abs(math.log(tick / last)) >= room:
                found.append(tick)
                last = tick
    return sorted(found)


def _marks(axes: Axes, rows: Sequence[Row]) -> None:
    """Ratios with their limits: the reference as a diamond, an unusual lot as a star, one caught once hollow."""
    drawn: dict[tuple[str, int, str], list[tuple[float, int]]] = {}
    known = []
    for place, row in enumerate(rows):
        lot = row.lot
        if lot.lower is not None and lot.upper is not None:
            known.append((*_inside(axes, lot.lower, lot.upper, place), place))
        mark, size = ("D", 6) if row.reference else ("*", 11) if lot.unusual else ("o", 6)
        face = "black" if row.reference else "white" if lot.catches == 1 else BLUE
        drawn.setdefault((mark, size, face), []).append((lot.ratio, place))
    low, _ = axes.get_xlim()
    _strokes(axes, [(low, row.lot.ratio, place) for place, row in enumerate(rows)], color=PALE, lw=0.6, zorder=0)
    _strokes(axes, known, color="black", lw=1.3, solid_capstyle="butt", zorder=2)
    for (mark, size, face), points in drawn.items():
        axes.plot(*zip(*points, strict=True), mark, ms=size, mfc=face, mec="black", mew=0.9, clip_on=False, zorder=4)


def _strokes(axes: Axes, strokes: Sequence[tuple[float, float, float]], **style: Any) -> None:
    """Level strokes from here to there, as one line with gaps: a line each would make a large file."""
    across = [end for low, high, _ in strokes for end in (low, high, math.nan)]
    axes.plot(across, [place for *_, place in strokes for _ in range(3)], **style)


def _inside(axes: Axes, lower: float, upper: float, place: float) -> tuple[float, float]:
    """Limits cut to the panel, with an arrow where they run off it."""
    low, high = axes.get_xlim()
    for beyond, at, mark in ((lower < low, low, "<"), (upper > high, high, ">")):
        if beyond:
            axes.plot([at], [place], mark, color="black", ms=5, clip_on=False, zorder=3)
    return min(max(lower, low), high), max(min(upper, high), low)


def _new_lot(axes: Axes, found: LotComparison, place: float) -> None:
    """A lot that was not caught yet: a bar for its limits, a stroke for the average lot."""
    axes.axhline(place - 0.5, color="black", lw=0.6)
    among = new_lot(found)
    if among is not None:
        lower, average, upper = among
        low, high = _inside(axes, lower, upper, place)
        axes.barh([place], [high - low], left=low, height=0.5, color=PALE, edgecolor=GREY, lw=0.9, zorder=1)
        axes.plot([average, average], [place - 0.25, place + 0.25], color="black", lw=1.3)


def _right(axes: Axes, found: LotComparison, rows: Sequence[Row]) -> None:
    """The figures: ratio, limits, and what sets a lot apart."""
    among, size = new_lot(found), _size(rows)
    apart = len({row.at for row in rows if row.at}) > 1
    much = [*(row.share for row in rows), "" if among is None else share(among[1])]
    spans = [f"{row.limits} at {row.at}" if apart and row.at else row.limits for row in rows]
    rest = [", ".join(filter(None, (span, *row.remarks))) for span, row in zip(spans, rows, strict=True)]
    rest.append(TOO_FEW if among is None else limits(among[0], among[2]))
    end = GAP + widest(much, size)
    for place, (each, more) in enumerate(zip(much, rest, strict=True)):
        beside(axes, 1, place, end, each, size, ha="right")
        beside(axes, 1, place, end + 0.6 * GAP, more, size)
    head(axes, 1, end + 0.6 * GAP, f"{100 * found.level:g} % limits")


def _left(axes: Axes, rows: Sequence[Row], new: str) -> float:
    """Names, seasons and settings to start near; gives how many points left of the panel they begin."""
    size = _size(rows)
    names, seasons = distinct([row.name for row in rows], NAME), [short(row.season, SEASON) for row in rows]
    starts = [(row.start or OFF_SCALE) if any(each.start for each in rows) else "" for row in rows]
    starts.append(new if any(starts) else "")
    middle = GAP + max(widest(starts, size + 1, bold=True), text_width(START, SMALL) if any(starts) else 0) / 2
    season = 2 * middle + widest(seasons, SMALL)
    left = season + GAP + max(widest(names, size, bold=True), text_width(NEW_LOT, size))
    for place, (row, name) in enumerate(zip(rows, names, strict=True)):
        strong = "bold" if row.reference or row.lot.unusual else "normal"
        beside(axes, 0, place, -left, name, size, fontweight=strong)
        beside(axes, 0, place, -season, seasons[place], SMALL, color=FAINT)
        known = row.start != ""
        style = {"fontweight": "bold"} if known else {"color": FAINT}
        beside(axes, 0, place, -middle, starts[place], size + known, ha="center", **style)
    beside(axes, 0, len(rows), -left, NEW_LOT, size)
    beside(axes, 0, len(rows), -middle, starts[-1], size + 1, ha="center", fontweight="bold")
    head(axes, 0, -left, "lot")
    if any(starts):
        head(axes, 0, -middle, START, ha="center")
    return left


def _headings(axes: Axes, found: LotComparison, rows: Sequence[Row], left: float) -> None:
    """What the picture is of, what it answers, and what the settings give."""
    starts, name = any(row.start for row in rows), _reference(rows)
    given = f"These settings give {wanted(found, name)}." if starts else NO_START
    decision = "Where to start with each lot" if starts else "How each lot flows"
    headings(axes, -left, f"{short(found.box)}, {caught(found)}", decision, given)


def _reference(rows: Sequence[Row]) -> str:
    """The reference lot as it is called in the picture."""
    names = distinct([row.name for row in rows], NAME)
    return next(name for name, row in zip(names, rows, strict=True) if row.reference)


def _size(rows: Sequence[Row]) -> float:
    """Size of the letters of a row."""
    return LETTER if len(rows) <= MANY else SMALL


def distinct(names: Sequence[str], most: int) -> list[str]:
    """Names that fit a picture, each still its own: long ones lose their middle, since lots often differ at the end."""
    found: list[str] = []
    for name in names:
        cut = name if len(name) <= most else f"{name[: most // 2].rstrip()}...{name[-(most // 2 - 3) :].lstrip()}"
        twins = sum(1 for other in found if other == cut or other.startswith(f"{cut} ("))
        found.append(f"{cut} ({twins + 1})" if twins else cut)
    return found
