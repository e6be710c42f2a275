"""Openings as the control shows them."""

from __future__ import annotations

import math

from predictor.domain.control import Control, Lever
from predictor.format import decimals_of


def readings(control: Control, middle: float, *limits: float) -> tuple[str, ...]:
    """A setting and its limits, the lower reading first: lever readings to a tenth of a step, or drive ratios."""
    if not isinstance(control, Lever):
        return tuple(_shown(each, 4) for each in (middle, *limits))
    decimals = decimals_of(control.step) + 1
    found = [control.opening(each) if math.isfinite(each) else each for each in (middle, *limits)]
    ends = found[1:] if control.more_is == "higher" else [-each if math.isinf(each) else each for each in found[:0:-1]]
    return tuple(_shown(each, decimals) for each in (found[0], *ends))


def _shown(value: float, decimals: int) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else "none" if math.isnan(value) else "no limit"
