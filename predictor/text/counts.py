"""Where a count of seeds is from, and how sure it is, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

from predictor.units import GRAMS_PER_POUND, Units

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def basis(sources: Sequence[str]) -> str:
    """The sources of a count of the table."""
    others = len(sources) - ("usda" in sources)
    if others == len(sources):
        if others > 1:
            return f"{_NUMBERS[others]} sources"
        return {"memory": "from memory", "pages": "pages of seed houses"}.get(sources[0], "one source alone")
    if others == 0:
        return "USDA table alone"
    return f"USDA table and {_NUMBERS[others]} other source{'s' if others > 1 else ''}"


def basis_and_range(sources: Sequence[str], low: float | None, high: float | None) -> str:
    """The sources of a count, and the range of their counts where they have one."""
    if low is None or high is None or math.isnan(low + high):
        return basis(sources)
    least, most = f"{low:,.0f}", f"{high:,.0f}"
    return f"{basis(sources)}: {least}" if least == most else f"{basis(sources)}: {least} to {most}"


def seeds_per(seeds_per_lb: float, units: Units) -> str:
    """A count of seeds, in the weight of these units.

    >>> seeds_per(259000.0, "us"), seeds_per(259000.0, "metric")
    ('259,000 seeds per pound', '571 seeds per gram')
    """
    return f"{seeds_per_lb * pounds(units):,.0f} seeds per {'pound' if units == 'us' else 'gram'}"


def pounds(units: Units) -> float:
    """The weight, in pounds, in which people count seeds: a pound, or a gram."""
    return 1.0 if units == "us" else 1 / GRAMS_PER_POUND
