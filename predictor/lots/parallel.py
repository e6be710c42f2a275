"""Lots on one curve shape: log output = level of the lot + log(opening - dead setting), and whether that holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# A dead setting is looked for on this grid first, so that a second hollow in the sum of squares cannot trap the
# search; then by halving, which cannot fail and reaches the last digit.
GRID = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 43)[1:-1])
HALVINGS = 50
# How near the dead setting may come to a caught opening, as a share: at it the log of the output has no value.
NEAREST = 1 - 1e-9


@dataclass(frozen=True)
class ParallelLines:
    """Lines of responses z on x with a level for each lot and a slope for each group of lots."""

    level: np.ndarray  # Level of each lot at x = 0
    count: np.ndarray  # Catches of each lot
    centre: np.ndarray  # Mean x of each lot
    slope: np.ndarray  # Slope of each group; NaN where none of its lots was caught at two values of x
    spread: np.ndarray  # Sum of squares of x about the lots' means, by group
    residual: np.ndarray
    ss: float  # Residual sum of squares
    df: int  # Its degrees of freedom: catches - lots - slopes


def lot_means(values, lot, count):
    """Mean of the values in each lot, with one correction step for large offsets."""
    mean = np.bincount(lot, weights=values, minlength=len(count)) / count
    return mean + np.bincount(lot, weights=values - mean[lot], minlength=len(count)) / count


def parallel_lines(z, x, lot, group) -> ParallelLines:
    """Least squares for a level per lot and a slope per group of lots.

    Source: Finney (1978), Statistical Method in Biological Assay, chapters 4 and 5 (parallel-line assays).
    """
    z, x = np.asarray(z, dtype=float), np.asarray(x, dtype=float)
    lot, group = np.asarray(lot), np.asarray(group)
    count = np.bincount(lot)
    z_mean, centre = lot_means(z, lot, count), lot_means(x, lot, count)
    z_in, x_in = z - z_mean[lot], x - centre[lot]
    spread = np.bincount(group, weights=x_in * x_in)
    size = np.bincount(group, weights=x * x)
    tells = spread > 1e-20 * size
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.where(tells, np.bincount(group, weights=x_in * z_in) / spread, np.nan)
    used = np.where(tells, slope, 0.0)
    residual = z_in - used[group] * x_in
    level = z_mean - used[_group_of_lot(lot, group, len(count))] * centre
    df = len(z) - len(count) - int(tells.sum())
    return ParallelLines(level, count, centre, slope, spread, residual, float(residual @ residual), df)


@dataclass(frozen=True)
class Shape:
    """Curve shapes fitted to lots: f(x) = log(1 + bend (x - middle)), zero output at middle - 1/bend."""

    middle: np.ndarray  # Mean opening of the group
    bend: np.ndarray
    lines: ParallelLines


def height(opening, middle, bend):
    """f(x) = log(1 + bend (x - middle)); openings at or below the dead setting give -inf."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(
            1 + bend * (opening - middle) > 0,
            np.log1p(np.maximum(bend * (opening - middle), -1.0)),
            -np.inf,
        )


def lean(opening, middle, bend):
    """df/dbend = (x - middle) / (1 + bend (x - middle)): how the height answers to the bend."""
    return (opening - middle) / (1 + bend * (opening - middle))


def fit_shape(log_output, opening, lot, group) -> Shape:
    """Fit log output = level of the lot + log(1 + bend (opening - middle)) by least squares.

    The bend is the one parameter that is not linear. It is profiled: for each bend the levels are means, so a
    whole log costs one pass over its catches a trial bend, for all groups at once.

    Source: Seber and Wild (1989), Nonlinear Regression, sections 5.4 and 14.7 (one conditionally nonlinear parameter).
    """
    ly, x = np.asarray(log_output, dtype=float), np.asarray(opening, dtype=float)
    count = np.bincount(lot)
    size = np.bincount(group)
    middle = lot_means(x, group, size)
    away = x - middle[group]
    low, high = np.zeros(len(size)), np.zeros(len(size))
    np.minimum.at(low, group, away)
    np.maximum.at(high, group, away)
    moves = (high - low) > 1e-12 * np.maximum(np.abs(middle), 1e-300)
    down = np.where(moves, -1 / np.where(high > 0, high, 1.0), -1e-3)  # just short of these, an output would be zero
    up = np.where(moves, -1 / np.where(low < 0, low, -1.0), 1e-3)

    def at(u):
        return np.where(u >= 0, u * up, -u * down)

    def centred(values):
        return values - lot_means(values, lot, count)[lot]

    def loss(bend):
        left = centred(ly - np.log1p(bend[group] * away))
        return np.bincount(group, weights=left * left)

    losses = np.array([loss(at(np.full(len(size), u))) for u in GRID])
    best = losses.argmin(axis=0)
    edge = np.concatenate([[-NEAREST], GRID, [NEAREST]])
    left, right = edge[best], edge[best + 2]
    for _ in range(HALVINGS):
        bend = at((left + right) / 2)
        curve = 1 + bend[group] * away
        rest = centred(ly - np.log(curve))
        falling = np.bincount(group, weights=rest * (away / curve)) > 0  # residuals ask for more bend
        left, right = np.where(falling, (left + right) / 2, left), np.where(falling, right, (left + right) / 2)
    bend = at((left + right) / 2)
    slope_x = lean(x, middle[group], bend[group])
    lines = parallel_lines(ly - np.log1p(bend[group] * away) + bend[group] * slope_x, slope_x, lot, group)
    bend = np.where(np.isnan(lines.slope), np.nan, bend)
    return Shape(middle, bend, lines)


def _group_of_lot(lot, group, lots):
    """Code of the group that each lot belongs to, shape (L,)."""
    belongs = np.zeros(lots, dtype=int)
    belongs[lot] = group
    return belongs
