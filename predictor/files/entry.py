"""What is typed at the drill: weights with units and sums, and the questions a slip raises."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from predictor.domain.control import Lever, read_setting
from predictor.domain.drill import SeedBox
from predictor.files.trials import LARGEST_CATCH_G
from predictor.numbers import parse_number, quoted
from predictor.units import GRAMS

_UNIT = re.compile(r"(.*?)\s*(g|grams?|oz|ounces?|lbs?|pounds?|kg)\.?", re.IGNORECASE).fullmatch
_NAMES = {"g": "g", "gram": "g", "grams": "g", "oz": "oz", "ounce": "oz", "ounces": "oz", "kg": "kg"}
_NAMES |= dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb")
# Catches of a lot this close together are one season, over a new year too.
SAME_SEASON_DAYS = 60
# A weight this many times what was to be expected, or as many times less, is asked about.
SLIP = 2.0


@dataclass(frozen=True)
class Weight:
    """A weight as it was typed, net of the container."""

    grams: float  # Net, all parts together
    parts: tuple[float, ...]  # Net grams of each part; one where a single weight was typed
    tare_g: float  # Taken off in all, grams


def read_weight(text: str, *, unit: str = "g", tare_g: float = 0.0, decimal: str = ".") -> Weight:
    """A weight such as `61.2`, `2.1 oz`, `0.13 lb` or `61.2+59.8+60.4`."""
    pieces = [piece.strip() for piece in text.strip().split("+")]
    split = [found.groups() if (found := _UNIT(piece)) else (piece, "") for piece in pieces]
    last = _NAMES[split[-1][1].lower()] if split[-1][1] else unit
    parts = []
    for number, name in split:
        value = parse_number(number, decimal=decimal, what="a weight")
        grams = value * GRAMS[_NAMES[name.lower()] if name else last]
        if grams < 0:
            raise ValueError(f"{quoted(number)} is below zero. Weigh again.")
        if grams > LARGEST_CATCH_G:
            raise ValueError(f"{quoted(text)} is more than a tonne. Check the unit.")
        if grams < tare_g:
            raise ValueError(f"{grams:.4g} g is less than the empty container of {tare_g:.4g} g. Check both.")
        parts.append(round(grams - tare_g, 9))
    return Weight(round(sum(parts), 9), tuple(parts), tare_g * len(parts))


def setting_of(text: str, box: SeedBox, decimal: str = ".") -> str:
    """A setting as the control shows it."""
    return read_setting(text.strip(), box.control, box.name, decimal=decimal).text


def questions(
    box: SeedBox,
    setting: str,
    weight: Weight,
    *,
    expected_g: tuple[float, float] | None,
    last: tuple[str, float] | None,
    size: str = "",
) -> list[str]:
    """What looks like a slip, as questions to be answered with yes or no."""
    found = []
    if expected_g is not None and weight.grams > 0:
        low, high = expected_g
        middle = float(np.sqrt(max(low, 1e-9) * high))
        if weight.grams > max(high, middle * SLIP) or weight.grams < min(low, middle / SLIP):
            text = f"{weight.grams:.5g} g is far from the {low:.3g} to {high:.3g} g expected at {setting}{size}."
            for factor in (10, 0.1, 100, 0.01):
                if low <= weight.grams / factor <= high:
                    text += f" If {weight.grams / factor:.5g} was meant, answer n."
                    break
            found.append(f"{text} Keep {weight.grams:.5g} g?")
    if weight.grams == 0:
        found.append("Nothing came out? It is kept, and left out of every curve. Keep 0 g?")
    control = box.control
    if isinstance(control, Lever) and control.opening(float(setting)) not in control.openings:
        found.append(f"The lever of box {box.name} has steps of {control.step:g}. Keep {setting}?")
    if last is not None and last[0] == setting and abs(last[1] - weight.grams) < 1e-9 and weight.grams > 0:
        found.append(f"The last catch was {weight.grams:.5g} g at {setting} too. Is this another one?")
    return found
