"""Amounts as they are typed in the field: bulk seed, areas and lengths, in the drill's units if none are named."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from predictor.files.entry import pointed
from predictor.numbers import Range, parse_number, quoted
from predictor.units import AREA_UNIT, GRAMS, METRES, SQUARE_METRES, WEIGHT_UNIT, Units

_UNIT = re.compile(r"(.*?[0-9.])\s*([^\W\d_]+)\.?", re.DOTALL).fullmatch
# What people call each unit.
_WEIGHTS = {"g": ("g", "gram", "grams"), "oz": ("oz", "ounce", "ounces"), "kg": ("kg", "kilo", "kilos", "kilograms")}
_WEIGHTS |= {"lb": ("lb", "lbs", "pound", "pounds")}
_AREAS = {"ac": ("ac", "acre", "acres"), "ha": ("ha", "hectare", "hectares")}
_LENGTHS = {"ft": ("ft", "foot", "feet"), "m": ("m", "metre", "metres", "meter", "meters")}
LENGTH_UNIT: dict[str, str] = {"us": "ft", "metric": "m"}


def read_bulk(text: str, units: Units, most_g: float = 5e7) -> float:
    """Grams of bulk seed; several weights may be joined by a plus sign, as bags and refills are.

    >>> round(read_bulk("40", "us"), 1), read_bulk("25 + 12.5", "metric"), round(read_bulk("11 lb + 9 oz", "us"), 1)
    (18143.7, 37500.0, 5244.7)
    """
    unit, allowed = WEIGHT_UNIT[units], Range(0, most_g)
    grams = 0.0
    for piece in text.split("+"):
        one = _read(piece, GRAMS, _WEIGHTS, unit, "a weight")
        grams += _within(one, allowed, piece, GRAMS[unit], unit, "a weight")
    return _within(grams, allowed, text, GRAMS[unit], unit, "a weight")


def read_area(text: str, units: Units, most_m2: float = 2e7) -> float:
    """Square metres of an area above 0.

    >>> round(read_area("2.1", "us")), read_area("0,85 ha", "us")
    (8498, 8500.0)
    """
    unit = AREA_UNIT[units]
    value = _read(text, SQUARE_METRES, _AREAS, unit, "an area")
    return _within(value, Range(0, most_m2, above=True), text, SQUARE_METRES[unit], unit, "an area")


def read_ground(text: str, units: Units) -> tuple[float, float]:
    """The ground of a check: an area, or a distance with its unit; NaN for the other.

    >>> read_ground("0.85 ha", "us"), read_ground("400 m", "metric")
    ((8500.0, nan), (nan, 400.0))
    """
    found = _UNIT(text.strip())
    if found and any(found[2].lower() in names for names in _LENGTHS.values()):
        return math.nan, read_length(text, units, what="a distance")
    return read_area(text, units), math.nan


def read_length(text: str, units: Units, most_m: float = 1e6, what: str = "a length") -> float:
    """Metres of a length above 0.

    >>> read_length("20", "us"), read_length("6 m", "us")
    (6.096, 6.0)
    """
    unit = LENGTH_UNIT[units]
    value = _read(text, METRES, _LENGTHS, unit, what)
    return _within(value, Range(0, most_m, above=True), text, METRES[unit], unit, what)


def _read(
    text: str, factors: Mapping[str, float], names: Mapping[str, tuple[str, ...]], usual: str, what: str
) -> float:
    """An amount in the common unit."""
    found = _UNIT(text.strip())
    number, word = found.groups() if found else (text.strip(), usual)
    unit = next((name for name, known in names.items() if word.lower() in known), None)
    if unit is None:
        raise ValueError(f"{quoted(text.strip())} is not {what}. Write it in one of these units: {', '.join(names)}.")
    return parse_number(pointed(number), what=what) * factors[unit]


def _within(value: float, allowed: Range, text: str, factor: float, unit: str, what: str) -> float:
    """The value, where it is allowed; the range is said in the drill's unit."""
    if not allowed.has(value):
        shown = Range(allowed.low, float(f"{allowed.high / factor:.3g}"), allowed.above)
        raise ValueError(f"{quoted(text.strip())} is out of range: {what} must be {shown} {unit}.")
    return value
