"""The shapes a curve may have: a dead setting and a bend, with a normal distribution for the level of each."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from predictor.curves.asked import Of
from predictor.curves.base import Noise
from predictor.domain.control import Floats


def log_shapes(x: Floats, dead: Floats, bend: Floats, reference: float) -> Floats:
    """Log of every shape at `x`, shape (K, len(x)); minus infinity at and below the dead setting."""
    with np.errstate(divide="ignore", invalid="ignore"):
        above = np.log(np.maximum(x[None, :] - dead[:, None], 0.0))
        return np.asarray(bend[:, None] * (above - np.log(reference - dead)[:, None]))


@dataclass(frozen=True, eq=False)
class Shapes:
    """A mixture of K shapes, each with a noise, and what the catches say of the level under it; arrays of shape (K,).

    Under one of them the level is normal: of the log of the mean output, or of the mean output where the noise is
    constant.
    """

    noise: Noise
    dead: Floats  # Dead settings
    bend: Floats  # Exponents
    weight: Floats  # Posterior probability of each; adds to 1
    level: Floats
    level_scale: Floats
    sd: Floats  # Noise of an ordinary catch: of its log output, or of its output where the noise is constant
    own: Floats  # Share of its variance that averages out over more turns and rows
    reference: float  # Setting at which every shape is 1

    def average(self, values: Floats) -> float:
        """Mean over the shapes."""
        return float(self.weight @ values)

    def spread(self, values: Floats, own: Floats | float = 0.0) -> float:
        """Standard deviation over the shapes, with a standard deviation `own` within each."""
        return float(np.sqrt(self.weight @ (own**2 + (values - self.average(values)) ** 2)))

    def normal(
        self, x: Floats, of: Of, extra_variance: float = 0.0, catch_weight: Floats | float = 1.0
    ) -> tuple[Floats, Floats]:
        """Location and scale, each (K, m), of the normal distribution at `x` under each shape."""
        log_shape = log_shapes(x, self.dead, self.bend, self.reference)
        variance = (self.level_scale**2)[:, None]
        ahead = (self.own[:, None] / catch_weight + (1 - self.own)[:, None]) * (self.sd**2)[:, None]
        if self.noise == "proportional":
            location = self.level[:, None] + log_shape
            if of == "next":  # The mean of a log-normal catch lies half its variance above its median
                location, variance = location - 0.5 * ahead, variance + ahead
            return location, np.broadcast_to(np.sqrt(variance + extra_variance), location.shape)
        shape = np.exp(log_shape)
        location = self.level[:, None] * shape
        noise = ahead if of == "next" else 0.0
        return location, np.sqrt(variance * shape**2 + noise + extra_variance * location**2)

    def below(
        self, x: Floats, bound: Floats | float, of: Of, extra_variance: float = 0.0, catch_weight: float = 1.0
    ) -> Floats:
        """Probability that the output at `x` is below `bound`, each of shape (m,)."""
        location, scale = self.normal(x, of, extra_variance, catch_weight)
        with np.errstate(divide="ignore", invalid="ignore"):
            value = np.log(np.maximum(bound, 0.0)) if self.noise == "proportional" else np.asarray(bound, dtype=float)
            z = (value - location) / scale
        z[np.isneginf(location) | np.isnan(z)] = np.inf
        return np.asarray(self.weight @ ndtr(z))

    def reached(self, x: Floats, outputs: Floats, of: Of) -> tuple[Floats, Floats]:
        """Probability that the output at `x` is at least the wanted one, and how fast it grows with `x`."""
        location, scale = self.normal(x, of)
        wanted = np.log(outputs) if self.noise == "proportional" else outputs
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            z = (location - wanted) / scale
            z[np.isneginf(location) | np.isnan(z)] = -np.inf
            rise = self.bend[:, None] / (x - self.dead[:, None])
            if self.noise == "constant":
                rise = rise * np.where(np.isfinite(location), location, 0.0)
            slope = np.where(np.isfinite(z), np.exp(-0.5 * z * z) / scale * rise, 0.0)
        return np.asarray(self.weight @ ndtr(z)), np.asarray(self.weight @ slope) / float(np.sqrt(2 * np.pi))

    def settings(self, outputs: Floats, shares: Floats, of: Of) -> Floats:
        """Setting quantiles under each shape, (K, m); those of the mixture lie between the outermost of them."""
        reach = ndtri(1 - shares)
        noise = self.sd[:, None] if of == "next" else 0.0
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            if self.noise == "proportional":
                shift = -0.5 * (self.sd**2)[:, None] if of == "next" else 0.0
                level = self.level[:, None] + shift + reach * np.hypot(self.level_scale[:, None], noise)
                needed = np.log(outputs)[None, :] - level
            else:
                # The noise of a catch does not grow with the shape: twice its reach surely holds the root.
                level = self.level[:, None] + reach * (self.level_scale[:, None] + 2 * noise)
                needed = np.log(outputs[None, :] / np.maximum(level, 1e-300))
            rise = np.exp(np.minimum(needed / self.bend[:, None], 60.0))
        return np.asarray(self.dead[:, None] + (self.reference - self.dead)[:, None] * rise)
