"""Panels of ratios between lots and of repeatability by season."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from predictor.lots.results import Lot, LotComparison, Reference, Repeatability
from predictor.lots.shapes import LotCurves
from predictor.plots.style import BLUE, GREY, dress

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# A ratio outside of these tells no more by its exact place; limits that run on end in an arrow.
WIDEST = (1 / 6, 6.0)
NEAT = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0)
MOST_RATIOS, MOST_SEASONS = 40, 24


@dataclass(frozen=True)
class Chosen:
    """A comparison with the lots that its picture has room for."""

    found: LotComparison
    reference: Reference
    curves: LotCurves
    rows: list[Lot]
    names: dict[str, str]  # Lot to its name in the picture


def choose(found: LotComparison) -> Chosen | None:
    """The lots to show of a comparison; None where no catch counts."""
    if found.reference is None or found.curves is None:
        return None
    rows = preferred(found, MOST_RATIOS)
    lots = [row.name for row in rows]
    return Chosen(found, found.reference, found.curves, rows, dict(zip(lots, distinct(lots), strict=True)))


def preferred(found: LotComparison, most: int) -> list[Lot]:
    """The reference, the unusual lots, then the most caught; in the table's order."""
    reference = "" if found.reference is None else found.reference.name
    rows = sorted(found.lots, key=lambda row: (row.name != reference, not row.unusual, -row.catches, row.name))[:most]
    return sorted(rows, key=found.lots.index)


def height_of(found: LotComparison) -> float:
    """Height in inches of the picture of a comparison."""
    if found.reference is None:
        return 1.2
    seasons = len({row.seasons[0] for row in found.lots})
    return 3.9 + 0.26 * min(len(found.lots) + seasons, MOST_RATIOS + 8)


def distinct(names: Sequence[str], most: int = 24) -> list[str]:
    """Names that fit a picture, each still its own: long ones lose their middle, since lots often differ at the end."""
    short: list[str] = []
    for name in names:
        cut = name if len(name) <= most else f"{name[: most // 2].rstrip()}...{name[-(most // 2 - 3) :].lstrip()}"
        twins = sum(1 for other in short if other == cut or other.startswith(f"{cut} ("))
        short.append(f"{cut} ({twins + 1})" if twins else cut)
    return short


def plot_ratios(axes: Axes, chosen: Chosen) -> None:
    """Ratios to the reference lot with their limits, ordered by season, and the interval for a new lot."""
    found, rows = chosen.found, chosen.rows
    axes.set_xscale("log")
    axes.set_xlim(*_window(chosen))
    axes.axvline(1.0, color="black", lw=0.9, zorder=1)
    place, season = 0.0, None
    shared = len({row.seasons for row in rows}) > 1
    for row in rows:
        if row.seasons[0] != season and shared:
            season = row.seasons[0]
            if place:
                axes.axhline(place - 0.5, color=GREY, lw=0.4)
            _left(axes, place, distinct([season or "no season"])[0], color=GREY, style="italic")
            place += 1
        _row(axes, chosen, row, place)
        place += 1
    _new_lot(axes, found, place)
    axes.set_ylim(place + 0.7, -0.8)
    axes.set_yticks([])
    low, high = axes.get_xlim()
    ticks = [tick for tick in NEAT if low <= tick <= high]
    while len(ticks) > 9:
        ticks = [tick for k, tick in enumerate(ticks) if (k - ticks.index(1.0)) % 2 == 0]
    axes.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.set_xticks([], minor=True)
    axes.set_xlabel("output as a multiple of the reference lot's", fontsize=9)
    sure = f"simultaneous {100 * found.level:g} % limits" if found.adjustment else "no limits: no catch was repeated"
    title = f"Ratio to {chosen.names[chosen.reference.name]}; {sure}" if len(found.lots) > 1 else "One lot, no ratios"
    dress(axes, title, strong=False)
    axes.spines["left"].set_visible(False)


def _figure(ratio: float) -> str:
    """A ratio, short whatever its size."""
    return f"{ratio:.2f}" if 0.01 <= ratio < 100 else "> 100" if ratio > 1 else "< 0.01"


def _left(axes: Axes, place: float, text: str, **style: Any) -> None:
    axes.text(-0.015, place, text, transform=axes.get_yaxis_transform(), ha="right", va="center", fontsize=8, **style)


def _right(axes: Axes, place: float, text: str, **style: Any) -> None:
    axes.text(1.03, place, text, transform=axes.get_yaxis_transform(), ha="left", va="center", fontsize=8, **style)


def _window(chosen: Chosen) -> tuple[float, float]:
    """Ratios to show: every estimate, and its limits and the new lot's as far as they are of use."""
    rows = chosen.rows
    seen = [1.0, *(row.ratio for row in rows)]
    ends = [end for row in rows for end in (row.lower, row.upper) if end is not None]
    ends += (_next(chosen.found) or ())[1:]
    widest = min(min(seen) * 0.9, max(WIDEST[0], min(seen) / 2)), max(max(seen) * 1.1, min(WIDEST[1], max(seen) * 2))
    low, high = max(min([*seen, *ends]) * 0.97, widest[0]), min(max([*seen, *ends]) * 1.03, widest[1])
    return min(low, 0.89), max(high, 1.12)


def _next(found: LotComparison) -> tuple[float, float, float] | None:
    """The average lot against the reference, and limits for a new one."""
    spread = found.spread
    if spread is None or spread.next_lower is None or spread.next_upper is None or spread.average_to_reference is None:
        return None
    average = spread.average_to_reference
    return average, spread.next_lower * average, spread.next_upper * average


def _row(axes: Axes, chosen: Chosen, row: Lot, place: float) -> None:
    reference = row.name == chosen.reference.name
    _left(axes, place, chosen.names[row.name], fontweight="bold" if row.unusual or reference else "normal")
    said = "reference" if reference else _figure(row.ratio)
    if row.lower is not None and row.upper is not None:
        start, stop = _inside(axes, row.lower, row.upper, place, "black")
        axes.plot([start, stop], [place, place], color="black", lw=1.3, solid_capstyle="butt", zorder=2)
        said += f" ({_figure(row.lower)} to {_figure(row.upper)})"
    mark, size = ("D", 7) if reference else ("*", 11) if row.unusual else ("o", 6)
    face = "white" if row.catches == 1 else "black" if reference else BLUE
    axes.plot([row.ratio], [place], mark, ms=size, mfc=face, mec="black", mew=1.0, clip_on=False, zorder=4)
    if row.at_setting is not None and not reference:
        said += f" at {row.at_setting}"
    said += ", one catch" if row.catches == 1 else ""
    _right(axes, place, said + (", unusual" if row.unusual else ""))


def _inside(axes: Axes, lower: float, upper: float, place: float, colour: str) -> tuple[float, float]:
    """Limits cut to the panel, with an arrow where they run off it."""
    low, high = axes.get_xlim()
    for beyond, at, mark in ((lower < low, low, "<"), (upper > high, high, ">")):
        if beyond:
            axes.plot([at], [place], mark, color=colour, ms=5, clip_on=False, zorder=3)
    return min(max(lower, low), high), max(min(upper, high), low)


def _new_lot(axes: Axes, found: LotComparison, place: float) -> None:
    axes.axhline(place - 0.5, color="black", lw=0.6)
    _left(axes, place, "a new lot", style="italic")
    limits = _next(found)
    if limits is None:
        _right(axes, place, "too few lots to say", style="italic")
        return
    average, lower, upper = limits
    ends = _inside(axes, lower, upper, place, GREY)
    axes.fill_between(ends, place - 0.28, place + 0.28, facecolor="#dddddd", edgecolor=GREY, hatch="////", lw=0.8)
    low, high = axes.get_xlim()
    if low < average < high:
        axes.axvline(average, color=GREY, lw=0.9, ls=":", zorder=1)
        top = axes.get_xaxis_transform()
        axes.text(average, 1.0, "average lot", transform=top, fontsize=7, color=GREY, ha="center", va="top")
    _right(axes, place, f"{_figure(average)} ({_figure(lower)} to {_figure(upper)})", style="italic")


def plot_seasons(axes: Axes, found: LotComparison) -> None:
    """Repeatability of each season with its limits, and how many catches it rests on."""
    table = () if found.seasons is None else found.seasons.table[-MOST_SEASONS:]
    none = " (x: none repeated)" if any(row.repeatability.cv is None for row in table) else ""
    dress(axes, f"Repeatability by season{none}", strong=False)
    axes.set_ylabel("per cent", fontsize=9)
    top, high = _top([row.repeatability for row in table]), axes.get_xaxis_transform()
    for place, row in enumerate(table):
        axes.text(place, 1.0, f"n {row.catches}", transform=high, ha="center", va="top", fontsize=7)
        known = row.repeatability
        if known.cv is None:
            axes.plot([place], [0], "x", color=GREY, ms=6, clip_on=False)
            continue
        upper = math.inf if known.cv_upper is None else 100 * known.cv_upper
        lower = 100 * (known.cv_lower or 0.0)
        axes.plot([place, place], [min(lower, top), min(upper, top)], color="black", lw=1.3, zorder=2)
        if upper > top:
            axes.plot([place], [top], "^", color="black", ms=5, clip_on=False)
        axes.plot([place], [min(100 * known.cv, top)], "o", ms=6, mfc=BLUE, mec="black", zorder=4)
    overall = 100 * (found.repeatability.cv or math.inf)
    if overall < top:
        axes.axhline(overall, color=GREY, lw=0.9, ls=":", zorder=1)
        axes.text(1.01, overall, "all lots", transform=axes.get_yaxis_transform(), va="center", fontsize=7, color=GREY)
    axes.set(xlim=(-0.6, max(len(table), 4) - 0.4), ylim=(0, top * 1.22))
    turn = 0 if len(table) <= 9 and max(len(row.season) for row in table) <= 8 else 30
    labels = distinct([row.season or "no season" for row in table], 16)
    axes.set_xticks(range(len(table)), labels, fontsize=8, rotation=turn, ha="right" if turn else "center")


def _top(rows: Sequence[Repeatability]) -> float:
    """Height of the strip: the widest limit that is of use, per cent."""
    known = [100 * row.cv for row in rows if row.cv is not None]
    if not known:
        return 10.0
    ends = [100 * row.cv_upper for row in rows if row.cv_upper is not None]
    return max(float(np.clip(max([*ends, *known]), 1.15 * max(known), 3 * max(known))), 0.1)
