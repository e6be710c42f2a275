"""Pictures of an audit: the line through the catches of a lot, and its residuals in small panels."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from predictor.audit.results import BoxAudit, Check, LotAudit, Residuals
from predictor.domain.control import Floats
from predictor.plots.style import BLUE, FAINT, GREY, ORANGE, PALE, dress, new_figure, short, told_apart
from predictor.text.audit import CHECKS, p_value, title

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure, SubFigure

WIDE, HIGH, LETTER = 6.4, 4.4, 9.0
# Standardised residuals shown at the least, either way; two of them hold 19 catches in 20.
REACH, USUAL = 3.0, 2.0


def plot_audit(lots: Sequence[LotAudit]) -> Figure:
    """Four panels a lot, for the lots that have a line."""
    shown = [each for each in lots if each.residuals is not None]
    figure = new_figure(WIDE, HIGH * len(shown) if shown else 0.6, dpi=150)
    if not shown:
        figure.text(0.5, 0.5, "No lot has a line to show.", ha="center", va="center")
        return figure
    for part, each in zip(figure.subfigures(len(shown), 1, squeeze=False)[:, 0], shown, strict=True):
        part.suptitle(short(title(each), 60), x=0.01, ha="left", fontsize=11, fontweight="bold")
        panels(each, part)
    return figure


def plot_lot(found: LotAudit) -> Figure:
    """Four panels of one lot."""
    figure = new_figure(WIDE, HIGH, dpi=150)
    panels(found, figure)
    return figure


def plot_seasons(found: BoxAudit) -> Figure:
    """Residuals of all lots of a box, season by season."""
    figure = new_figure(WIDE, 2.4, dpi=150)
    axes = figure.subplots()
    names = [name for name, _ in found.by_season]
    for place, (_, values) in enumerate(found.by_season):
        spread = np.linspace(-0.2, 0.2, len(values)) if len(values) > 1 else np.zeros(1)
        axes.plot(place + spread, values, "o", color=BLUE, ms=4, alpha=0.8)
        axes.plot([place - 0.3, place + 0.3], [float(np.mean(values))] * 2, color=ORANGE, lw=2)
    _zero(axes, np.concatenate([values for _, values in found.by_season]))
    axes.set_xticks(range(len(names)), [short(name, 12) for name in names], fontsize=LETTER)
    axes.set_xlim(-0.6, len(names) - 0.4)
    _dress(axes, _headline(found.season, "seasons"), "season", "residual")
    return figure


def panels(found: LotAudit, figure: Figure | SubFigure) -> None:
    """Output against setting, and residuals against setting, order and filling."""
    seen = found.residuals
    assert seen is not None
    (line, setting), (order, filling) = figure.subplots(2, 2)
    _line(line, found, seen)
    of = {each.name: each for each in found.checks}
    _residuals(setting, seen.opening, seen.value, _headline(of.get("setting"), "setting"), _unit(found))
    _residuals(order, seen.order + 1, seen.value, _headline(of.get("order"), "order"), "catch, in order")
    if np.isfinite(seen.fill).any():
        _residuals(filling, seen.fill, seen.value, _headline(of.get("filling"), "filling"), "filling of the box, %")
    else:
        filling.set_axis_off()
        filling.text(0.5, 0.5, "The filling of the box\nwas not recorded.", ha="center", va="center", fontsize=LETTER)


def _line(axes: Axes, found: LotAudit, seen: Residuals) -> None:
    """Catches, the line by catches alone, the target, and where the setting lies."""
    line, target = found.line, found.target_output
    assert line is not None
    assert target is not None
    low, high = float(seen.opening.min()), float(seen.opening.max())
    margin = 0.15 * (high - low)
    x = np.array([low - margin, high + margin])
    axes.plot(x, line.intercept + line.slope * x, color=BLUE, lw=1.6, zorder=2)
    axes.plot(*told_apart(seen.opening, seen.output), "o", color="black", ms=4, zorder=3)
    axes.axhline(target, color=GREY, lw=1, ls="--", zorder=1)
    axes.set_xlim(*x)
    # limits that run on end at the side of the panel
    ends = np.clip([line.setting_lower, line.setting_upper], *x)
    if line.shape != "two pieces":
        axes.plot(ends, [target, target], color=ORANGE, lw=4, solid_capstyle="butt", zorder=2)
    axes.set_ylim(0, None)
    _dress(axes, "Setting on target, with limits", _unit(found), "g per row per turn")


def _residuals(axes: Axes, x: Floats, value: Floats, heading: str, along: str) -> None:
    known = np.isfinite(x)
    axes.plot(*told_apart(x[known], value[known]), "o", color=BLUE, ms=4, zorder=3)
    _zero(axes, value)
    _dress(axes, heading, along, "residual")


def _zero(axes: Axes, value: Floats) -> None:
    """The lines that residuals are to lie about, and within."""
    reach = max(REACH, 1.1 * float(np.abs(value).max()))
    axes.axhspan(-USUAL, USUAL, color=PALE, lw=0, zorder=0)
    axes.axhline(0, color=GREY, lw=0.9, zorder=1)
    axes.set_ylim(-reach, reach)


def _headline(check: Check | None, name: str) -> str:
    """What a panel tests, and its p value."""
    known = CHECKS[name][0].upper() + CHECKS[name][1:]
    return f"{known}: not tested" if check is None or check.p is None else f"{known}: {p_value(check.p)}"


def _unit(found: LotAudit) -> str:
    return "opening of the lever" if found.scale == "setting" else "drive ratio"


def _dress(axes: Axes, heading: str, along: str, up: str) -> None:
    axes.set_xlabel(along, fontsize=LETTER, color=FAINT)
    axes.set_ylabel(up, fontsize=LETTER, color=FAINT)
    axes.tick_params(labelsize=LETTER)
    dress(axes, heading, strong=False)
