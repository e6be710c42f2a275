"""The axis of settings: ticks only where the control has one, and names for as many as there is room for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from predictor.domain.control import Floats, Lever, Setting, Sprockets
from predictor.domain.drives import OnDrive
from predictor.plots.style import text_width

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from predictor.domain.control import Control

# Ticks closer than this, in points, are a grey patch; names are so far apart.
LEAST_APART, APART = 2.5, 5.0


def settings_axis(axes: Axes, control: Control | None, advised: Setting | None = None, size: float = 9.0) -> None:
    """Label the axis of openings with settings, as the control shows them. Call it after the limits are set.

    Ticks stand only where the control has a setting, as many as there is room for. The advised one is always there.
    """
    if control is None:
        axes.set_xlabel("setting")
        return
    box = axes.get_window_extent()
    wide = box.width / axes.figure.dpi * 72
    low, high = axes.get_xlim()
    openings = control.openings[(control.openings >= low) & (control.openings <= high)]
    labels = [_reading(control, each) for each in openings.tolist()]
    place = (openings - low) / (high - low) * wide
    taken, kept = [], list[tuple[float, str]]()
    if advised is not None:
        at, text = (advised.opening - low) / (high - low) * wide, _reading(control, advised.opening)
        taken.append((at, text_width(text, size + 1, bold=True)))
        kept.append((advised.opening, text))
    for k in _regular(
        control, openings, place, max((text_width(each, size) for each in labels[-1:] + labels[:1]), default=0.0)
    ):
        half = text_width(labels[k], size)
        if all(abs(place[k] - at) >= (half + other) / 2 + 4 for at, other in taken):
            taken.append((float(place[k]), half))
            kept.append((float(openings[k]), labels[k]))
    axes.set_xticks([each for each, _ in kept], [text for _, text in kept], fontsize=size)
    close = len(openings) > 1 and wide * float(np.diff(openings).min()) / (high - low) < LEAST_APART
    axes.set_xticks([] if close else openings, minor=True)
    if advised is not None:
        axes.get_xticklabels()[0].set(fontweight="bold", fontsize=size + 1)
    what = "chain position, spaced by its drive ratio" if isinstance(control, Sprockets) else "lever reading"
    less = isinstance(control, Lever) and control.more_is == "lower"
    on = f" on {control.drive}" if isinstance(control, OnDrive) else ""
    axes.set_xlabel(f"{what}{on}{' (lower gives more)' if less else ''}", fontsize=size)


def _reading(control: Control, opening: float) -> str:
    """A setting as the control shows it, without its drive."""
    text = control.at(opening).text
    return text.removesuffix(f" on {control.drive}") if isinstance(control, OnDrive) else text


def _regular(control: Control, openings: Floats, place: Floats, widest: float) -> list[int]:
    """Which settings to name: every so many of a lever, so that the readings are round; of a chain each."""
    if not isinstance(control, Lever) or len(openings) < 2:
        return list(range(len(openings)))
    readings = np.array([control.opening(each) for each in openings.tolist()])
    apart = float(place[1] - place[0])
    for steps in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000):
        if apart * steps >= widest + 8:
            break
    number = np.round(readings / control.step)
    even = np.abs(readings / control.step - number).max() < 1e-6  # whether 0 would be a reading of the lever
    return np.flatnonzero((number if even else np.arange(len(readings))) % steps == 0).tolist()
