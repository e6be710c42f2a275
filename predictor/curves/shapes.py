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
from scipy.special import gammaln

from predictor.curves.base import Curve, Of, SettingEstimate, check_level, increasing_root, like
from predictor.curves.student import mixture_cdf, quantiles, segments_of
from predictor.errors import NotEnoughCatches

# The lightest shapes, this much of the evidence together, change no printed figure and are dropped.
NEGLIGIBLE = 2e-5
# Quantiles are found to this much: of the logarithm of an output, or of a setting as a share of the scale.
ROOT = 1e-8


@dataclass(frozen=True)
class Prior:
    """What is known of a box before its catches, in words a technician could have said.

    Attributes
    ----------
    dead, dead_spread : float
        Dead setting as a share of the control's range above its closed end, and how surely (scale of a Student-t).
    bend, bend_spread : float
        Exponent of the curve, 1 for a straight line, and the spread of its logarithm.
    correlation : float
        Between dead setting and the logarithm of the bend, -1 to 1.
    tails : float
        Degrees of freedom of that Student-t.
    repeatability : tuple of (float, float, float)
        What the repeatability may be: share, coefficient of variation, and the number of catches that is worth.
        Shares add to 1. Two kinds of box, tame and wild, are told apart by their catches.
    level, level_spread : float or None
        Log output at `level_at`, and its spread between lots; None when nothing is known.
    level_at : float
        As a share of the range.
    name : {"default", "history"}
    """

    dead: float = 0.0
    dead_spread: float = 0.1
    bend: float = 1.0
    bend_spread: float = 0.1
    correlation: float = 0.0
    tails: float = 5.0
    repeatability: tuple[tuple[float, float, float], ...] = ((0.8, 0.04, 6.0), (0.2, 0.11, 8.0))
    level: float | None = None
    level_spread: float | None = None
    level_at: float = 0.5
    name: str = "default"

    @property
    def typical_cv(self) -> float:
        """Root mean square of what the repeatability may be."""
        return float(np.sqrt(sum(share * cv**2 for share, cv, _ in self.repeatability)))

    def log_density(self, dead, log_bend):
        """Log prior density of dead settings and log bends, up to a constant.

        A bivariate Student-t: one wild slot does not bend what six tame ones said.
        """
        z = (dead - self.dead) / self.dead_spread
        if self.bend_spread == 0:
            return -0.5 * (self.tails + 1) * np.log1p(z**2 / self.tails)
        b = (log_bend - np.log(self.bend)) / self.bend_spread
        r = self.correlation
        square = (z**2 - 2 * r * z * b + b**2) / (1 - r**2)
        return -0.5 * (self.tails + 2) * np.log1p(square / self.tails)


# Ordinary knowledge of a box nobody has tested yet. Free-flowing seed repeats within a few per cent (0.3 to 5.5 % in
# Yazgi et al. 2017 and 2025), though one box in five may be a wild one; chaffy seed bridges and scatters twice as much
# (common practice). A weight of a few catches: what is caught soon outweighs it.
COLD = Prior()
COLD_CHAFFY = Prior(repeatability=((1.0, 0.09, 2.0),))


def cold_prior(holds: str | None = None) -> Prior:
    """What is assumed of a box by the kind of seed it holds, before any catch and any history."""
    return COLD_CHAFFY if holds == "chaffy" else COLD


@dataclass(frozen=True)
class ShapeCurve(Curve):
    """A curve averaged over shapes; K shapes, all arrays of shape (K,).

    Attributes
    ----------
    dead : ndarray
        Dead settings, on the scale of the settings.
    bend : ndarray
        Exponents.
    weight : ndarray
        Posterior probability of each shape; adds to 1.
    level, level_scale : ndarray
        Location and scale of the level's Student-t: log output (or output) at `reference`.
    noise_scale : ndarray
        Noise of one catch under each shape.
    dof : ndarray
        Degrees of freedom of each Student-t.
    reference : float
        Setting at which every shape is 1.
    """

    family: str
    noise: str
    prior: str | None
    n: int
    dof: np.ndarray = field(repr=False)
    dead: np.ndarray = field(repr=False)
    bend: np.ndarray = field(repr=False)
    weight: np.ndarray = field(repr=False)
    level: np.ndarray = field(repr=False)
    level_scale: np.ndarray = field(repr=False)
    noise_scale: np.ndarray = field(repr=False)
    reference: float = 1.0
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

    @property
    def _shift(self) -> float:
        # The mean of a log-normal catch lies half its variance above its median; rates are means.
        return 0.5 * self._noise_square if self.noise == "proportional" else 0.0

    def _student(self, x: np.ndarray, of: Of, extra_variance: float = 0.0):
        """Location, scale, each (K, m), of the Student-t at `x` under each shape."""
        log_shape = self._log_shape(x)
        level_square = self.level_scale[:, None] ** 2
        noise_square = self.noise_scale[:, None] ** 2
        if self.noise == "proportional":
            shift = self._shift if of == "mean" else 0.0
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
        """Mean output at `x`: the middle of what it may be (posterior median).

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
        with np.errstate(invalid="ignore"):
            below = mixture_cdf(self._segments, np.where(np.isneginf(location), np.inf, (low - location) / scale))
            above = mixture_cdf(self._segments, np.where(np.isneginf(location), -np.inf, (location - high) / scale))
        gaps = np.clip(below[:, :-1] + above[:, 1:] - 1.0, 0.0, 1.0).sum(axis=1)
        return float(np.clip(self.weight @ (above[:, 0] + below[:, -1] + gaps), 0.0, 1.0))

    def log_centre(self, x: np.ndarray) -> np.ndarray:
        """Middle of the log mean output (of the output itself where the noise is constant), averaged over the shapes.

        Quicker than `mean`; only at settings open under every shape, as those caught are.
        """
        return self.weight @ self.log_means(x)

    def log_means(self, x: np.ndarray) -> np.ndarray:
        """The same under each shape, shape (K, len(x))."""
        return self._student(np.asarray(x, dtype=float), "mean")[0]

    def quantile(self, x, share, of: Of = "mean"):
        """Output that the mean, or the next catch, at `x` stays below with probability `share`.

        Parameters
        ----------
        x : float or array_like
        share : float, or array_like of the shape of `x`
        of : {"mean", "next"}

        Returns
        -------
        float or ndarray
        """
        x, share = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(share, dtype=float))
        location, scale = self._student(x.ravel() if x.ndim else x.reshape(1), of)
        share = share.ravel()
        # A bracket that surely holds it: the outermost quantile of any single shape.
        reach = np.column_stack([quantiles(self.dof, each) for each in share])
        single = np.maximum(location, -1e4) + reach * np.where(np.isneginf(location), 0.0, scale)
        goal = logit(share)
        out = np.isneginf(location)
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
        """Settings that the one giving `output` stays below with probabilities `shares`, shape of `shares`.

        `output` may be one for all or an array of that shape.

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
                shift = self._shift if of == "mean" else 0.0
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


@dataclass(frozen=True)
class _Groups:
    """Catches gathered by setting (and filling): all that the likelihood needs of them.

    Attributes
    ----------
    at : ndarray, shape (g,)
        Settings as shares of the range.
    value : ndarray, shape (g,)
        Weighted mean of log output (or output).
    weight : ndarray, shape (g,)
    within : float
        Weighted sum of squares inside the groups.
    n : int
    fill : ndarray or None, shape (g,)
        Filling above half, as a fraction; None where it is not in the model.
    """

    at: np.ndarray
    value: np.ndarray
    weight: np.ndarray
    within: float
    n: int
    fill: np.ndarray | None


def gather(at: np.ndarray, value: np.ndarray, weight: np.ndarray, fill: np.ndarray | None) -> _Groups:
    """Group catches that share setting and filling."""
    keys = at if fill is None else at + 1j * fill
    if len(keys) > 32:
        unique, inverse = np.unique(keys, return_inverse=True)
    else:  # a handful of catches is quicker left alone
        unique, inverse = keys, np.arange(len(keys))
    total = np.bincount(inverse, weight)
    centre = np.bincount(inverse, weight * value) / total
    within = float(np.sum(weight * (value - centre[inverse]) ** 2))
    return _Groups(np.real(unique), centre, total, within, len(at), None if fill is None else np.imag(unique))


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

    Parameters
    ----------
    settings, outputs : array_like, shape (n,)
        On a scale where more is more; grams per row per turn, above 0 where the noise is proportional.
    prior : Prior
    lowest, span : float
        Closed end and length of the control's range; the prior's shares refer to them.
    noise : {"proportional", "constant"}
    weights : array_like, shape (n,), optional
        How many ordinary catches each is worth, > 0.
    fill : array_like, shape (n,), optional
        Filling of the box above half, as a fraction (-0.5 to 0.5); the curve is then given for a half-full box.
    fill_prior : (float, float)
        Mean and spread of the log output gained from empty to full.
    extra_noise : (float, float), optional
        A further estimate of the repeatability, and the degrees of freedom behind it (from single rows).

    Returns
    -------
    ShapeCurve

    Raises
    ------
    NotEnoughCatches
        No catch, and a prior that says nothing of the level.

    References
    ----------
    Normal inverse-gamma posterior of a linear model: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., ch. 14
    (cited from memory).
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
    kinds = [_with_rows(kind, extra_noise) for kind in prior.repeatability]
    kinds = [(share, worth, worth * (cv * scale) ** 2) for share, cv, worth in kinds]
    reference = float(np.sum(groups.weight * groups.at) / np.sum(groups.weight))
    fitted = _average(groups, prior, kinds, reference, noise, fill_prior)
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
    dead, log_bend, cell = _grid(*_start_window(prior, upper))
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


def _start_window(prior: Prior, upper: float):
    """Log bends and, for each, the stretch of dead settings that the prior leaves worth looking at."""
    reach = 6 * prior.dead_spread
    low = min(prior.dead, upper) - reach
    high = min(prior.dead + reach, upper)
    rows = _BENDS if prior.bend_spread > 0 else 1
    half = 3.5 * prior.bend_spread
    log_bend = np.log(prior.bend) + np.linspace(-half, half, rows)
    return log_bend, np.full(rows, low), np.full(rows, high)


_BENDS, _DEADS = 7, 33


def _grid(log_bend: np.ndarray, low: np.ndarray, high: np.ndarray):
    """Dead settings, log bends and log cell sizes of a grid, all (rows, deads).

    Cells are met in their middle: a dead setting right at a catch's own setting would make its curve infinitely steep.
    """
    dead = low[:, None] + (high - low)[:, None] * ((np.arange(_DEADS) + 0.5) / _DEADS)[None, :]
    log_bends = np.broadcast_to(log_bend[:, None], dead.shape)
    cell = np.broadcast_to(np.log(np.maximum(high - low, 1e-300))[:, None], dead.shape)
    return dead, log_bends, cell


def _with_rows(kind, extra_noise):
    """One kind of repeatability, joined with what the single rows say."""
    share, cv, worth = kind
    if extra_noise is None:
        return kind
    total = worth + extra_noise[1]
    return share, float(np.sqrt((worth * cv**2 + extra_noise[1] * extra_noise[0] ** 2) / total)), total


def kind_evidence(square: np.ndarray, n: int, kinds) -> np.ndarray:
    """Log marginal likelihood of sums of squares, shape (kinds, ...), for each kind of repeatability."""
    rows = []
    for share, worth, prior_square in kinds:
        df = worth + n - 1
        rows.append(
            np.log(share)
            + gammaln(df / 2)
            - gammaln(worth / 2)
            + 0.5 * worth * np.log(prior_square)
            - 0.5 * df * np.log(prior_square + square)
        )
    return np.array(rows)


def _average(groups, prior, kinds, reference, noise, fill_prior):
    """Weigh all shapes, narrowing the grid until it resolves where the evidence lies."""
    # An output above zero says that the slot was open there; with constant noise only the centre must be open.
    upper = (groups.at.min() if noise == "proportional" else reference) - 1e-9
    window = _start_window(prior, upper)
    for _ in range(6):
        dead, log_bend, cell = _grid(*window)
        level, square, info, fill = fit_each_shape(
            groups, dead.ravel(), np.exp(log_bend).ravel(), reference, noise, fill_prior, prior.typical_cv
        )
        log_shape = prior.log_density(dead, log_bend) + cell - 0.5 * np.log(info).reshape(dead.shape)
        if noise == "constant":
            log_shape -= np.log(np.maximum(level.reshape(dead.shape), 1e-300))
        log_weight = kind_evidence(square.reshape(dead.shape), groups.n, kinds) + log_shape
        narrower = _narrow(window, log_weight.max(axis=0))
        if narrower is None:
            break
        window = narrower
    weight = np.exp(log_weight - log_weight.max()).reshape(len(kinds), -1)
    weight /= weight.sum()
    ascending = np.sort(weight, axis=None)
    least = ascending[np.searchsorted(np.cumsum(ascending), NEGLIGIBLE)]
    kind, shape = np.nonzero(weight >= least)
    weight = weight[kind, shape]
    weight /= weight.sum()
    worth = np.array([kind[1] for kind in kinds])[kind]
    prior_square = np.array([kind[2] for kind in kinds])[kind]
    dof = worth + groups.n - 1
    noise_scale = np.sqrt((prior_square + square[shape]) / dof)
    fill_effect = None
    if fill is not None:
        effect, per_noise = fill[0][shape], fill[1]
        centre = float(weight @ effect)
        fill_effect = (centre, float(np.sqrt(weight @ (noise_scale**2 * per_noise + (effect - centre) ** 2))))
    return (
        dead.ravel()[shape],
        np.exp(log_bend).ravel()[shape],
        weight,
        level[shape],
        noise_scale / np.sqrt(info[shape]),
        noise_scale,
        dof,
        fill_effect,
    )


def _narrow(window, log_weight):
    """A window closer to the evidence, or None where the grid already resolves it."""
    log_bend, low, high = window
    rows, deads = log_weight.shape
    row_best = log_weight.max(axis=1)
    live = np.flatnonzero(row_best > row_best.max() - 18)
    inside = log_weight[live] > row_best[live, None] - 18
    first = np.maximum(inside.argmax(axis=1) - 1, 0)
    last = np.minimum(deads - 1 - inside[:, ::-1].argmax(axis=1) + 1, deads - 1)
    if np.all(last - first > deads // 3) and (rows == 1 or len(live) > rows // 3):
        return None
    step = (high[live] - low[live]) / deads
    new_low, new_high = low[live] + first * step, low[live] + (last + 1) * step
    if rows == 1:
        return log_bend, new_low, new_high
    start, stop = max(live[0] - 1, 0), min(live[-1] + 1, rows - 1)
    new_bend = np.linspace(log_bend[start], log_bend[stop], rows)
    # Conditional on the bend the dead setting lies on a ridge; between rows it is followed by interpolation.
    known = log_bend[live]
    if len(live) > 1:
        slope_low, slope_high = np.polyfit(known, new_low, 1), np.polyfit(known, new_high, 1)
        drift = 0.5 * np.ptp(new_bend) / (rows - 1) * max(abs(slope_low[0]), abs(slope_high[0]))
        edge_low, edge_high = np.interp(new_bend, known, new_low), np.interp(new_bend, known, new_high)
        outside = (new_bend < known[0]) | (new_bend > known[-1])
        edge_low = np.where(outside, np.minimum(edge_low, np.polyval(slope_low, new_bend)), edge_low) - drift
        edge_high = np.where(outside, np.maximum(edge_high, np.polyval(slope_high, new_bend)), edge_high) + drift
    else:
        width = new_high[0] - new_low[0]
        edge_low = np.full(rows, new_low[0] - width)
        edge_high = np.full(rows, new_high[0] + width)
    return new_bend, np.maximum(edge_low, low.min()), np.minimum(edge_high, high.max())


def fit_each_shape(groups, dead, bend, reference, noise, fill_prior, cv):
    """Level, sum of squares and information under each of K shapes, and the filling effect where it is modelled."""
    with np.errstate(divide="ignore", invalid="ignore"):
        log_shape = np.log(np.maximum(groups.at[None, :] - dead[:, None], 0.0))
        log_shape = bend[:, None] * (log_shape - np.log(reference - dead)[:, None])
    w = groups.weight
    if noise == "constant":
        shape = np.exp(log_shape)
        info = np.maximum((shape**2) @ w, 1e-300)
        level = (shape @ (w * groups.value)) / info
        square = ((groups.value - level[:, None] * shape) ** 2) @ w + groups.within
        return level, square, info, None
    rest = groups.value[None, :] - log_shape
    total = w.sum()
    centre = rest @ w / total
    if groups.fill is None:
        square = ((rest - centre[:, None]) ** 2) @ w + groups.within
        return centre, square, np.full(len(dead), total), None
    middle = float(groups.fill @ w / total)
    off = groups.fill - middle
    strength = (cv / fill_prior[1]) ** 2
    curvature = float(off**2 @ w) + strength
    effect = (rest @ (w * off) + strength * fill_prior[0]) / curvature
    level = centre - effect * middle
    residual = rest - level[:, None] - effect[:, None] * groups.fill[None, :]
    square = residual**2 @ w + strength * (effect - fill_prior[0]) ** 2 + groups.within
    info = 1.0 / (1.0 / total + middle**2 / curvature)
    return level, square, np.full(len(dead), info), (effect, 1.0 / curvature)
