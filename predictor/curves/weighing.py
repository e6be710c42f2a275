"""How much each shape of a curve and each size of the noise is worth: the evidence of the catches on a grid.

Given a shape (dead setting and bend) and a noise, the log output is normal with one unknown, the level, whose
posterior and marginal likelihood have closed forms. Shapes and noises are a grid, narrowed until it resolves where the
evidence lies. Nothing is sampled.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from predictor.curves.base import Noise
from predictor.curves.catches import Catches, Inside
from predictor.curves.prior import Prior, Repeatability
from predictor.curves.shapes import Shapes, log_shapes
from predictor.domain.control import Floats

# The lightest components, this much of the evidence together, change no printed figure and are dropped.
NEGLIGIBLE = 2e-4
BENDS, DEADS, NOISES = 7, 33, 9
# Shapes and noises whose log evidence lies further below the best need no closer look.
FAR = 18.0
FAR_NOISE = 9.0
# Steps of the grid of noises that the evidence must span: a sum over it is then exact to a few in a thousand.
RESOLVED = 5
# No curve is exactly a bent line. A catch whose output differs from the wanted one by a factor of e may lie off the
# curve that holds near the wanted output by this much more than its noise; catches at one setting do so together.
MISFIT = 0.10


class Window(NamedTuple):
    """Log bends of the rows of a grid, for each the stretch of dead settings, and the stretch of log noises."""

    log_bend: Floats
    low: Floats
    high: Floats
    noise: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Cells:
    """Catches gathered by setting, and by filling where it is modelled, and below that by length.

    G settings (or pairs of setting and filling), C cells.
    """

    at: Floats  # Settings as shares of the range, (G,)
    fill: Floats | None  # Filling above half, as a fraction, (G,); None where it is not in the model
    misfit: Floats  # Variance of the misfit at each setting, (G,)
    first: np.ndarray  # Where the cells of each setting start, (G,)
    value: Floats  # Mean of log output, or of output where the noise is constant, (C,)
    count: Floats  # Catches, (C,)
    size: Floats  # Length of each, in ordinary catches, (C,)
    reading: Floats  # Variance of reading the scale, (C,)
    within: Floats  # Sum of squares inside the cells, (C,)
    noise: Noise
    fill_prior: tuple[float, float]
    rows: Inside | None
    parts: Inside | None

    @property
    def centre(self) -> float:
        """Mean of the settings caught."""
        weight = np.add.reduceat(self.count * self.size, self.first)
        return float(weight @ self.at / weight.sum())

    @property
    def plain(self) -> bool:
        """Whether all catches are as long as an ordinary one and weighed whole, so that all noise looks alike."""
        return self.parts is None and bool(np.all(self.size == 1.0))


def gather(at: Floats, catches: Catches, near: float | None) -> Cells:
    """Gather catches; `at` are their settings as shares of the range, `near` is the output that matters."""
    fill = catches.fill
    keys = [at] if fill is None else [at, fill]
    order = np.lexsort((catches.weights, *keys[::-1]))
    sorted_keys = np.array(keys)[:, order]
    size = catches.weights[order]
    new = np.r_[True, (np.diff(sorted_keys, axis=1) != 0).any(axis=0)]
    starts = np.flatnonzero(new | np.r_[True, np.diff(size) != 0])
    value = catches.values[order]
    count = np.diff(np.r_[starts, len(at)]).astype(float)
    mean = np.add.reduceat(value, starts) / count
    within = np.add.reduceat((value - np.repeat(mean, count.astype(int))) ** 2, starts)
    reading = np.zeros(len(at)) if catches.reading is None else catches.reading[order] ** 2
    first = np.flatnonzero(new[starts])
    setting = starts[first]
    weight = count * size[starts]
    middle = np.add.reduceat(weight * mean, first) / np.add.reduceat(weight, first)
    return Cells(
        at=sorted_keys[0, setting],
        fill=None if fill is None else sorted_keys[1, setting],
        misfit=_misfit(middle, catches.noise, near),
        first=first,
        value=mean,
        count=count,
        size=size[starts],
        reading=np.add.reduceat(reading, starts) / count,
        within=within,
        noise=catches.noise,
        fill_prior=catches.fill_prior,
        rows=catches.rows,
        parts=catches.parts,
    )


def _misfit(middle: Floats, noise: Noise, near: float | None) -> Floats:
    """Variance of what lies far from the wanted output about the curve that holds near it."""
    if near is None or noise == "constant":
        return np.zeros(len(middle))
    return np.asarray((MISFIT * (middle - np.log(near))) ** 2)


def start_window(prior: Prior, upper: float, closed: float, known: Repeatability) -> Window:
    """What the prior leaves worth looking at, between where nothing came and the lowest catch of something."""
    reach = 6 * prior.dead_spread
    low = max(min(prior.dead, upper) - reach, closed)
    high = min(max(prior.dead, closed) + reach, upper)
    rows = BENDS if prior.bend_spread > 0 else 1
    half = 3.5 * prior.bend_spread
    log_bend = np.log(prior.bend) + np.linspace(-half, half, rows)
    cvs = [cv for _, cv, _ in known.kinds]
    noise = float(np.log(min(cvs)) - 2.5), float(np.log(max(cvs)) + 2.5)
    return Window(log_bend, np.full(rows, low), np.full(rows, high), noise)


def grid(window: Window) -> tuple[Floats, Floats, Floats]:
    """Dead settings, log bends and log cell sizes of a grid.

    A dead setting is the middle of its cell: one right at a catch's own setting would make its curve infinitely steep.
    """
    log_bend, low, high, _ = window
    dead = low[:, None] + (high - low)[:, None] * ((np.arange(DEADS) + 0.5) / DEADS)[None, :]
    log_bends = np.broadcast_to(log_bend[:, None], dead.shape)
    cell = np.broadcast_to(np.log(np.maximum(high - low, 1e-300))[:, None], dead.shape)
    return dead, log_bends, cell


class Noises(NamedTuple):
    """What J sizes of the noise make of the catches."""

    sd: Floats  # Noise of an ordinary catch, (J,)
    own: Floats  # Share of its variance that averages out, (J,)
    log_weight: Floats  # Prior and likelihood of all that does not depend on the shape, (J,)
    weight: Floats  # Precision of each setting's mean, (J, G)
    value: Floats  # Each setting's mean, (J, G)


def noises(cells: Cells, prior: Prior, known: Repeatability, stretch: tuple[float, float]) -> Noises:
    """The noises of a grid; where catches differ in length, for each share of noise that averages out."""
    shares, own = np.transpose(prior.own)
    log_sd = np.linspace(*stretch, NOISES)
    log_prior = known.log_density(log_sd)
    if cells.plain:
        own, shares = np.array([shares @ own]), np.ones(1)
    log_sd, own = np.repeat(log_sd, len(own)), np.tile(own, NOISES)
    log_weight = (log_prior[:, None] + np.log(shares)[None, :]).ravel()
    variance = np.exp(2 * log_sd)
    if cells.rows is not None:  # How much of the noise all rows have in common is another unknown, and not asked for
        row_shares, row_own = np.transpose(prior.own)
        each = cells.rows.log_likelihood(variance[:, None] * row_own[None, :]) + np.log(row_shares)
        log_weight = log_weight + np.logaddexp.reduce(each, axis=1)
    if cells.parts is not None:
        log_weight = log_weight + cells.parts.log_likelihood(variance * own)
    catch = variance[:, None] * (own[:, None] / cells.size + (1 - own)[:, None]) + cells.reading
    precision = cells.count / catch
    shifted = cells.value + 0.5 * catch if cells.noise == "proportional" else np.broadcast_to(cells.value, catch.shape)
    total = np.add.reduceat(precision, cells.first, axis=1)
    value = np.add.reduceat(precision * shifted, cells.first, axis=1) / total
    inner = (cells.within / catch).sum(axis=1)
    if len(cells.first) < len(cells.count):
        repeated = np.repeat(value, np.diff(np.r_[cells.first, len(cells.count)]), axis=1)
        inner = inner + (precision * (shifted - repeated) ** 2).sum(axis=1)
    spread = 1 + cells.misfit * total
    log_weight = log_weight - 0.5 * (np.log(catch) @ cells.count + np.log(spread).sum(axis=1) + inner)
    return Noises(np.exp(log_sd), own, log_weight, total / spread, value)


class Levels(NamedTuple):
    """What the catches say of the level under K shapes and J noises; arrays of shape (K, J)."""

    level: Floats
    scale: Floats
    log_weight: Floats
    effect: Floats | None = None  # Of the filling, and its standard deviation
    effect_sd: Floats | None = None


def levels(cells: Cells, log_shape: Floats, found: Noises) -> Levels:
    """The level's posterior and the evidence, given log shapes at the settings, (K, G)."""
    w, y = found.weight, found.value
    total, sum_y, sum_yy = w.sum(axis=1), (w * y).sum(axis=1), (w * y * y).sum(axis=1)
    if cells.noise == "constant":
        shape = np.exp(log_shape)
        info = np.maximum(shape**2 @ w.T, 1e-300)
        level = shape @ (w * y).T / info
        log_weight = found.log_weight - 0.5 * (np.log(info) + sum_yy - info * level**2)
        # A level has no sign beforehand: its prior is flat in the logarithm.
        return Levels(level, 1 / np.sqrt(info), log_weight - np.log(np.maximum(level, 1e-300)))
    sum_s = log_shape @ w.T
    rest = sum_y - sum_s  # Sum of w (y - shape)
    square = sum_yy - 2 * (log_shape @ (w * y).T) + log_shape**2 @ w.T
    if cells.fill is None:
        level = rest / total
        log_weight = found.log_weight - 0.5 * (np.log(total) + square - total * level**2)
        return Levels(level, np.broadcast_to(1 / np.sqrt(total), level.shape), log_weight)
    expected, spread = cells.fill_prior
    wf = w * cells.fill
    sum_f, sum_ff = wf.sum(axis=1), wf @ cells.fill + spread**-2
    rest_f = (wf * y).sum(axis=1) - log_shape @ wf.T + expected * spread**-2
    square = square + (expected / spread) ** 2
    determinant = total * sum_ff - sum_f**2
    level = (sum_ff * rest - sum_f * rest_f) / determinant
    effect = (total * rest_f - sum_f * rest) / determinant
    log_weight = found.log_weight - 0.5 * (np.log(determinant) + square - level * rest - effect * rest_f)
    level_sd, effect_sd = np.sqrt(sum_ff / determinant), np.sqrt(total / determinant)
    return Levels(level, np.broadcast_to(level_sd, level.shape), log_weight, effect, effect_sd)


def average(
    cells: Cells, prior: Prior, known: Repeatability, closed: float
) -> tuple[Shapes, tuple[float, float] | None, float]:
    """Shapes, as shares of the range, weighed by the evidence; the effect of filling where modelled; log evidence."""
    proportional = cells.noise == "proportional"
    # The slot was open wherever a log output was caught. With constant noise only the centre must be open.
    reference = cells.centre
    upper = (float(cells.at.min()) if proportional else reference) - 1e-9
    window = start_window(prior, upper, min(closed, upper - 1e-6), known)
    for _ in range(12):
        dead, log_bend, cell = grid(window)
        found = noises(cells, prior, known, window.noise)
        shape = log_shapes(cells.at, dead.ravel(), np.exp(log_bend).ravel(), reference)
        if not proportional:
            shape = np.maximum(shape, -700.0)
        fits = levels(cells, shape, found)
        log_weight = fits.log_weight + (prior.log_density(dead, log_bend) + cell).ravel()[:, None]
        narrower = _narrow(window, log_weight.max(axis=1).reshape(dead.shape), log_weight.max(axis=0))
        if narrower is None:
            break
        window = narrower
    weight = np.exp(log_weight - log_weight.max())
    evidence = float(log_weight.max() + np.log(weight.sum())) + _log_step(window)
    weight /= weight.sum()
    ascending = np.sort(weight, axis=None)
    lightest = ascending[np.searchsorted(np.cumsum(ascending), NEGLIGIBLE)]
    k, j = np.nonzero(weight >= lightest)
    shapes = Shapes(
        noise=cells.noise,
        dead=dead.ravel()[k],
        bend=np.exp(log_bend).ravel()[k],
        weight=weight[k, j] / weight[k, j].sum(),
        level=fits.level[k, j],
        level_scale=fits.scale[k, j],
        sd=found.sd[j],
        own=found.own[j],
        reference=reference,
    )
    if fits.effect is None or fits.effect_sd is None:
        return shapes, None, evidence
    effect = fits.effect[k, j]
    return shapes, (shapes.average(effect), shapes.spread(effect, fits.effect_sd[j])), evidence


def _log_step(window: Window) -> float:
    """Log size of a cell of a grid, in log noise and log bend; that in dead settings is in the weights already."""
    bends = np.ptp(window.log_bend) / (len(window.log_bend) - 1) if len(window.log_bend) > 1 else 1.0
    return float(np.log(bends * (window.noise[1] - window.noise[0]) / (NOISES - 1) / DEADS))


def _narrow(window: Window, shape_weight: Floats, noise_weight: Floats) -> Window | None:
    """A window closer to the evidence, or None where the grid already resolves it.

    The shapes come first: among shapes that are too few, all catches seem to scatter.
    """
    shapes = _narrow_shapes(window, shape_weight)
    if shapes is not None:
        return shapes
    noise = _narrow_noise(window.noise, noise_weight)
    return None if noise is None else window._replace(noise=noise)


def _narrow_noise(stretch: tuple[float, float], log_weight: Floats) -> tuple[float, float] | None:
    best = log_weight.reshape(NOISES, -1).max(axis=1)
    live = np.flatnonzero(best > best.max() - FAR_NOISE)
    nodes = np.linspace(*stretch, NOISES)
    if live[-1] - live[0] >= RESOLVED:
        return None
    return float(nodes[max(live[0] - 1, 0)]), float(nodes[min(live[-1] + 1, NOISES - 1)])


def _narrow_shapes(window: Window, log_weight: Floats) -> Window | None:
    log_bend, low, high, noise = window
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
        return Window(log_bend, new_low, new_high, noise)
    start, stop = max(live[0] - 1, 0), min(live[-1] + 1, rows - 1)
    new_bend = np.linspace(log_bend[start], log_bend[stop], rows)
    new_low, new_high = _along_the_ridge(new_bend, log_bend[live], new_low, new_high)
    return Window(new_bend, np.maximum(new_low, low.min()), np.minimum(new_high, high.max()), noise)


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
