"""The working curve: a line with an unknown dead setting and a slight bend, averaged over what both may be.

For one shape of the curve the model is linear in one unknown, the level: log output = level + log shape + noise, or
output = level x shape + noise where the noise is constant. Level and variance then have a normal inverse-gamma
posterior in closed form, a Student-t for everything asked of it. Dead setting and bend are a grid of shapes, weighted
by the evidence of each. Nothing is sampled.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import softmax

from predictor.curves.base import Curve, Of, check_level
from predictor.curves.catches import Catches
from predictor.curves.estimate import SettingEstimate
from predictor.curves.prior import Prior, Repeatability
from predictor.curves.roots import increasing_root, logit, middle_bracket
from predictor.curves.shapes import Shapes
from predictor.curves.student import quantiles
from predictor.curves.weighing import average, gather, grid, start_window
from predictor.domain.control import Floats
from predictor.errors import NotEnoughCatches

# Precision of quantiles: of the logarithm of an output, or of a setting as a share of the scale.
ROOT = 1e-8
# Residuals are taken under at most so many of the likeliest shapes, and fewer where there are many catches.
MOST_SHAPES, MOST_RESIDUALS = 100, 8000


@dataclass(frozen=True, eq=False, kw_only=True)
class ShapeCurve(Curve):
    """A curve averaged over shapes."""

    family = "line"
    shapes: Shapes = field(repr=False)

    @property
    def params(self) -> dict[str, float]:
        """Dead setting, bend, and output at the reference setting."""
        dead, bend = self.shapes.average(self.shapes.dead), self.shapes.average(self.shapes.bend)
        return {"dead_setting": dead, "bend": bend, "output_at_reference": self.mean(self.shapes.reference)}

    @property
    def std_errors(self) -> dict[str, float]:
        """Posterior standard deviations of `params` (of the output: the scale of its Student-t)."""
        shapes = self.shapes
        size = self.mean(shapes.reference) if self.noise == "proportional" else 1.0
        level = size * shapes.sd(shapes.level, shapes.level_scale)
        return {"dead_setting": shapes.sd(shapes.dead), "bend": shapes.sd(shapes.bend), "output_at_reference": level}

    @property
    def likely_noise(self) -> float:
        """See `Curve.likely_noise`; the root mean square scale of a catch."""
        return float(np.sqrt(self.shapes.average(self.shapes.noise_scale**2)))

    def _mean(self, x: Floats) -> Floats:
        # The median of what the mean may be: `setting_for` then is its exact inverse, and a shape with its dead
        # setting just below the only catch cannot carry it away.
        return self._quantile(x, np.full(x.shape, 0.5), "mean", np.ones(x.shape))

    def _quantile(self, x: Floats, share: Floats, of: Of, weight: Floats) -> Floats:
        shapes = self.shapes
        location, scale = shapes.student(x, of, catch_weight=weight)
        shut = np.isneginf(location)  # Nothing comes out under that shape
        single = np.maximum(location, -1e4) + quantiles(shapes.dof, share) * np.where(shut, 0.0, scale)
        goal = logit(share)
        shut |= scale == 0
        z_scale = np.where(shut, 1.0, scale)

        def excess(value: Floats) -> Floats:
            z = (value - location) / z_scale
            z[shut] = np.inf
            return logit(shapes.weight @ shapes.cdf(z)) - goal

        values = increasing_root(excess, *middle_bracket(excess, single, shapes.weight, 1e-9), ROOT, ROOT)
        return np.exp(np.minimum(values, 600.0)) if self.noise == "proportional" else values

    def _probability(self, x: Floats, low: float, high: float, extra_variance: float) -> Floats:
        """Exact up to the grid of shapes."""
        lower, upper = (self.shapes.below(x, bound, "mean", extra_variance) for bound in (low, high))
        return np.clip(upper - lower, 0.0, 1.0)

    def probability_none(self, x: ArrayLike, low: float, high: float, extra_variance: float = 0.0) -> float:
        """See `Curve.probability_none`.

        Under one shape it depends on the level alone: the whole control gives too much, or too little, or the wanted
        output falls into the gap between two neighbouring settings.
        """
        shapes = self.shapes
        location, scale = shapes.student(np.asarray(x, dtype=float), "mean", extra_variance)
        if self.noise == "proportional":
            low, high = np.log(low), np.log(high)
        with np.errstate(divide="ignore", invalid="ignore"):
            below = shapes.cdf(np.where(np.isneginf(location), np.inf, (low - location) / scale))
            above = shapes.cdf(np.where(np.isneginf(location), -np.inf, (location - high) / scale))
        gaps = np.clip(below[:, :-1] + above[:, 1:] - 1.0, 0.0, 1.0).sum(axis=1)
        return float(np.clip(shapes.average(above[:, 0] + below[:, -1] + gaps), 0.0, 1.0))

    def settings_within(self, low: float, high: float, doubt: float) -> tuple[float, float]:
        """See `Curve.settings_within`."""
        lower, upper = self._setting_quantiles(np.array([low, high]), np.array([doubt, 1 - doubt]), "mean").tolist()
        return lower, upper

    def setting_for(self, output: float, level: float = 0.95, of: Of = "mean") -> SettingEstimate:
        """See `Curve.setting_for`; the estimate is the posterior's median."""
        check_level(level)
        if not output > 0:
            raise ValueError(f"A wanted output must be above 0 grams per row per turn; got {output}.")
        shares = np.array([(1 - level) / 2, 0.5, (1 + level) / 2])
        lower, middle, upper = self._setting_quantiles(np.full(3, float(output)), shares, of).tolist()
        return SettingEstimate.of_pieces(middle, ((lower, upper),))

    def _setting_quantiles(self, outputs: Floats, shares: Floats, of: Of) -> Floats:
        """Settings that the one giving an output stays below with given probabilities; all of shape (m,).

        Under one shape the output grows with the setting, so the probability that the output at x is at least the
        wanted one is the distribution function of that setting.
        """
        shapes = self.shapes
        unit = max(abs(shapes.reference), float(np.max(np.abs(shapes.dead))), 1e-300)
        goal = logit(shares)

        def excess(x: Floats) -> Floats:
            return logit(1.0 - shapes.below(x, outputs, of)) - goal

        each = shapes.settings(outputs, shares, of)
        return increasing_root(excess, *middle_bracket(excess, each, shapes.weight, 1e-9 * unit), ROOT * unit, ROOT)

    def log_residuals(self, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
        """See `Curve.log_residuals`; the likeliest shapes.

        Averaging over shapes keeps a catch at a new setting from looking wrong only because the dead setting is not
        known.
        """
        settings, inverse = np.unique(np.asarray(x, dtype=float), return_inverse=True)
        logs = np.log(np.asarray(y, dtype=float))
        weight = self.shapes.weight
        heaviest = np.argsort(weight)[::-1][: max(1, min(MOST_SHAPES, MOST_RESIDUALS // len(logs)))]
        expected = self.shapes.student(settings, "next")[0][heaviest]
        if self.noise == "constant":
            expected = np.log(np.maximum(expected, 1e-300))
        return weight[heaviest] / weight[heaviest].sum(), logs[None, :] - expected[:, inverse]

    def residuals(self, catches: Catches) -> Floats:
        """Values less the middle that the shapes expect on average; quicker than by `mean`."""
        settings, inverse = np.unique(catches.settings, return_inverse=True)
        return catches.values - (self.shapes.weight @ self.shapes.student(settings, "next")[0])[inverse]


def fit_shapes(catches: Catches, prior: Prior, known: Repeatability, lowest: float, span: float) -> ShapeCurve:
    """Average a line with a dead setting and a bend over all shapes that the catches and the prior allow.

    Source: Normal inverse-gamma posterior of a linear model: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed.,
    ch. 14 (cited from memory).
    """
    if len(catches) == 0:
        shapes, fill_effect, ends = _before_any_catch(prior), None, (lowest, lowest + span)
    else:
        ends = float(catches.settings.min()), float(catches.settings.max())
        groups = gather((catches.settings - lowest) / span, catches)
        if catches.noise == "constant":
            known = known.scaled(float(np.average(catches.outputs, weights=catches.weights)))
        shapes, fill_effect = average(groups, prior, known)
    # The noise of a catch, and all that follows from it, is never below the smallest possible.
    factor = np.maximum(1.0, known.floor / np.maximum(shapes.noise_scale, 1e-300))
    shapes = replace(
        shapes,
        dead=lowest + span * shapes.dead,
        reference=lowest + span * shapes.reference,
        noise_scale=shapes.noise_scale * factor,
        level_scale=shapes.level_scale * factor,
    )
    return ShapeCurve(
        noise=shapes.noise,
        prior=prior.name,
        n=len(catches),
        low=ends[0],
        high=ends[1],
        df=shapes.average(shapes.dof),
        spread=float(np.sqrt(shapes.average(shapes.variance))),
        fill_effect=fill_effect,
        shapes=shapes,
    )


def _before_any_catch(prior: Prior) -> Shapes:
    """What history alone expects: shapes by the prior, level by its spread between lots."""
    if prior.level is None or prior.level_spread is None:
        raise NotEnoughCatches("There is no catch yet, and no earlier lots that say where to start. Make one catch.")
    dead, log_bend, cell = grid(*start_window(prior, prior.level_at - 1e-6))
    weight = softmax(prior.log_density(dead, log_bend) + cell).ravel()
    shape = np.ones(weight.size)
    return Shapes(
        noise="proportional",
        dead=dead.ravel(),
        bend=np.exp(log_bend).ravel(),
        weight=weight,
        level=shape * prior.level,
        level_scale=shape * prior.level_spread,
        noise_scale=shape * prior.typical_cv,
        dof=shape * 5.0,
        reference=prior.level_at,
    )
