"""Many earlier lots as one prior: the shape and repeatability they share, and the level of the next lot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from predictor.advice.earlier_lots import Table
from predictor.curves.prior import Prior, Repeatability
from predictor.domain.control import Floats

# A slot, a cam and a chain keep their shape from lot to lot, but not to the hair: seed of another size starts to
# flow a little earlier or later. Common practice, no source; the smallest spread history may claim.
LEAST_DEAD_SPREAD = 0.03
LEAST_BEND_SPREAD = 0.06
# Lots differ in repeatability too, so no history is worth more than this many catches of the lot in hand, and a box
# that was calm may have become a wild one: the share of such boxes, their repeatability, and what that is worth.
MOST_WORTH = 10.0
WILD_BOX = (0.15, 0.11, 8.0)
# How much more or less freely the same bags flow in another season, as a fraction: they dry, settle and lose dust, and
# meters wear. Our own judgement, no source. Lots seen in two seasons replace it, from this many pairs of seasons on.
SEASON_SPREAD = 0.08
ENOUGH_PAIRS = 3


@dataclass(frozen=True)
class SameLot:
    """What the same bags gave in an earlier season."""

    season: str
    level: float  # Log output at the table's middle
    spread: float  # How far it may be from that in the season in hand
    towed: bool


@dataclass(frozen=True)
class PooledShape:
    """The shape that lots share, as it is for the next lot."""

    dead: float
    log_bend: float
    spreads: tuple[float, float]  # Of both, for a new lot
    correlation: float


def pooled_shape(table: Table, weight: Floats) -> PooledShape:
    """The lots' shape, from the probability of each shape of the table."""
    dead, log_bend = float(weight @ table.dead), float(weight @ table.log_bend)
    dead_var = float(weight @ (table.dead - dead) ** 2) + _between(table, log_bend) + LEAST_DEAD_SPREAD**2
    bend_var = float(weight @ (table.log_bend - log_bend) ** 2) + LEAST_BEND_SPREAD**2
    cross = float(weight @ ((table.dead - dead) * (table.log_bend - log_bend)))
    correlation = float(np.clip(cross / np.sqrt(dead_var * bend_var), -0.95, 0.95))
    return PooledShape(dead, log_bend, (float(np.sqrt(dead_var)), float(np.sqrt(bend_var))), correlation)


def pooled_prior(table: Table) -> tuple[Prior, float | None]:
    """The lots' joint posterior, summed up as a prior for the next lot; and the spread between lots."""
    weight = table.posterior()
    shape = pooled_shape(table, weight)
    level, spread, lot_spread = _levels(table, weight)
    # the kinds of repeatability, each updated with the lots' scatter
    square, df = float(weight @ table.square(table.weight)), float(table.weight @ table.df)
    wild, learned = WILD_BOX[0], Repeatability(table.cold.repeatability).after(square, df).kinds
    kinds = [(share * (1 - wild), cv, min(worth, MOST_WORTH)) for share, cv, worth in learned if share > 1e-6]
    prior = Prior(
        dead=shape.dead,
        dead_spread=shape.spreads[0],
        bend=float(np.exp(shape.log_bend)),
        bend_spread=shape.spreads[1],
        correlation=shape.correlation,
        repeatability=(*kinds, WILD_BOX),
        level=level,
        level_spread=spread,
        level_at=table.at,
        name="history",
    )
    return prior, lot_spread


def _between(table: Table, log_bend: float) -> float:
    """Variance of the dead setting between lots beyond what each lot's own catches leave open."""
    dead, square = table.squares_at(log_bend)
    pooled = table.least() / max(float(table.df.sum()) - 1, 1.0)
    weight = np.exp(-0.5 * (square - square.min(axis=1, keepdims=True)) / max(pooled, 1e-12))
    weight /= weight.sum(axis=1, keepdims=True)
    estimates = weight @ dead
    variances = (weight * (dead - estimates[:, None]) ** 2).sum(axis=1) + 1e-8
    # Catches at one setting say nothing of the dead setting: their likelihood is as wide as the grid.
    known = variances < (0.15 * np.ptp(dead)) ** 2
    if known.sum() < 3:
        return 0.0
    estimate, w = estimates[known], 1 / variances[known]
    excess = float(w @ (estimate - np.average(estimate, weights=w)) ** 2) - (known.sum() - 1)
    return max(0.0, float(excess / (w.sum() - (w**2).sum() / w.sum())))


def between_lot_variance(means: npt.ArrayLike, counts: npt.ArrayLike, noise_variance: float) -> float:
    """Variance between lots beyond what the noise of their catches leaves in their means.

    Source: Searle, Casella & McCulloch (1992), Variance Components, ch. 3 and 4 (cited from memory).
    """
    noise = noise_variance * np.mean(1 / np.asarray(counts, dtype=float))
    return max(float(np.var(np.asarray(means, dtype=float), ddof=1) - noise), 0.0)


def _levels(table: Table, weight: Floats) -> tuple[float, float, float | None]:
    """Log output of the next lot at the table's middle, its spread, and the spread between lots."""
    levels, count = table.levels(weight), len(table.lots)
    if count == 1:
        return float(levels[0]), 0.25, None  # one lot says where, not how far the next may be; common practice
    noise = _noise(table, weight)
    lot_spread = float(np.sqrt(between_lot_variance(levels, table.n, noise)))
    # A spread from few lots is itself unsure: an ordinary 20 % (common practice) weighs as two lots.
    between = float(np.var(levels, ddof=1))
    spread = np.sqrt((2 * 0.2**2 + (count - 1) * between) / (count + 1) * (1 + 1 / count))
    return float(np.mean(levels)), float(spread), lot_spread


def same_lot(table: Table, lot: str) -> SameLot | None:
    """The latest earlier season of the lot in hand; None where it has none."""
    mine = [i for i, each in enumerate(table.lots) if each.season and each.lot.lower() == lot.lower()]
    if not mine:
        return None
    i, weight = mine[-1], table.posterior()
    levels = table.levels(weight)
    level = float(levels[i])
    noise = _noise(table, weight)
    shape = float(weight @ (table.level(i) - level) ** 2)  # its settings may lie far from the table's middle
    spread = float(np.sqrt(season_variance(table, levels, noise) + noise / table.n[i] + shape))
    return SameLot(table.lots[i].season, level, spread, table.lots[i].towed)


def season_variance(table: Table, levels: Floats, noise: float) -> float:
    """Variance of the change of a lot's level from one season to its next."""
    seen: dict[str, int] = {}
    pairs = []
    for i, each in enumerate(table.lots):
        if each.lot.lower() in seen:
            pairs.append((seen[each.lot.lower()], i))
        seen[each.lot.lower()] = i
    if len(pairs) < ENOUGH_PAIRS:
        return SEASON_SPREAD**2
    earlier, later = np.transpose(pairs)
    beyond = (levels[later] - levels[earlier]) ** 2 - noise * (1 / table.n[later] + 1 / table.n[earlier])
    # a spread from few pairs is itself unsure: the usual one weighs as two of them
    return float((2 * SEASON_SPREAD**2 + max(beyond.sum(), 0.0)) / (2 + len(pairs)))


def _noise(table: Table, weight: Floats) -> float:
    """Variance of log outputs about the common shape."""
    df = float(table.df.sum())
    return float(weight @ table.square(np.ones(len(table.lots)))) / df if df >= 3 else table.cold.typical_cv**2
