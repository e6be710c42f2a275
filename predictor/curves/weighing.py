"""How much each shape of a curve is worth: the evidence of the catches on a grid of dead settings and bends.

For one shape the model is linear in its level, and level and variance have a normal inverse-gamma posterior in closed
form; what that leaves is the shape's marginal likelihood.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from predictor.curves.prior import Prior

# The lightest shapes, this much of the evidence together, change no printed figure and are dropped.
NEGLIGIBLE = 2e-5


@dataclass(frozen=True)
class Groups:
    """Catches gathered by setting (and filling): all that the likelihood needs of them."""

    at: np.ndarray  # Settings as shares of the range
    value: np.ndarray  # Weighted mean of log output (or output)
    weight: np.ndarray
    within: float  # Weighted sum of squares inside the groups
    n: int
    fill: np.ndarray | None  # Filling above half, as a fraction; None where it is not in the model


def gather(at: np.ndarray, value: np.ndarray, weight: np.ndarray, fill: np.ndarray | None) -> Groups:
    """Group catches that share setting and filling."""
    keys = at if fill is None else at + 1j * fill
    if len(keys) > 32:
        unique, inverse = np.unique(keys, return_inverse=True)
    else:  # a handful of catches is quicker left alone
        unique, inverse = keys, np.arange(len(keys))
    total = np.bincount(inverse, weight)
    centre = np.bincount(inverse, weight * value) / total
    within = float(np.sum(weight * (value - centre[inverse]) ** 2))
    return Groups(np.real(unique), centre, total, within, len(at), None if fill is None else np.imag(unique))


def start_window(prior: Prior, upper: float):
    """Log bends and, for each, the stretch of dead settings that the prior leaves worth looking at."""
    reach = 6 * prior.dead_spread
    low = min(prior.dead, upper) - reach
    high = min(prior.dead + reach, upper)
    rows = _BENDS if prior.bend_spread > 0 else 1
    half = 3.5 * prior.bend_spread
    log_bend = np.log(prior.bend) + np.linspace(-half, half, rows)
    return log_bend, np.full(rows, low), np.full(rows, high)


_BENDS, _DEADS = 7, 33


def grid(log_bend: np.ndarray, low: np.ndarray, high: np.ndarray):
    """Dead settings, log bends and log cell sizes of a grid.

    Cells are met in their middle: a dead setting right at a catch's own setting would make its curve infinitely steep.
    """
    dead = low[:, None] + (high - low)[:, None] * ((np.arange(_DEADS) + 0.5) / _DEADS)[None, :]
    log_bends = np.broadcast_to(log_bend[:, None], dead.shape)
    cell = np.broadcast_to(np.log(np.maximum(high - low, 1e-300))[:, None], dead.shape)
    return dead, log_bends, cell


def with_rows(kinds, extra_noise):
    """Kinds of repeatability, each joined with what the single rows say, and weighed by it."""
    if extra_noise is None:
        return list(kinds)
    cv, worth = extra_noise
    parts = [(share, own_worth, own_worth * own_cv**2) for share, own_cv, own_worth in kinds]
    log_share = kind_evidence(np.array(worth * cv**2), worth + 1, parts)
    share = np.exp(log_share - log_share.max())
    share /= share.sum()
    return [
        (float(each), float(np.sqrt((square + worth * cv**2) / (own_worth + worth))), own_worth + worth)
        for each, (_, own_worth, square) in zip(share, parts, strict=True)
    ]


def kind_evidence(square: np.ndarray, n: float, kinds) -> np.ndarray:
    """Log marginal likelihood of sums of squares for each kind of repeatability, up to a constant."""
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


def average(groups, prior, kinds, reference, noise, fill_prior):
    """Weigh all shapes, narrowing the grid until it resolves where the evidence lies."""
    # An output above zero says that the slot was open there; with constant noise only the centre must be open.
    upper = (groups.at.min() if noise == "proportional" else reference) - 1e-9
    window = start_window(prior, upper)
    for _ in range(6):
        dead, log_bend, cell = grid(*window)
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
