"""Panels of ratios between lots and of repeatability by season."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from predictor.lots.results import Lot, LotComparison
from predictor.plots.style import BLUE, GREY, dress

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# A ratio outside of these tells no more by its exact place; limits that run on end in an arrow.
WIDEST = (1 / 6, 6.0)
NEAT = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0)
MOST_SEASONS = 24


def distinct(names: Sequence[str], most: int = 24) -> list[str]:
    """Names that fit a picture, each still its own: long ones lose their middle, since lots often differ at the end."""
    short: list[str] = []
    for name in names:
        cut = name if len(name) <= most else f"{name[: most // 2].rstrip()}...{name[-(most // 2 - 3) :].lstrip()}"
        twins = sum(1 for other in short if other == cut or other.startswith(f"{cut} ("))
        short.append(f"{cut} ({twins + 1})" if twins else cut)
    return short


def plot_ratios(axes: Axes, found: LotComparison, names: dict[str, str]) -> None:
    """Ratios to the reference lot with their limits, ordered by season, and the interval for a lot not yet seen."""
    rows = [row for row in found.lots if row.lot in names]
    low, high = _window(found, rows)
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    axes.axvline(1.0, color="black", lw=0.9, zorder=1)
    place, season = 0.0, None
    shared = len({row.seasons for row in rows}) > 1
    for row in rows:
        if row.seasons[0] != season and shared:
            season = row.seasons[0]
            if place:
                axes.axhline(place - 0.5, color=GREY, lw=0.4)
            _text(axes, -0.015, place, distinct([season or "no season"])[0], ha="right", color=GREY, style="italic")
            place += 1
        _row(axes, found, row, names[row.lot], place, low, high)
        place += 1
    place = _unseen(axes, found, place, low, high)
    axes.set_ylim(place - 0.3, -0.8)
    axes.set_yticks([])
    ticks = [tick for tick in NEAT if low <= tick <= high]
    while len(ticks) > 9:
        ticks = [tick for k, tick in enumerate(ticks) if (k - ticks.index(1.0)) % 2 == 0]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.set_xticks([], minor=True)
    axes.set_xlabel("output as a multiple of the reference lot's", fontsize=9)
    sure = f"limits hold together, {100 * found.level:g} %" if found.adjustment else "no limits: no catch was repeated"
    title = f"Ratio to {names[found.reference]}; {sure}" if len(found.lots) > 1 else "One lot only: no ratios"
    dress(axes, title, strong=False)
    axes.spines["left"].set_visible(False)


def _figure(ratio: float) -> str:
    """A ratio, short whatever its size."""
    return f"{ratio:.2f}" if 0.01 <= ratio < 100 else "> 100" if ratio > 1 else "< 0.01"


def _text(axes: Axes, x: float, y: float, text: str, **style) -> None:
    axes.text(x, y, text, transform=axes.get_yaxis_transform(), va="center", fontsize=8, **style)


def _window(found: LotComparison, rows: list[Lot]) -> tuple[float, float]:
    """Ratios to show: every estimate, and its limits and the unseen lot's as far as they are of use."""
    seen = [row.ratio for row in rows if row.ratio is not None] + [1.0]
    ends = [end for row in rows for end in (row.lower, row.upper) if end is not None]
    ends += _next(found) or ()
    wide = (min(min(seen) * 0.9, max(WIDEST[0], min(seen) / 2)), max(max(seen) * 1.1, min(WIDEST[1], max(seen) * 2)))
    low = max(min([*seen, *ends]) * 0.97, wide[0])
    high = min(max([*seen, *ends]) * 1.03, wide[1])
    return min(low, 0.89), max(high, 1.12)


def _next(found: LotComparison) -> tuple[float, float] | None:
    """Limits for an unseen lot against the reference."""
    spread = found.spread
    if spread is None or spread.next_lower is None or spread.next_upper is None or spread.average_to_reference is None:
        return None
    return spread.next_lower * spread.average_to_reference, spread.next_upper * spread.average_to_reference


def _row(axes: Axes, found: LotComparison, row: Lot, name: str, place: float, low: float, high: float) -> None:
    reference = row.lot == found.reference
    _text(axes, -0.015, place, name, ha="right", fontweight="bold" if row.unusual or reference else "normal")
    if row.ratio is None:
        _text(axes, 1.03, place, "cannot be compared", ha="left")
        return
    if row.lower is not None and row.upper is not None:
        _bar(axes, place, row.lower, row.upper, low, high, color="black", lw=1.3)
    mark, size = ("D", 7) if reference else ("*", 11) if row.unusual else ("o", 6)
    face = "white" if row.catches == 1 else "black" if reference else BLUE
    axes.plot([row.ratio], [place], mark, ms=size, mfc=face, mec="black", mew=1.0, clip_on=False, zorder=4)
    said = "reference" if reference else _figure(row.ratio)
    if row.lower is not None and row.upper is not None:
        said += f" ({_figure(row.lower)} to {_figure(row.upper)})"
    if row.at_setting is not None and not reference:
        said += f" at {row.at_setting}" if isinstance(row.at_setting, str) else f" at {row.at_setting:g}"
    said += ", one catch" if row.catches == 1 else ""
    _text(axes, 1.03, place, said + (", stands apart" if row.unusual else ""), ha="left")


def _bar(axes: Axes, place: float, lower: float, upper: float, low: float, high: float, **style) -> None:
    """A bar between limits; an arrow where it runs off the panel."""
    start, stop = min(max(lower, low), high), max(min(upper, high), low)
    axes.plot([start, stop], [place, place], solid_capstyle="butt", zorder=2, **style)
    for end, at, mark in ((lower < low, low, "<"), (upper > high, high, ">")):
        if end:
            axes.plot([at], [place], mark, color=style["color"], ms=5, clip_on=False, zorder=3)


def _unseen(axes: Axes, found: LotComparison, place: float, low: float, high: float) -> float:
    """The row of a lot not yet seen; gives the next free place."""
    span = _next(found)
    axes.axhline(place - 0.5, color="black", lw=0.6)
    _text(axes, -0.015, place, "a lot not yet seen", ha="right", style="italic")
    if span is None:
        _text(axes, 1.03, place, "too few lots to say", ha="left", style="italic")
        return place + 1
    start, stop = max(span[0], low), min(span[1], high)
    axes.fill_between(
        [start, stop], place - 0.28, place + 0.28, facecolor="#dddddd", edgecolor=GREY, hatch="////", lw=0.8
    )
    for end, at, mark in ((span[0] < low, low, "<"), (span[1] > high, high, ">")):
        if end:
            axes.plot([at], [place], mark, color=GREY, ms=6, clip_on=False)
    average = found.spread.average_to_reference
    if low < average < high:
        axes.axvline(average, color=GREY, lw=0.9, ls=":", zorder=1)
        axes.annotate(
            "average lot",
            (average, 1.0),
            xycoords=("data", "axes fraction"),
            fontsize=7,
            color=GREY,
            ha="center",
            va="top",
        )
    _text(
        axes, 1.03, place, f"{_figure(average)} ({_figure(span[0])} to {_figure(span[1])})", ha="left", style="italic"
    )
    return place + 1


def plot_seasons(axes: Axes, found: LotComparison) -> None:
    """Repeatability of each season with its limits, and how many catches it rests on."""
    table = found.seasons.table[-MOST_SEASONS:]
    known = [row for row in table if row.cv is not None]
    none = " (x: none repeated)" if len(known) < len(table) else ""
    dress(axes, f"Repeatability by season{none}", strong=False)
    axes.set_ylabel("per cent", fontsize=9)
    top = _top(known)
    for place, row in enumerate(table):
        axes.text(
            place, 1.0, f"n {row.catches}", transform=axes.get_xaxis_transform(), ha="center", va="top", fontsize=7
        )
        if row.cv is None:
            axes.plot([place], [0], "x", color=GREY, ms=6, clip_on=False)
            continue
        upper = math.inf if row.cv_upper is None else 100 * row.cv_upper
        lower = 100 * (row.cv_lower or 0.0)
        axes.plot([place, place], [min(lower, top), min(upper, top)], color="black", lw=1.3, zorder=2)
        if upper > top:
            axes.plot([place], [top], "^", color="black", ms=5, clip_on=False)
        axes.plot([place], [min(100 * row.cv, top)], "o", ms=6, mfc=BLUE, mec="black", zorder=4)
    if found.cv is not None and 100 * found.cv < top:
        axes.axhline(100 * found.cv, color=GREY, lw=0.9, ls=":", zorder=1)
        axes.text(
            1.01, 100 * found.cv, "all lots", transform=axes.get_yaxis_transform(), va="center", fontsize=7, color=GREY
        )
    axes.set_ylim(0, top * 1.22)
    axes.set_xlim(-0.6, max(len(table), 4) - 0.4)
    turn = 0 if len(table) <= 9 and max(len(row.season) for row in table) <= 8 else 30
    labels = distinct([row.season or "no season" for row in table], 16)
    axes.set_xticks(range(len(table)), labels, fontsize=8, rotation=turn, ha="right" if turn else "center")


def _top(known) -> float:
    """Height of the strip: the widest limit that is of use, per cent."""
    if not known:
        return 10.0
    most = max(100 * row.cv for row in known)
    ends = [100 * row.cv_upper for row in known if row.cv_upper is not None]
    return max(float(np.clip(max([*ends, most]), 1.15 * most, 3 * most)), 0.1)
