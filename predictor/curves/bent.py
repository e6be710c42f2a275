"""The working curve: a line with an unknown dead setting and a slight bend, averaged over what both may be.

For one shape of the curve and one size of the noise the model is linear in one unknown, the level: log output = level +
log shape + noise, or output = level x shape + noise where the noise is constant. Its posterior is normal, in closed
form. Dead setting, bend and noise are a grid, weighted by the evidence. Nothing is sampled.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtr, ndtri, softmax

from predictor.curves.asked import Of
from predictor.curves.base import Curve
from predictor.curves.catches import Catches
from predictor.curves.estimate import SettingEstimate
from predictor.curves.prior import Prior, Repeatability
from predictor.curves.roots import share_root, weighted_median
from predictor.curves.shapes import Shapes
from predictor.curves.weighing import average, gather, grid, start_window
from predictor.domain.arguments import POSITIVE
from predictor.domain.control import Floats
from predictor.errors import NotEnoughCatches

# Precision of quantiles: of the logarithm of an output, or of a setting as a share of the scale.
ROOT = 1e-8
SQRT_2PI = float(np.sqrt(2 * np.pi))
# Numbers in one table of shapes by settings.
MOST_AT_ONCE = 1_000_000


@dataclass(frozen=True, eq=False, kw_only=True)
class ShapeCurve(Curve):
    """A curve averaged over shapes."""

    family = "line"
    _outputs = POSITIVE
    shapes: Shapes = field(repr=False)
    # Log probability of the catches' log outputs beforehand, up to a constant that all fits with the same prior, number
    # of catches and kind of noise share; NaN before any catch.
    log_evidence: float = float("nan")

    @property
    def params(self) -> dict[str, float]:
        """Dead setting, bend, and output at the reference setting."""
        dead, bend = self.shapes.average(self.shapes.dead), self.shapes.average(self.shapes.bend)
        return {"dead_setting": dead, "bend": bend, "output_at_reference": self.mean(self.shapes.reference)}

    @property
    def std_errors(self) -> dict[str, float]:
        """Posterior standard deviations of `params` (of the output: of its level)."""
        shapes = self.shapes
        size = self.mean(shapes.reference) if self.noise == "proportional" else 1.0
        level = size * shapes.spread(shapes.level, shapes.level_scale)
        return {
            "dead_setting": shapes.spread(shapes.dead),
            "bend": shapes.spread(shapes.bend),
            "output_at_reference": level,
        }

    def _mean(self, x: Floats) -> Floats:
        # The median of what the mean may be: `setting_for` then is its exact inverse, and a shape with its dead
        # setting just below the only catch cannot carry it away.
        settings, which = np.unique(x, return_inverse=True)
        half, ordinary = np.full(settings.shape, 0.5), np.ones(settings.shape)
        return self._quantile(settings, half, "mean", ordinary)[which]

    def _quantile(self, x: Floats, share: Floats, of: Of, weight: Floats, extra_variance: float = 0.0) -> Floats:
        pieces = self._pieces(len(x))
        return np.concatenate(
            [self._quantiles(x[each], share[each], of, weight[each], extra_variance) for each in pieces]
        )

    def _pieces(self, settings: int) -> list[slice]:
        """Settings a few at a time: tables of shapes by settings then never outgrow the memory."""
        step = max(MOST_AT_ONCE // len(self.shapes.weight), 1)
        return [slice(start, start + step) for start in range(0, max(settings, 1), step)]

    def _quantiles(self, x: Floats, share: Floats, of: Of, weight: Floats, extra_variance: float) -> Floats:
        shapes = self.shapes
        location, scale = shapes.normal(x, of, extra_variance, weight)
        # Nothing comes out under some shapes: their output lies below all others
        location = np.maximum(location, -1e4) if self.noise == "proportional" else location
        scale = np.maximum(scale, 1e-300)
        reach = ndtri(share) * scale
        single = location + reach

        def below(value: Floats) -> tuple[Floats, Floats]:
            z = np.clip((value - location) / scale, -40.0, 40.0)
            return shapes.weight @ ndtr(z), shapes.weight @ (np.exp(-0.5 * z * z) / scale) / SQRT_2PI

        start = weighted_median(single, shapes.weight)
        values = share_root(below, share, start, single.min(axis=0), single.max(axis=0), ROOT)
        return np.exp(np.minimum(values, 600.0)) if self.noise == "proportional" else values

    def _noise_of(self, weight: float) -> float:
        """The part common to a whole catch does not shrink with its length."""
        own = self.shapes.average(self.shapes.own)
        return self.spread * float(np.sqrt(own / weight + 1 - own))

    def _probability_next(self, x: Floats, output: float, weight: float) -> float:
        return float(self.shapes.below(x, output, "next", catch_weight=weight)[0])

    def _probability(self, x: Floats, low: float, high: float, extra_variance: float) -> Floats:
        """Exact up to the grid of shapes."""

        def below(bound: float) -> Floats:
            pieces = self._pieces(len(x))
            return np.concatenate([self.shapes.below(x[each], bound, "mean", extra_variance) for each in pieces])

        return np.clip(below(high) - below(low), 0.0, 1.0)

    def _none(self, x: Floats, low: float, high: float, extra_variance: float) -> float:
        """Probability that the mean lies between two outputs at none of several settings.

        Under one shape it depends on the level alone: the whole control gives too much, or too little, or the wanted
        output falls into the gap between two neighbouring settings.
        """
        shapes = self.shapes
        location, scale = shapes.normal(x, "mean", extra_variance)
        with np.errstate(divide="ignore", invalid="ignore"):
            if self.noise == "proportional":
                low, high = np.log(np.maximum([low, high], 0.0)).tolist()
            below = ndtr(np.where(np.isneginf(location), np.inf, (low - location) / scale))
            above = ndtr(np.where(np.isneginf(location), -np.inf, (location - high) / scale))
        gaps = np.clip(below[:, :-1] + above[:, 1:] - 1.0, 0.0, 1.0).sum(axis=1)
        return float(np.clip(shapes.average(above[:, 0] + below[:, -1] + gaps), 0.0, 1.0))

    def _within(self, low: float, high: float, doubt: float) -> tuple[float, float]:
        """No bound where none can be: at an output of nothing, or at a boundless one."""
        ends, shares = np.array([low, high]), np.array([doubt, 1 - doubt])
        found, bounded = np.array([-np.inf, np.inf]), (ends > 0) & np.isfinite(ends)
        if bounded.any():
            found[bounded] = self._setting_quantiles(ends[bounded], shares[bounded], "mean")
        return float(found[0]), float(found[1])

    def _setting_for(self, output: float, level: float, of: Of) -> SettingEstimate:
        """The estimate is the posterior's median."""
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
        each = shapes.settings(outputs, shares, of)

        def reached(x: Floats) -> tuple[Floats, Floats]:
            return shapes.reached(x, outputs, of)

        start = weighted_median(each, shapes.weight)
        return share_root(reached, shares, start, each.min(axis=0), each.max(axis=0), ROOT * unit)

    def middles(self, x: Floats) -> Floats:
        """What the shapes expect on average, on the scale of the noise; quicker than by `mean`."""
        settings, inverse = np.unique(x, return_inverse=True)
        return np.asarray((self.shapes.weight @ self.shapes.normal(settings, "mean")[0])[inverse])


def fit_shapes(
    catches: Catches,
    prior: Prior,
    known: Repeatability,
    lowest: float,
    span: float,
    near: float | None = None,
    closed: float = -np.inf,
) -> ShapeCurve:
    """Average a line with a dead setting and a bend over all shapes and noises that catches and prior allow.

    `near` is the output near which the curve should hold, `closed` the highest setting at which nothing came.

    Source: Normal posterior of a linear model on a grid of the other unknowns: Gelman et al. (2013), Bayesian Data
    Analysis, 3rd ed., ch. 14 and 3.7 (cited from memory).
    """
    if len(catches) == 0:
        shapes, fill_effect, ends, evidence = _before_any_catch(prior), None, (lowest, lowest + span), float("nan")
    else:
        ends = float(catches.settings.min()), float(catches.settings.max())
        cells = gather((catches.settings - lowest) / span, catches, near)
        if catches.noise == "constant":
            known = known.scaled(float(np.average(catches.outputs, weights=catches.weights)))
        shapes, fill_effect, evidence = average(cells, prior, known, (closed - lowest) / span)
    shapes = replace(shapes, dead=lowest + span * shapes.dead, reference=lowest + span * shapes.reference)
    # The noise behind the mean of its precision: what a scaled inverse chi-squared distribution calls its scale.
    precision = shapes.sd**-2.0
    mean = shapes.average(precision)
    return ShapeCurve(
        noise=shapes.noise,
        prior=prior.name,
        n=len(catches),
        low=ends[0],
        high=ends[1],
        df=float(2 * mean**2 / max(shapes.spread(precision) ** 2, 1e-12 * mean**2)),
        spread=float(mean**-0.5),
        fill_effect=fill_effect,
        shapes=shapes,
        log_evidence=evidence,
    )


# Three normal distributions of different width, together nearly a Student-t with five degrees of freedom (nodes of the
# Gauss-Hermite rule for the logarithm of the width).
WIDTHS, WIDTH_WEIGHTS = np.exp(0.35 * np.sqrt(3.0) * np.array([-1.0, 0.0, 1.0])), np.array([1, 4, 1]) / 6


def _before_any_catch(prior: Prior) -> Shapes:
    """What history alone expects: shapes by the prior, level by its spread between lots."""
    if prior.level is None or prior.level_spread is None:
        raise NotEnoughCatches("There is no catch yet, and no earlier lots that say where to start. Make one catch.")
    window = start_window(prior, prior.level_at - 1e-6, -np.inf, Repeatability(prior.repeatability))
    dead, log_bend, cell = grid(window)
    weight = softmax(prior.log_density(dead, log_bend) + cell).ravel()
    kept = np.flatnonzero(weight > 1e-5 * weight.max())
    shape = np.ones(len(kept) * len(WIDTHS))
    return Shapes(
        noise="proportional",
        dead=np.repeat(dead.ravel()[kept], len(WIDTHS)),
        bend=np.repeat(np.exp(log_bend).ravel()[kept], len(WIDTHS)),
        weight=np.outer(weight[kept] / weight[kept].sum(), WIDTH_WEIGHTS).ravel(),
        level=shape * prior.level,
        level_scale=prior.level_spread * np.tile(WIDTHS, len(kept)),
        sd=shape * prior.typical_cv,
        own=shape * prior.usual_own,
        reference=prior.level_at,
    )
