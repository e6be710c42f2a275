"""One picture for each kind of result, drawn into axes."""

from __future__ import annotations

from functools import singledispatch
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@singledispatch
def plot(result: object, axes: Axes | None = None) -> Axes:
    """Draw a result into axes, or into those of a new figure."""
    raise TypeError(f"There is no picture of {type(result).__name__}.")
