"""How much each shape of a curve is worth: the evidence of the catches on a grid of dead settings and bends.

For one shape the model is linear in its level, so level and variance have a normal inverse-gamma posterior in closed
form, and the shape has a marginal likelihood in closed form.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.special import softmax

from predictor.curves.base import Noise
from predictor.curves.catches import Catches
from predictor.curves.prior import Prior, Repeatability
from predictor.curves.shapes import Shapes, log_shapes
from predictor.domain.control import Floats

# The lightest shapes, this much of the evidence together, change no printed figure and are dropped.
NEGLIGIBLE = 2e-5
BENDS, DEADS = 7, 33
# Shapes whose log evidence lies further below the best need no closer look.
FAR = 18

# Log bends of the rows of a grid and, for each, the stretch of dead settings that is looked at.
Window = tuple[Floats, Floats, Floats]


@dataclass(frozen=True, eq=False)
class Groups:
    """Catches gathered by setting, and by filling where it is modelled: all that the likelihood needs."""

    at: Floats  # Settings as shares of the range
    value: Floats  # Weighted mean of log output, or of output where the noise is constant
    weight: Floats
    within: float  # Weighted sum of squares inside the groups
    n: int
    noise: Noise
    fill: Floats | None  # Filling above half, as a fraction; None where it is not in the model
    fill_prior: tuple[float, float]  # Mean and spread of the log output gained from empty to full

    @property
    def centre(self) -> float:
        """Weighted mean of the settings."""
        return float(np.sum(self.weight * self.at) / np.sum(self.weight))


class Levels(NamedTuple):
    """What the catches say of the level under each of K shapes; arrays of shape (K,)."""

    level: Floats
    square: Floats  # Sum of squares left
    info: Floats  # Information on the level, in catches of weight 1
    fill: Floats | None = None  # Effect of filling, where it is modelled
    fill_info: float = 1.0


def gather(at: Floats, catches: Catches) -> Groups:
    """Group catches that share setting and filling; `at` are their settings as shares of the range."""
    fill, value, weight = catches.fill, catches.values, catches.weights
    keys = at if fill is None else at + 1j * fill
    unique, inverse = keys, np.arange(len(keys))
    if len(keys) > 32:  # A handful of catches is quicker left alone
        unique, inverse = np.unique(keys, return_inverse=True)
    total: Floats = np.bincount(inverse, weight).astype(float)
    centre = np.bincount(inverse, weight * value) / total
    within = float(np.sum(weight * (value - centre[inverse]) ** 2))
    filling = None if fill is None else np.imag(unique)
    return Groups(np.real(unique), centre, total, within, len(at), catches.noise, filling, catches.fill_prior)


def start_window(prior: Prior, upper: float) -> Window:
    """Log bends and, for each, the stretch of dead settings that the prior leaves worth looking at."""
    reach = 6 * prior.dead_spread
    low = min(prior.dead, upper) - reach
    high = min(prior.dead + reach, upper)
    rows = BENDS if prior.bend_spread > 0 else 1
    half = 3.5 * prior.bend_spread
    log_bend = np.log(prior.bend) + np.linspace(-half, half, rows)
    return log_bend, np.full(rows, low), np.full(rows, high)


def grid(log_bend: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats, Floats]:
    """Dead settings, log bends and log cell sizes of a grid.

    A dead setting is the middle of its cell: one right at a catch's own setting would make its curve infinitely steep.
    """
    dead = low[:, None] + (high - low)[:, None] * ((np.arange(DEADS) + 0.5) / DEADS)[None, :]
    log_bends = np.broadcast_to(log_bend[:, None], dead.shape)
    cell = np.broadcast_to(np.log(np.maximum(high - low, 1e-300))[:, None], dead.shape)
    return dead, log_bends, cell


def average(groups: Groups, prior: Prior, known: Repeatability) -> tuple[Shapes, tuple[float, float] | None]:
    """Shapes, as shares of the range, weighed by the evidence, and the effect of filling where it is modelled."""
    proportional = groups.noise == "proportional"
    # The slot was open wherever a log output was caught. With constant noise only the centre must be open.
    window = start_window(prior, (groups.at.min() if proportional else groups.centre) - 1e-9)
    # The grid is narrowed until it resolves where the evidence lies.
    for _ in range(6):
        dead, log_bend, cell = grid(*window)
        fits = fit_each_shape(groups, dead.ravel(), np.exp(log_bend).ravel(), groups.centre, prior.typical_cv)
        log_shape = prior.log_density(dead, log_bend) + cell - 0.5 * np.log(fits.info).reshape(dead.shape)
        if not proportional:
            log_shape -= np.log(np.maximum(fits.level.reshape(dead.shape), 1e-300))
        log_weight = known.evidence(fits.square.reshape(dead.shape), groups.n - 1) + log_shape
        narrower = _narrow(window, log_weight.max(axis=0))
        if narrower is None:
            break
        window = narrower
    weight = softmax(log_weight).reshape(len(known.kinds), -1)
    ascending = np.sort(weight, axis=None)
    kind, shape = np.nonzero(weight >= ascending[np.searchsorted(np.cumsum(ascending), NEGLIGIBLE)])
    _, cv, worth = np.array(known.kinds).T[:, kind]
    dof = worth + groups.n - 1
    noise_scale = np.sqrt((worth * cv**2 + fits.square[shape]) / dof)
    shapes = Shapes(
        noise=groups.noise,
        dead=dead.ravel()[shape],
        bend=np.exp(log_bend).ravel()[shape],
        weight=weight[kind, shape] / weight[kind, shape].sum(),
        level=fits.level[shape],
        level_scale=noise_scale / np.sqrt(fits.info[shape]),
        noise_scale=noise_scale,
        dof=dof,
        reference=groups.centre,
    )
    if fits.fill is None:
        return shapes, None
    effect = fits.fill[shape]
    return shapes, (shapes.average(effect), shapes.sd(effect, noise_scale / np.sqrt(fits.fill_info)))


def _narrow(window: Window, log_weight: Floats) -> Window | None:
    """A window closer to the evidence, or None where the grid already resolves it."""
    log_bend, low, high = window
    rows, deads = log_weight.shape
    row_best = log_weight.max(axis=1)
    live = np.flatnonzero(row_best > row_best.max() - FAR)
    inside = log_weight[live] > row_best[live, None] - FAR
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
    new_low, new_high = _along_the_ridge(new_bend, log_bend[live], new_low, new_high)
    return new_bend, np.maximum(new_low, low.min()), np.minimum(new_high, high.max())


def _along_the_ridge(bend: Floats, known: Floats, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Stretches of dead settings at new log bends, from those at known ones.

    Given the bend, the dead setting lies on a ridge. Between the rows of a grid it is followed by interpolation.
    """
    if len(known) == 1:
        width = high[0] - low[0]
        return np.full(len(bend), low[0] - width), np.full(len(bend), high[0] + width)
    slope_low, slope_high = np.polyfit(known, low, 1), np.polyfit(known, high, 1)
    drift = 0.5 * np.ptp(bend) / (len(bend) - 1) * max(abs(slope_low[0]), abs(slope_high[0]))
    edge_low, edge_high = np.interp(bend, known, low), np.interp(bend, known, high)
    outside = (bend < known[0]) | (bend > known[-1])
    edge_low = np.where(outside, np.minimum(edge_low, np.polyval(slope_low, bend)), edge_low)
    edge_high = np.where(outside, np.maximum(edge_high, np.polyval(slope_high, bend)), edge_high)
    return edge_low - drift, edge_high + drift


def fit_each_shape(groups: Groups, dead: Floats, bend: Floats, reference: float, cv: float = 1.0) -> Levels:
    """Fit the level under each of K shapes that are 1 at `reference`; `cv` weighs what is known of the filling."""
    log_shape, w = log_shapes(groups.at, dead, bend, reference), groups.weight
    if groups.noise == "constant":
        shape = np.exp(log_shape)
        info = np.maximum((shape**2) @ w, 1e-300)
        level = (shape @ (w * groups.value)) / info
        return Levels(level, ((groups.value - level[:, None] * shape) ** 2) @ w + groups.within, info)
    rest = groups.value[None, :] - log_shape
    total = w.sum()
    centre = rest @ w / total
    if groups.fill is None:
        square = ((rest - centre[:, None]) ** 2) @ w + groups.within
        return Levels(centre, square, np.full(len(dead), total))
    middle = float(groups.fill @ w / total)
    off = groups.fill - middle
    expected, spread = groups.fill_prior
    strength = (cv / spread) ** 2
    curvature = float(off**2 @ w) + strength
    effect = (rest @ (w * off) + strength * expected) / curvature
    level = centre - effect * middle
    residual = rest - level[:, None] - effect[:, None] * groups.fill[None, :]
    square = residual**2 @ w + strength * (effect - expected) ** 2 + groups.within
    info = 1.0 / (1.0 / total + middle**2 / curvature)
    return Levels(level, square, np.full(len(dead), info), effect, curvature)
