"""The working curve: a line with an unknown dead setting and a slight bend, averaged over what both may be.

For one shape of the curve the model is linear in one unknown, the level: log output = level + log shape + noise, or
output = level x shape + noise where the noise is constant. Level and variance then have a normal inverse-gamma
posterior in closed form (a Student-t for everything asked of it), and what is left, dead setting and bend, is a grid
weighted by the evidence of each shape. Nothing is sampled.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from predictor.curves.base import Curve, Of, SettingEstimate, check_level, increasing_root, like
from predictor.curves.prior import Prior
from predictor.curves.student import mixture_cdf, quantiles, segments_of
from predictor.curves.weighing import average, gather, grid, start_window, with_rows
from predictor.errors import NotEnoughCatches

# Quantiles are found to this much: of the logarithm of an output, or of a setting as a share of the scale.
ROOT = 1e-8


@dataclass(frozen=True)
class ShapeCurve(Curve):
    """A curve averaged over shapes; K shapes, all arrays of shape (K,)."""

    family: str
    noise: str
    prior: str | None
    n: int
    dof: np.ndarray = field(repr=False)  # Degrees of freedom of each Student-t
    dead: np.ndarray = field(repr=False)  # Dead settings, on the scale of the settings
    bend: np.ndarray = field(repr=False)  # Exponents
    weight: np.ndarray = field(repr=False)  # Posterior probability of each shape; adds to 1
    level: np.ndarray = field(repr=False)
    level_scale: np.ndarray = field(repr=False)
    noise_scale: np.ndarray = field(repr=False)  # Noise of one catch under each shape: of its log output (or output)
    reference: float = 1.0  # Setting at which every shape is 1
    fill_effect: tuple[float, float] | None = None

    # -- what it says about itself ------------------------------------------------------------------------------

    @property
    def spread(self) -> float:
        """Noise of one catch, the posterior's root mean square of it."""
        return float(np.sqrt(self._noise_square))

    @property
    def df(self) -> float:
        """Degrees of freedom, averaged over the shapes."""
        return float(self.weight @ self.dof)

    @cached_property
    def _segments(self):
        return segments_of(self.dof)

    @cached_property
    def _noise_square(self) -> float:
        # The mean of an inverse gamma, where it has one.
        return float(self.weight @ (self.noise_scale**2 * self.dof / np.maximum(self.dof - 2, 1.0)))

    @property
    def params(self) -> dict[str, float]:
        """Dead setting, bend, and output at the reference setting."""
        return {
            "dead_setting": float(np.sum(self.weight * self.dead)),
            "bend": float(np.sum(self.weight * self.bend)),
            "output_at_reference": float(self.mean(self.reference)),
        }

    @property
    def std_errors(self) -> dict[str, float]:
        """Posterior standard deviations of `params` (of the output: the scale of its Student-t)."""
        moments = {}
        for name, values in (("dead_setting", self.dead), ("bend", self.bend)):
            centre = np.sum(self.weight * values)
            moments[name] = float(np.sqrt(np.sum(self.weight * (values - centre) ** 2)))
        centre = np.sum(self.weight * self.level)
        variance = np.sum(self.weight * (self.level_scale**2 + (self.level - centre) ** 2))
        size = self.mean(self.reference) if self.noise == "proportional" else 1.0
        return {**moments, "output_at_reference": float(size * np.sqrt(variance))}

    # -- the mixture of Student-t distributions ---------------------------------------------------------------------

    def _log_shape(self, x: np.ndarray) -> np.ndarray:
        """Log of every shape at `x`, shape (K, len(x)); minus infinity at and below the dead setting."""
        above = x[None, :] - self.dead[:, None]
        with np.errstate(divide="ignore"):
            ratio = np.log(np.maximum(above, 0.0)) - np.log(self.reference - self.dead)[:, None]
        return self.bend[:, None] * ratio

    @cached_property
    def _shift(self) -> np.ndarray:
        # The mean of a log-normal catch lies half its variance above its median; rates are means. Under few catches the
        # variance itself has no mean: its degrees of freedom less two are taken as one at least.
        return 0.5 * self.noise_scale**2 * self.dof / np.maximum(self.dof - 2, 1.0)

    def _student(self, x: np.ndarray, of: Of, extra_variance: float = 0.0):
        """Location, scale, each (K, m), of the Student-t at `x` under each shape."""
        log_shape = self._log_shape(x)
        level_square = self.level_scale[:, None] ** 2
        noise_square = self.noise_scale[:, None] ** 2
        if self.noise == "proportional":
            shift = self._shift[:, None] if of == "mean" else 0.0
            location = self.level[:, None] + shift + log_shape
            square = level_square + (noise_square if of == "next" else 0.0) + extra_variance
            return location, np.broadcast_to(np.sqrt(square), location.shape)
        shape = np.exp(log_shape)
        location = self.level[:, None] * shape
        square = level_square * shape**2 + (noise_square if of == "next" else 0.0)
        return location, np.sqrt(square + extra_variance * location**2)

    def _below(self, x: np.ndarray, bound, of: Of, extra_variance: float = 0.0) -> np.ndarray:
        """Probability that the output at `x` is below `bound`; both of shape (m,)."""
        location, scale = self._student(x, of, extra_variance)
        with np.errstate(divide="ignore", invalid="ignore"):
            value = np.log(bound) if self.noise == "proportional" else np.asarray(bound, dtype=float)
            z = (value - location) / scale
        z = np.where(np.isneginf(location) | np.isnan(z), np.inf, z)
        return self.weight @ mixture_cdf(self._segments, z)

    def mean(self, x):
        """See `Curve.mean`; the middle of what it may be (posterior median).

        The median, since `setting_for` then is its exact inverse, and a shape with its dead setting just below the
        only catch cannot carry it away.
        """
        return self.quantile(x, 0.5)

    def probability(self, x, low: float, high: float, extra_variance: float = 0.0):
        """See `Curve.probability`; exact up to the grid of shapes."""
        flat = np.atleast_1d(np.asarray(x, dtype=float)).ravel()
        upper = self._below(flat, high, "mean", extra_variance)
        chance = np.clip(upper - self._below(flat, low, "mean", extra_variance), 0.0, 1.0)
        return like(x, chance.reshape(np.shape(x)))

    def probability_none(self, x: np.ndarray, low: float, high: float, extra_variance: float = 0.0) -> float:
        """Probability that at none of the settings `x`, ascending, the mean output lies between two outputs.

        Under one shape that is a matter of the level alone: the whole control gives too much, or too little, or the
        wanted output falls into the gap between two neighbouring settings.
        """
        location, scale = self._student(np.asarray(x, dtype=float), "mean", extra_variance)
        if self.noise == "proportional":
            low, high = np.log(low), np.log(high)
        with np.errstate(divide="ignore", invalid="ignore"):
            below = mixture_cdf(self._segments, np.where(np.isneginf(location), np.inf, (low - location) / scale))
            above = mixture_cdf(self._segments, np.where(np.isneginf(location), -np.inf, (location - high) / scale))
        gaps = np.clip(below[:, :-1] + above[:, 1:] - 1.0, 0.0, 1.0).sum(axis=1)
        return float(np.clip(self.weight @ (above[:, 0] + below[:, -1] + gaps), 0.0, 1.0))

    def log_centre(self, x: np.ndarray) -> np.ndarray:
        """Middle of the log output (of the output itself where the noise is constant), averaged over the shapes.

        Quicker than `mean`; only at settings open under every shape, as those caught are.
        """
        return self.weight @ self.log_middles(x)

    def log_middles(self, x: np.ndarray) -> np.ndarray:
        """The same under each shape, shape (K, len(x))."""
        return self._student(np.asarray(x, dtype=float), "next")[0]

    def quantile(self, x, share, of: Of = "mean"):
        """Output that the mean, or the next catch, at `x` stays below with probability `share`."""
        x, share = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(share, dtype=float))
        location, scale = self._student(x.ravel() if x.ndim else x.reshape(1), of)
        share = share.ravel()
        # A bracket that surely holds it: the outermost quantile of any single shape.
        reach = np.column_stack([quantiles(self.dof, each) for each in share])
        single = np.maximum(location, -1e4) + reach * np.where(np.isneginf(location), 0.0, scale)
        goal = logit(share)
        out = np.isneginf(location) | (scale == 0)  # nothing comes out under that shape
        z_scale = np.where(out, 1.0, scale)

        def excess(value):
            z = (value - location) / z_scale
            z[out] = np.inf
            return logit(self.weight @ mixture_cdf(self._segments, z)) - goal

        low, high = self._nearer(single, excess, single.min(axis=0) - 1e-9, single.max(axis=0) + 1e-9)
        values = increasing_root(excess, low, high, ROOT, ROOT)
        values = np.exp(np.minimum(values, 600.0)) if self.noise == "proportional" else values
        return like(x, values.reshape(np.shape(x)))

    def interval(self, x, level: float = 0.95, of: Of = "mean"):
        """See `Curve.interval`; equal tails."""
        check_level(level)
        flat = np.asarray(x, dtype=float).ravel()
        shares = np.repeat([(1 - level) / 2, (1 + level) / 2], len(flat))
        lower, upper = self.quantile(np.tile(flat, 2), shares, of).reshape(2, *np.shape(x))
        return like(x, lower), like(x, upper)

    def setting_quantiles(self, output, shares, of: Of = "mean") -> np.ndarray:
        """Settings that the one giving `output` stays below with probabilities `shares`.

        Under one shape the output grows with the setting, so the probability that the output at x is at least the
        wanted one is the distribution function of that setting.
        """
        shares = np.asarray(shares, dtype=float)
        outputs = np.broadcast_to(np.asarray(output, dtype=float), shares.shape)
        unit = max(abs(self.reference), float(np.max(np.abs(self.dead))), 1e-300)
        goal = logit(shares)

        def excess(x: np.ndarray) -> np.ndarray:
            return logit(1.0 - self._below(x, outputs, of)) - goal

        each = self._single_settings(outputs, shares, of)
        low, high = each.min(axis=0) - 1e-9 * unit, each.max(axis=0) + 1e-9 * unit
        low, high = self._nearer(each, excess, low, high)
        return increasing_root(excess, low, high, ROOT * unit, ROOT)

    def _nearer(self, each: np.ndarray, excess, low: np.ndarray, high: np.ndarray):
        """A closer bracket from the middle mass of the single shapes' roots, where it holds the root.

        The outermost shapes, with next to no weight, would make the bracket thousands of times too wide.
        """
        order = np.argsort(each, axis=0)
        ranked = np.take_along_axis(each, order, axis=0)
        mass = np.cumsum(self.weight[order], axis=0)
        columns = np.arange(each.shape[1])
        last = len(self.weight) - 1
        near_low = ranked[np.minimum((mass < 0.05).sum(axis=0), last), columns]
        near_high = ranked[np.minimum((mass < 0.95).sum(axis=0), last), columns]
        at_low, at_high = excess(near_low), excess(near_high)
        new_low = np.where(at_low <= 0, near_low, low)
        new_high = np.where(at_high >= 0, near_high, high)
        # a root outside the middle mass lies between its end and the outermost
        new_low = np.where(at_high < 0, near_high, new_low)
        new_high = np.where(at_low > 0, near_low, new_high)
        return new_low, new_high

    def _single_settings(self, outputs: np.ndarray, shares: np.ndarray, of: Of) -> np.ndarray:
        """Setting quantiles of every single shape, shape (K, m): the mixture's lie between the outermost."""
        reach = np.column_stack([quantiles(self.dof, 1 - share) for share in shares])
        noise = self.noise_scale[:, None] if of == "next" else 0.0
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            if self.noise == "proportional":
                shift = self._shift[:, None] if of == "mean" else 0.0
                level = self.level[:, None] + shift + reach * np.hypot(self.level_scale[:, None], noise)
                needed = np.log(outputs)[None, :] - level
            else:
                # the noise of a catch does not grow with the shape: twice its reach surely holds the root
                level = self.level[:, None] + reach * (self.level_scale[:, None] + 2 * noise)
                needed = np.log(outputs[None, :] / np.maximum(level, 1e-300))
            rise = np.exp(np.minimum(needed / self.bend[:, None], 60.0))
        return self.dead[:, None] + (self.reference - self.dead)[:, None] * rise

    def setting_for(self, output: float, level: float = 0.95, of: Of = "mean") -> SettingEstimate:
        """See `Curve.setting_for`; the estimate is the posterior's median."""
        check_level(level)
        if not output > 0:
            raise ValueError(f"A wanted output is above 0 grams per row per turn; got {output}.")
        lower, middle, upper = self.setting_quantiles(output, [(1 - level) / 2, 0.5, (1 + level) / 2], of).tolist()
        return SettingEstimate.of_pieces(middle, ((lower, upper),))

    def with_noise_floor(self, floor: float) -> ShapeCurve:
        """The same curve with the noise of a catch, and all that follows from it, never below `floor`."""
        factor = np.maximum(1.0, floor / np.maximum(self.noise_scale, 1e-300))
        return replace(self, noise_scale=self.noise_scale * factor, level_scale=self.level_scale * factor)


def fit_shapes(
    settings,
    outputs,
    *,
    prior: Prior,
    lowest: float = 0.0,
    span: float = 1.0,
    noise: str = "proportional",
    weights=None,
    fill=None,
    fill_prior: tuple[float, float] = (0.15, 0.15),
    extra_noise: tuple[float, float] | None = None,
) -> ShapeCurve:
    """Average a line with a dead setting and a bend over all shapes the catches and the prior allow.

    Source: Normal inverse-gamma posterior of a linear model: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed.,
    ch. 14 (cited from memory).
    """
    x = np.asarray(settings, dtype=float)
    y = np.asarray(outputs, dtype=float)
    if len(x) == 0:
        return _before_any_catch(prior, lowest, span)
    at = (x - lowest) / span
    value = np.log(y) if noise == "proportional" else y
    w = np.ones(len(x)) if weights is None else np.asarray(weights, dtype=float)
    groups = gather(at, value, w, None if fill is None else np.asarray(fill, dtype=float))
    scale = 1.0 if noise == "proportional" else float(np.average(y, weights=w))
    kinds = with_rows(prior.repeatability, extra_noise)
    kinds = [(share, worth, worth * (cv * scale) ** 2) for share, cv, worth in kinds]
    reference = float(np.sum(groups.weight * groups.at) / np.sum(groups.weight))
    fitted = average(groups, prior, kinds, reference, noise, fill_prior)
    dead, bend, weight, level, level_scale, noise_scale, dof, fill_effect = fitted
    return ShapeCurve(
        family="line",
        noise=noise,
        prior=prior.name,
        n=len(x),
        dof=dof,
        dead=lowest + span * dead,
        bend=bend,
        weight=weight,
        level=level,
        level_scale=level_scale,
        noise_scale=noise_scale,
        reference=lowest + span * reference,
        fill_effect=fill_effect,
    )


def logit(share: np.ndarray) -> np.ndarray:
    """Log odds; nearly straight in the tails of a mixture, where roots are looked for."""
    share = np.clip(share, 1e-12, 1 - 1e-12)
    return np.log(share / (1 - share))


def _before_any_catch(prior: Prior, lowest: float, span: float) -> ShapeCurve:
    """The curve that history alone expects: shapes by the prior, level by its spread between lots."""
    if prior.level is None or prior.level_spread is None:
        raise NotEnoughCatches("No catch yet, and no earlier lots that say where to start: make one catch first.")
    upper = prior.level_at - 1e-6
    dead, log_bend, cell = grid(*start_window(prior, upper))
    log_weight = prior.log_density(dead, log_bend) + cell
    weight = np.exp(log_weight - log_weight.max()).ravel()
    shape = np.ones(weight.size)
    return ShapeCurve(
        family="line",
        noise="proportional",
        prior=prior.name,
        n=0,
        dof=shape * 5.0,
        dead=lowest + span * dead.ravel(),
        bend=np.exp(log_bend).ravel(),
        weight=weight / weight.sum(),
        level=shape * prior.level,
        level_scale=shape * prior.level_spread,
        noise_scale=shape * prior.typical_cv,
        reference=lowest + span * prior.level_at,
    )
