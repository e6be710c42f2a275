"""The panel of a catch picture: zone, curve, bar, catches and their names. Lengths of names and marks are points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from predictor.advice.limits import band
from predictor.domain.control import Floats
from predictor.domain.trials import Flags
from predictor.format import plain, weight
from predictor.plots.labels import Room, beside, cut, spread_out, text_height
from predictor.plots.style import (
    BAND,
    BLUE,
    BOTH,
    DARK,
    GREY,
    ORANGE,
    ORANGE_TEXT,
    ZONE,
    text_width,
    told_apart,
)
from predictor.plots.ticks import settings_axis
from predictor.plots.view import View
from predictor.text.caught import doubt, left_out

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Points: letters, and the marks of catches, of the diamond and of the ends of the bar.
SMALL, USUAL = 9.0, 10.0
DOT, DIAMOND, RING, BAR, ENDS = 6.5, 10.5, 13.0, 5.0, 18.0
# Left-out catches named at most, and points to the longest name; the foot of the picture counts them all.
MOST_NAMED, LONGEST = 8, 130.0
# Points of a curve; of more catches than so many the dots are small, and at most one is drawn in each cell of a grid.
FEW, MANY, FEW_CELLS = 33, 200, 60
# Points from the lower edge to a catch that lies beyond it: the bracket of the ideal setting is below.
EDGE = 27.0
# Points: room for the names of the axes, on the left; lines of text at the foot.
LEFT, MOST_FOOT = 46.0, 3
NEXT = "95 of 100 catches"


@dataclass(frozen=True)
class Panel:
    """The axes of a picture, where they stand, and what is in them."""

    axes: Axes
    view: View
    room: Room

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Where an opening and a weight are, points from the lower left corner."""
        view = self.view
        across = (x - view.low) / (view.high - view.low) * self.room.wide
        return across, (y - view.bottom) / (view.top - view.bottom) * self.room.high

    def write(self, text: str, x: float, y: float, **style: Any) -> None:
        """A name with its lower left corner at a place."""
        style = {"fontsize": SMALL, "color": DARK, "ha": "left", "va": "bottom", "annotation_clip": False, **style}
        place: dict[str, Any] = {"xycoords": "axes fraction", "textcoords": "offset points"}
        self.axes.annotate(text, (0, 0), xytext=(round(x, 1), round(y, 1)), zorder=8, linespacing=1.1, **place, **style)


@dataclass(frozen=True)
class Name:
    """A name at the right end of the panel."""

    height: float  # The weight it belongs to
    text: str
    colour: str
    bold: bool = False
    start: float | None = None  # Opening at which its line ends, where that is not the end of the panel


def draw(axes: Axes, view: View) -> None:
    """Everything but the title."""
    axes.set(xlim=(view.low, view.high), ylim=(view.bottom, view.top))
    box, points = axes.get_window_extent(), 72 / axes.figure.dpi
    panel = Panel(axes, view, Room(box.width * points, box.height * points))
    _zone(panel)
    x, mean, outer = _curve(panel)
    _setting(panel)
    _ideal(panel)
    unnamed = _catches(panel)
    _name_curves(panel, x, mean, outer)
    _name_right(panel)
    _frame(panel, unnamed)
    settings_axis(axes, view.advice.control, view.setting, SMALL)


def _zone(panel: Panel) -> None:
    """The target zone, pale, with its edges and the target as lines."""
    axes, (low, high) = panel.axes, panel.view.zone
    axes.axhspan(low, high, color=ZONE, lw=0, zorder=0)
    for height, width in ((low, 0.8), (high, 0.8), (panel.view.advice.target_catch_g, 1.8)):
        axes.axhline(height, color=ORANGE, lw=width, zorder=1.5)


def _curve(panel: Panel) -> tuple[Floats, Floats, tuple[Floats, Floats] | None]:
    """The mean with its limits as a band, and the limits of the next catch as dashes; what is drawn, for the names."""
    axes, view, advice = panel.axes, panel.view, panel.view.advice
    if advice.curve is None:
        return np.empty(0), np.empty(0), None
    x = np.linspace(view.low, view.high, FEW)
    x = x[(x > advice.control.lowest_opening) & (x <= advice.control.openings[-1] * (1 + 1e-9) + 1e-9)]
    lower, upper = band(advice, x)
    mean = np.maximum(advice.curve.mean(x), 0.0) * advice.next_turns * advice.next_rows
    axes.fill_between(x, lower, upper, color=BAND, lw=0, zorder=0.5)
    low, high = view.zone
    both = np.maximum(lower, low), np.maximum(np.minimum(upper, high), np.maximum(lower, low))
    axes.fill_between(x, *both, where=(lower < high) & (upper > low), color=BOTH, lw=0, zorder=0.6, interpolate=True)
    outer = advice.next_weights(0.025, x), advice.next_weights(0.975, x)
    for each in (lower, upper):
        axes.plot(x, each, color=BLUE, lw=0.8, zorder=1.6)
    for each in outer:
        axes.plot(x, each, color=BLUE, lw=1.0, dashes=(4, 3), zorder=1.6)
    axes.plot(x, mean, color=BLUE, lw=2.2, zorder=2)
    for line in (mean, *outer, lower, upper):
        panel.room.lines += [panel.at(a, b) for a, b in zip(x.tolist(), line.tolist(), strict=True)]
    return x, mean, outer


def _setting(panel: Panel) -> None:
    """The advised setting: a line to its tick, the bar of the mean, solid inside the target zone, and the diamond."""
    axes, view = panel.axes, panel.view
    if view.setting is None:
        return
    x, (low, high) = view.setting.opening, view.zone
    if view.bar is None:
        axes.plot([x, x], [view.bottom, view.top], color=DARK, lw=0.8, zorder=2.2)
        return
    axes.plot([x, x], [view.bottom, view.mean], color=DARK, lw=0.8, zorder=2.2)
    start, stop = view.bar
    axes.plot([x, x], [start, stop], color=DARK, lw=BAR + 1.6, solid_capstyle="butt", zorder=3)
    for first, last in ((start, min(stop, low)), (max(start, high), stop)):
        if first < last:
            axes.plot([x, x], [first, last], color="white", lw=BAR - 0.6, solid_capstyle="butt", zorder=3.1)
    ends = [each for each in (start, stop) if view.bottom < each < view.top]
    axes.plot([x] * len(ends), ends, "_", color=DARK, ms=ENDS, mew=1.6, zorder=3.4)
    style: dict[str, Any] = {"color": DARK, "ms": DIAMOND, "mfc": "white", "mew": 1.8, "zorder": 3.3}
    axes.plot([x], [view.mean], "D", **style)
    across, up = panel.at(x, view.mean)
    panel.room.mark(across, up, DIAMOND * 0.75)
    for height in np.linspace(max(start, view.bottom), min(stop, view.top), 12).tolist():
        panel.room.mark(*panel.at(x, height), 4.0)


def _ideal(panel: Panel) -> None:
    """Where the ideal setting lies, as a bracket at the foot of the panel."""
    axes, view, advice = panel.axes, panel.view, panel.view.advice
    if advice.curve is None:
        return
    found = advice.curve.setting_for(advice.target_output)
    start, stop = max(found.lower, view.low), min(found.upper, view.high)
    if not start < stop:
        return
    height = view.bottom + 11 / panel.room.high * (view.top - view.bottom)
    axes.plot([start, stop], [height, height], color=DARK, lw=1.4, zorder=2.3)
    ends = [each for each in (found.lower, found.upper) if view.low < each < view.high]
    axes.plot(ends, [height] * len(ends), "|", color=DARK, ms=8, mew=1.4, zorder=2.3)
    (left, up), (right, _) = panel.at(start, height), panel.at(stop, height)
    panel.room.solid.append((left, up - 4, right, up + 4))
    text = "ideal setting, 95 in 100"
    wide, high = text_width(text, SMALL), text_height(text, SMALL)
    middle = (left + right - wide) / 2
    tries = [(right + 6, up - high / 2), (left - 6 - wide, up - high / 2)]
    tries += [(each, up + 5) for each in (middle, left, right - wide, left - wide, right)]
    if view.setting is not None:  # beside the line to its tick
        across, _ = panel.at(view.setting.opening, height)
        panel.room.lines += [(across, each) for each in np.linspace(0, panel.room.high, 60).tolist()]
        tries += [(across + 5, up + 5), (across - 5 - wide, up + 5)]
    place = panel.room.best(tries, wide, high)
    if place is not None:
        panel.write(text, *place)


def _catches(panel: Panel) -> list[str]:
    """Every catch, and the names of those that do not count or are in doubt; for the foot, what has no name."""
    found, view = panel.view.caught, panel.view
    unit = (view.top - view.bottom) / panel.room.high
    beyond = np.where(found.grams > view.top - 5 * unit, 1.0, 0.0) - (found.grams < view.bottom + 5 * unit)
    ends = np.where(beyond > 0, view.top - 0.5 * EDGE * unit, view.bottom + EDGE * unit)
    shown = np.where(beyond != 0, ends, found.grams)
    doubted = np.isin(np.arange(len(shown)), list(found.doubts))
    many = len(shown) > MANY
    small = 0.6 if many else 1.0
    dot: dict[str, Any] = {"color": BLUE, "ms": DOT * small, "mec": "white", "mew": 0.8 * small}
    layers: list[tuple[Flags, str, dict[str, Any]]] = [
        (found.used, "o", {**dot, "zorder": 1.4 if many else 4}),
        (~found.used, "x", {"color": GREY, "ms": DOT, "mew": 1.8, "zorder": 4}),
        (doubted, "o", {"color": DARK, "ms": RING, "mfc": "white", "mew": 1.6, "zorder": 3.8}),
    ]
    for mask, mark, style in layers:
        if mask.any():
            panel.axes.plot(*told_apart(found.opening[mask], shown[mask], FEW_CELLS), mark, ls="none", **style)
    for way, mark in ((1, "^"), (-1, "v")):  # which way a catch lies that is drawn at the edge
        off = beyond == way
        if off.any():
            height = shown[off] + way * (DOT + 1) * unit
            panel.axes.plot(found.opening[off], height, mark, ms=4, color=DARK, zorder=4)
    places = [panel.at(a, b) for a, b in zip(found.opening.tolist(), shown.tolist(), strict=True)]
    for i in np.unique(np.round(places), axis=0, return_index=True)[1].tolist() if places else []:
        across, up = places[i]
        panel.room.mark(across, up, (RING if doubted[i] else DOT) / 2 + 0.5)
    return [
        *_name_doubts(panel, places),
        *_name_left_out(panel, places, np.flatnonzero(~found.used & ~doubted), beyond),
    ]


def _name_doubts(panel: Panel, places: list[tuple[float, float]]) -> list[str]:
    """The lines of the catches in doubt beside one of them; those that find no room there."""
    found, left = panel.view.caught, []
    for each in dict.fromkeys(found.doubts.values()):
        text = doubt(panel.view.advice, found, each)
        mine = [i for i, other in found.doubts.items() if other is each]
        if not any(_name(panel, text, places[i], RING / 2 + 2, bold=True) for i in mine):
            left.append(f"Ringed: {text}.")
    return left


def _name_left_out(
    panel: Panel, places: list[tuple[float, float]], left: npt.NDArray[np.int_], beyond: Floats
) -> list[str]:
    """The reasons beside the catches left out, the last ones first; how many have none."""
    found, named = panel.view.caught, 0
    for i in left[::-1][:MOST_NAMED].tolist():
        text = left_out(panel.view.advice, found.trials, i)
        if beyond[i] and found.grams[i] > 0:
            text = f"{weight(float(found.grams[i]), panel.view.advice.step_g)} g: {text}"
        named += _name(panel, text, places[i], DOT / 2 + 3)
    more = len(left) - named
    return [f"\N{MULTIPLICATION SIGN} {more:,}{' more' if named else ''} left out, the log says why."] if more else []


def _name(panel: Panel, text: str, place: tuple[float, float], away: float, *, bold: bool = False) -> bool:
    """A name beside a mark where there is room; whether there was."""
    text = cut(text, SMALL, LONGEST, bold=bold)
    wide, high = text_width(text, SMALL, bold=bold) + 2, text_height(text, SMALL)
    corner = panel.room.best(beside(*place, wide, high, away), wide, high)
    if corner is None:
        return False
    panel.write(text, *corner, fontweight="bold" if bold else "normal")
    return True


def _name_curves(panel: Panel, x: Floats, mean: Floats, outer: tuple[Floats, Floats] | None) -> None:
    """The names of lines that leave the panel before its right end, on the lines."""
    if outer is None:
        return
    right = {each.text for each in right_names(panel.view)}
    for text, line, bold in (("mean", mean, True), (NEXT, outer[1], False)):
        if text in right:
            continue
        wide, high = text_width(text, SMALL, bold=bold) + 4, text_height(text, SMALL)
        points = [panel.at(a, b) for a, b in zip(x.tolist(), line.tolist(), strict=True)]
        corner = panel.room.best([(a - wide / 2, b - high / 2) for a, b in points[::-1]], wide, high)
        if corner is not None:
            style = {"fontweight": "bold" if bold else "normal", "bbox": {"fc": "white", "lw": 0, "pad": 0.6}}
            panel.write(text, corner[0] + 2, corner[1], color=BLUE, **style)


def right_names(view: View) -> list[Name]:
    """What is named at the right end: the target zone, and the lines that get there."""
    advice, step = view.advice, view.advice.step_g
    low, high = view.zone
    share = plain(100 * advice.tolerance)
    names = [
        Name(low, f"\N{MINUS SIGN}{share} %  {weight(low, step)} g", ORANGE_TEXT),
        Name(advice.target_catch_g, f"target {weight(advice.target_catch_g, step)} g", ORANGE_TEXT, bold=True),
        Name(high, f"+{share} %  {weight(high, step)} g", ORANGE_TEXT),
    ]
    end = min(view.high, float(advice.control.openings[-1]))
    if advice.curve is None:
        return names
    mean = float(advice.curve.mean(end)) * advice.next_turns * advice.next_rows
    lower, upper = advice.next_weights([0.025, 0.975], end).tolist()
    if view.bottom < mean < view.top:
        names.append(Name(mean, "mean", BLUE, bold=True, start=end))
    outer = [each for each in (upper, lower) if view.bottom < each < view.top]
    return [*names, *(Name(each, NEXT, BLUE, start=end) for each in outer[:1])]


def _name_right(panel: Panel) -> None:
    """The names at the right end, moved apart, each with a line to what it belongs to."""
    names = sorted(right_names(panel.view), key=lambda each: each.height)
    starts = [panel.at(0, each.height)[1] for each in names]
    gap = text_height("", SMALL) + 1
    for name, start, place in zip(names, starts, spread_out(starts, gap, 4, panel.room.high - 4), strict=True):
        line: dict[str, Any] = {"color": name.colour, "lw": 0.8, "clip_on": False, "transform": panel.axes.transAxes}
        wide, high = panel.room.wide, panel.room.high
        first = 1.0 if name.start is None else panel.at(name.start, 0)[0] / wide
        panel.axes.plot([first, 1 + 8 / wide], [start / high, place / high], **line)
        style = {"color": name.colour, "fontweight": "bold" if name.bold else "normal", "va": "center"}
        panel.write(name.text, wide + 10, place, **style)


def _frame(panel: Panel, unnamed: list[str]) -> None:
    """Axes, and at the foot what the bar says and what has no name."""
    from matplotlib.ticker import MaxNLocator

    axes, advice = panel.axes, panel.view.advice
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_ylabel(f"grams in {panel.view.answer.made}", fontsize=SMALL)
    heights = MaxNLocator(6, steps=[1, 2, 2.5, 5, 10], min_n_ticks=3).tick_values(panel.view.bottom, panel.view.top)
    axes.set_yticks([each for each in heights if max(panel.view.bottom, 0) <= each <= panel.view.top])
    axes.tick_params(labelsize=SMALL, which="both")
    axes.ticklabel_format(axis="y", style="plain", useOffset=False)
    sure = plain(100 * advice.confidence)
    rows = "all rows" if advice.whole_drill else "these rows"
    bar = [f"Band and bar: mean of {rows}, {sure} in 100. Bar inside the zone: sure enough."]
    for k, text in enumerate([*(bar if panel.view.bar else []), *unnamed][:MOST_FOOT]):
        panel.write(text, 8 - LEFT, -47 - 11.5 * k, color=GREY, va="center")
