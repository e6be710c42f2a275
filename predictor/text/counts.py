"""Where a count of seeds is from, and how sure it is, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

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
    return f"{basis(sources)}: {low:,.0f} to {high:,.0f}"
