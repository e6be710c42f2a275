"""Areas and fields, in words."""

from __future__ import annotations

from collections.abc import Sequence

from predictor.domain.fields import Field
from predictor.format import count, plain
from predictor.units import AREA_UNIT, SQUARE_METRES, Units


def area(area_m2: float, units: Units) -> str:
    """An area with its unit, to a hundredth, and a small one to three figures.

    >>> area(48_562.27, "us"), area(40.0, "metric")
    ('12 ac', '0.004 ha')
    """
    return f"{_number(area_m2, units)} {AREA_UNIT[units]}"


def fields_area(fields: Sequence[Field], units: Units) -> str:
    """The area of some fields, and how it adds up.

    >>> north, south = Field("north", 48_562.27), Field("south", 32_374.85)
    >>> fields_area([north, south], "us"), fields_area([north], "us")
    ('12 + 8 = 20 ac in 2 fields', '12 ac in field north')
    >>> fields_area([north, south], "metric")
    '4.8562 + 3.2375 = 8.0937 ha in 2 fields'
    """
    if len(fields) == 1:
        return f"{area(fields[0].area_m2, units)} in field {fields[0].name}"
    unit = AREA_UNIT[units]
    areas = [each.area_m2 / SQUARE_METRES[unit] for each in fields]
    # areas in the other unit may not add up as they are rounded: then they get more digits
    digits = next((k for k in range(2, 5) if round(sum(round(each, k) for each in areas) - sum(areas), k) == 0), 2)
    *parts, total = (plain(round(each, digits)) for each in (*areas, sum(areas)))
    return f"{' + '.join(parts)} = {total} {unit} in {count(len(fields), 'field')}"


def _number(area_m2: float, units: Units) -> str:
    value = area_m2 / SQUARE_METRES[AREA_UNIT[units]]
    return plain(round(value, 2)) if value >= 1 else f"{value:.3g}"
