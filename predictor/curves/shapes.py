"""The shapes a curve may have: a dead setting and a bend, with a Student-t for the level of each."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from predictor.curves.base import Noise, Of
from predictor.curves.student import Segments, mixture_cdf, quantiles, segments_of
from predictor.domain.control import Floats


def log_shapes(x: Floats, dead: Floats, bend: Floats, reference: float) -> Floats:
    """Log of every shape at `x`, shape (K, len(x)); minus infinity at and below the dead setting."""
    with np.errstate(divide="ignore", invalid="ignore"):
        above = np.log(np.maximum(x[None, :] - dead[:, None], 0.0))
        return np.asarray(bend[:, None] * (above - np.log(reference - dead)[:, None]))


@dataclass(frozen=True, eq=False)
class Shapes:
    """K shapes, and what the catches say of the level under each; all arrays of shape (K,)."""

    noise: Noise
    dead: Floats  # Dead settings
    bend: Floats  # Exponents
    weight: Floats  # Posterior probability of each shape; adds to 1
    level: Floats
    level_scale: Floats
    noise_scale: Floats  # Noise of one catch: of its log output, or of its output where the noise is constant
    dof: Floats  # Degrees of freedom of each Student-t
    reference: float  # Setting at which every shape is 1

    @cached_property
    def segments(self) -> Segments:
        """Shapes with equal degrees of freedom."""
        return segments_of(self.dof)

    @property
    def variance(self) -> Floats:
        """Mean variance of a catch under each shape.

        Under few catches a variance has no mean: its degrees of freedom less two are taken as one at least.
        """
        return self.noise_scale**2 * self.dof / np.maximum(self.dof - 2, 1.0)

    def average(self, values: Floats) -> float:
        """Mean over the shapes."""
        return float(self.weight @ values)

    def sd(self, values: Floats, own: Floats | float = 0.0) -> float:
        """Standard deviation over the shapes, with a standard deviation `own` within each."""
        return float(np.sqrt(self.weight @ (own**2 + (values - self.average(values)) ** 2)))

    def _shift(self, of: Of) -> Floats | float:
        # The mean of a log-normal catch lies half its variance above its median; rates are means.
        return 0.5 * self.variance[:, None] if of == "mean" else 0.0

    def student(
        self, x: Floats, of: Of, extra_variance: float = 0.0, catch_weight: Floats | float = 1.0
    ) -> tuple[Floats, Floats]:
        """Location and scale, each (K, m), of the Student-t at `x` under each shape."""
        log_shape = log_shapes(x, self.dead, self.bend, self.reference)
        level_square = self.level_scale[:, None] ** 2
        noise_square = self.noise_scale[:, None] ** 2 / catch_weight if of == "next" else 0.0
        if self.noise == "proportional":
            location = self.level[:, None] + self._shift(of) + log_shape
            return location, np.broadcast_to(np.sqrt(level_square + noise_square + extra_variance), location.shape)
        shape = np.exp(log_shape)
        location = self.level[:, None] * shape
        return location, np.sqrt(level_square * shape**2 + noise_square + extra_variance * location**2)

    def cdf(self, z: Floats) -> Floats:
        """Student-t distribution function under each shape, (K, m)."""
        return mixture_cdf(self.segments, z)

    def below(self, x: Floats, bound: Floats | float, of: Of, extra_variance: float = 0.0) -> Floats:
        """Probability that the output at `x` is below `bound`; both of shape (m,)."""
        location, scale = self.student(x, of, extra_variance)
        with np.errstate(divide="ignore", invalid="ignore"):
            value = np.log(bound) if self.noise == "proportional" else np.asarray(bound, dtype=float)
            z = (value - location) / scale
        return np.asarray(self.weight @ self.cdf(np.where(np.isneginf(location) | np.isnan(z), np.inf, z)))

    def settings(self, outputs: Floats, shares: Floats, of: Of) -> Floats:
        """Setting quantiles under each shape, (K, m); those of the mixture lie between the outermost of them."""
        reach = quantiles(self.dof, 1 - shares)
        noise = self.noise_scale[:, None] if of == "next" else 0.0
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            if self.noise == "proportional":
                level = self.level[:, None] + self._shift(of) + reach * np.hypot(self.level_scale[:, None], noise)
                needed = np.log(outputs)[None, :] - level
            else:
                # The noise of a catch does not grow with the shape: twice its reach surely holds the root.
                level = self.level[:, None] + reach * (self.level_scale[:, None] + 2 * noise)
                needed = np.log(outputs[None, :] / np.maximum(level, 1e-300))
            rise = np.exp(np.minimum(needed / self.bend[:, None], 60.0))
        return np.asarray(self.dead[:, None] + (self.reference - self.dead)[:, None] * rise)
