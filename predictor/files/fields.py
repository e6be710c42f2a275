"""Reads the fields of a drill file, one from each table `[[field]]`."""

from typing import Any

from predictor.domain.fields import Field
from predictor.files.controls import is_tables
from predictor.files.toml import Keys, shown
from predictor.format import plain
from predictor.numbers import Range
from predictor.units import SQUARE_METRES, SQUARE_METRES_PER_SQUARE_FOOT

# From a small plot to more than a drill plants in a season; common practice. What lies outside is a slip, or is in
# another unit.
AREAS = {"ac": Range(0.001, 10_000), "ha": Range(0.0004, 4_000)}

_AREAS = {f"area_{unit}": unit for unit in SQUARE_METRES}
_SMALLER = {"ac": ("square feet", SQUARE_METRES_PER_SQUARE_FOOT), "ha": ("square metres", 1.0)}


def read_fields(top: Keys) -> tuple[Field, ...]:
    """The fields of a file in its order; a problem is noted for what is wrong."""
    entries = top.data.get("field")
    if entries is None:
        return ()
    if not is_tables(entries):
        top.wrong("field", "Write [[field]] on a line of its own for each field, its keys below.")
        return ()
    fields: list[Field] = []
    seen: set[str] = set()
    for number, entry in enumerate(entries, 1):
        label = entry["name"] if isinstance(entry.get("name"), str) else f"number {number}"
        keys = top.inner(entry, {"name", *_AREAS}, f"field {label}, ", f"field.{number}.")
        name = keys.text("name")
        if name and name.lower() in seen:
            keys.wrong("name", f"Two fields are called {name}. Give each its own name.")
        seen.add(name.lower())
        area = _area(keys)
        if area == area and name:
            fields.append(Field(name, area))
    return tuple(fields)


def _area(keys: Keys) -> float:
    """Square metres of a field; NaN with a problem noted where they are not given once."""
    there = [key for key in _AREAS if key in keys.data]
    if len(there) != 1:
        found = "there is none" if not there else "there are both"
        keys.wrong(there[-1] if there else "area", f"Write exactly one of {' or '.join(_AREAS)}; {found}.")
        return float("nan")
    unit = _AREAS[there[0]]
    return keys.number(there[0], AREAS[unit], hint=_meant(unit, keys.data[there[0]])) * SQUARE_METRES[unit]


def _meant(unit: str, value: Any) -> str:
    """What an impossible area may have been meant to be."""
    words, size = _SMALLER[unit]
    if isinstance(value, (int, float)) and 0 < value < 1e15:
        area = float(f"{value * size / SQUARE_METRES[unit]:.6g}")
        if value > AREAS[unit].high and AREAS[unit].has(area):
            return f"Is {shown(value)} in {words}? Then write area_{unit} = {plain(area)}."
    return "Check the number and unit."
