"""The data of a fit."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple, Self, TypeVar

import numpy as np

from predictor.curves.base import Curve, Noise
from predictor.domain.arguments import ANY, NOT_NEGATIVE, POSITIVE, SMALLEST, beyond
from predictor.domain.control import Floats
from predictor.errors import InputError
from predictor.numbers import Range

Fitted = TypeVar("Fitted", bound=Curve)
# A full box is 0.5 above half, and one filled to twice its height 1.5.
FILLING = Range(-0.5, 1.5)


class Inside(NamedTuple):
    """How the parts of single catches differ among themselves: rows, or parts of equal turns.

    `square` is a sum of squares of log weights about their catch's mean, on `df` degrees of freedom. It is scaled so
    that square / df estimates the variance of an ordinary catch, were all of its noise independent between the parts.
    `floor` is what the resolution of the scale adds to that variance.
    """

    square: float
    df: float
    floor: float = 0.0

    def log_likelihood(self, variance: Floats) -> Floats:
        """Log likelihood of variances of an ordinary catch, up to a constant."""
        total = variance + self.floor
        return np.asarray(-0.5 * (self.df * np.log(total) + self.square / total))


def _taken(value: float, allowed: Range) -> bool:
    """Whether a fit can take a number."""
    return allowed.has(value) and not beyond(value, allowed)


@dataclass(frozen=True, eq=False)
class Catches:
    """Catches to fit a curve to; n catches, all arrays of shape (n,)."""

    settings: Floats
    outputs: Floats
    weights: Floats  # How many ordinary catches each is as long as, above 0
    noise: Noise = "proportional"
    fill: Floats | None = None  # Filling above half, as a fraction; None where it is not in the model
    fill_prior: tuple[float, float] = (0.0, 1.0)  # Mean and spread of the log output gained from empty to full
    reading: Floats | None = None  # Standard uncertainty of reading each output, in the unit of the noise
    rows: Inside | None = None
    parts: Inside | None = None

    def __post_init__(self) -> None:
        x, y, w, fill, reading = self.settings, self.outputs, self.weights, self.fill, self.reading
        if x.ndim != 1 or x.shape != y.shape:
            raise InputError(f"settings and outputs must be two rows of equal length; got {x.shape} and {y.shape}.")
        for name, values, least in (("settings", x, ANY), ("outputs", y, ANY), ("weights", w, POSITIVE),
                                    ("fill", fill, FILLING), ("reading", reading, NOT_NEGATIVE)):  # fmt: skip
            if values is not None and values.shape != x.shape:
                raise InputError(f"{name} must be one number for each catch, {len(x)}; got {values.shape}.")
            wrong = [] if values is None else [each for each in values.tolist() if not _taken(each, least)]
            if wrong:
                least_words = "" if least == ANY else f", {least}"
                raise InputError(f"{name} must be a finite number for each catch{least_words}; got {wrong[0]:g}.")
        for name, values in (("settings", x), ("outputs", y)):
            if 0 < np.max(np.abs(values), initial=0.0) < SMALLEST:
                raise InputError(f"{name} must be of a size that can be measured; got {values[0]:g}.")
        if self.noise == "proportional" and (y < SMALLEST).any():
            raise InputError(f"With proportional noise all outputs must be above 0; got {y.min():g}.")

    def __len__(self) -> int:
        return len(self.settings)

    @property
    def values(self) -> Floats:
        """Outputs on the scale on which the noise is the same everywhere."""
        return np.log(self.outputs) if self.noise == "proportional" else self.outputs

    def where(self, chosen: np.ndarray) -> Self:
        """Some of the catches, without their filling."""
        x, y, w = (each[chosen] for each in (self.settings, self.outputs, self.weights))
        reading = None if self.reading is None else self.reading[chosen]
        return replace(self, settings=x, outputs=y, weights=w, reading=reading, fill=None)


def settled(
    catches: Catches, fit: Callable[[Floats], Fitted], *, smallest: float, tolerance: float, most: int
) -> Fitted:
    """Fit least squares with the catches' own weights; with proportional noise, until the weights 1/mean^2 settle.

    No mean is taken to be below the share `smallest` of the usual output, so that no catch outweighs all others.
    """
    curve, before = fit(catches.weights), None
    least = smallest * float(np.mean(np.abs(catches.outputs)))
    settings, which = np.unique(catches.settings, return_inverse=True)
    for _ in range(most if catches.noise == "proportional" else 0):
        mean = np.maximum(curve.mean(settings), least)
        if before is not None and np.allclose(mean, before, rtol=tolerance, atol=0):
            break
        curve, before = fit(catches.weights / mean[which] ** 2), mean
    return curve
