"""Earlier lots of a box, side by side under every shape of the curve: which are wild, and whether seasons drifted."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import fdtrc

from predictor.advice.evidence import lengths
from predictor.curves.prior import Prior, Repeatability, cold_prior
from predictor.curves.shapes import log_shapes
from predictor.domain.control import Floats
from predictor.domain.drill import SeedBox
from predictor.domain.drives import OnDrive
from predictor.domain.season import season_time
from predictor.domain.trials import Trials

# A lot this unlike the others (tail of an F distribution) is left out, and named.
WILD, MOST_SUSPECTS = 0.001, 20
# Seasons whose shapes differ at this level have drifted: each further season back then counts half.
DRIFTED = 0.01


@dataclass(frozen=True)
class EarlierLot:
    """The catches of an earlier lot, gathered by setting."""

    lot: str
    season: str
    at: Floats  # Settings caught, as shares of the range
    value: Floats  # Mean of log output at each
    weight: Floats  # Its precision, in ordinary catches
    within: float  # Sum of squares about these means
    n: int
    towed: bool
    scaled: int = 0  # Catches on another drive than the first

    @property
    def name(self) -> str:
        """The lot with its season."""
        return f"{self.lot} ({self.season})" if self.season else self.lot

    @classmethod
    def of(cls, lot: str, season: str, at: Floats, trials: Trials, own: float) -> EarlierLot:
        """A lot's catches gathered by setting; a share `own` of their noise averages out over more turns and rows."""
        settings, inverse = np.unique(at, return_inverse=True)
        value, weight = np.log(trials.output), 1 / (own / lengths(trials) + 1 - own)
        total = np.bincount(inverse, weight).astype(float)
        mean = np.bincount(inverse, weight * value) / total
        within = float(weight @ (value - mean[inverse]) ** 2)
        return cls(lot, season, settings, mean, total, within, len(at), bool(trials.towed.any()))

    def fits(self, dead: Floats, bend: Floats, reference: float) -> tuple[Floats, Floats]:
        """Level under each shape, and the sum of squares that it leaves."""
        rest = self.value - log_shapes(self.at, dead, bend, reference)
        level = rest @ self.weight / self.weight.sum()
        return level, (rest - level[:, None]) ** 2 @ self.weight + self.within


# Lots, and the names of those that no known ratio of drives places.
Lots = tuple[list[EarlierLot], tuple[str, ...]]


def lots_of(trials: Trials, box: SeedBox, lot_in_hand: str | None, season_in_hand: str | None) -> Lots:
    """Earlier lots with catches that count, oldest season first; a lot used in two seasons is two lots."""
    control = box.first_control
    mine = trials.where(trials.counts).in_box(box)
    times = trials.season_times
    until = np.inf if season_in_hand is None else times.get(season_in_hand, season_time(season_in_hand))
    pairs = set(zip(mine.season.tolist(), mine.lot.tolist(), strict=True))
    if isinstance(control, OnDrive):
        mine = mine.on_drive(box.control, control.drive)
    lots, lost, own = list[EarlierLot](), list[str](), cold_prior(box.holds).usual_own
    for season, lot in sorted(pairs, key=lambda pair: (times[pair[0]], *pair)):
        # undated catches of the lot in hand are its own, whatever its season
        if times[season] > until or (lot == lot_in_hand and season in (season_in_hand, "")):
            continue
        part = mine.of(lot=lot, season=season)
        if not len(part):  # all on drives whose ratio is not known
            lost.append(f"{lot} ({season})" if season else lot)
            continue
        part = part.where(part.towed) if part.towed.any() else part  # slip lies between the two kinds
        at = (part.opening - control.lowest_opening) / control.span
        found = EarlierLot.of(lot, season, at, part, own)
        if isinstance(control, OnDrive):
            found = replace(found, scaled=int((part.drives(box.control) != control.drive).sum()))
        lots.append(found)
    return lots, tuple(lost)


class Table:
    """Sums of squares and levels of every lot under every shape of one grid, worked out once."""

    def __init__(self, lots: list[EarlierLot], cold: Prior):
        lowest = min(float(lot.at.min()) for lot in lots)
        dead = np.linspace(min(cold.dead, lowest) - 5 * cold.dead_spread, lowest - 1e-6, 121)
        grid = np.meshgrid(dead, np.log(cold.bend) + np.linspace(-3.5, 3.5, 29) * cold.bend_spread)
        self.dead, self.log_bend = grid[0].ravel(), grid[1].ravel()
        self.cold, self.lots = cold, lots
        self.n = np.array([lot.n for lot in lots], dtype=float)
        self.at = float(np.average([np.average(lot.at, weights=lot.weight) for lot in lots], weights=self.n))
        fits = [lot.fits(self.dead, np.exp(self.log_bend), self.at) for lot in lots]
        self.level, self.square = np.array([fit[0] for fit in fits]), np.array([fit[1] for fit in fits])
        self.weight = np.ones(len(lots))  # What the catches of each lot count

    @property
    def df(self) -> Floats:
        """Degrees of freedom that each lot's own level leaves."""
        return self.n - 1

    def of(self, keep: list[int]) -> Table:
        """The table of some of the lots, on the same grid."""
        part = copy(self)
        part.lots = [self.lots[i] for i in keep]
        for name in ("n", "level", "square", "weight"):
            setattr(part, name, getattr(self, name)[keep])
        return part

    def aged(self, times: dict[str, float]) -> Table:
        """The same, with each further season back counting half."""
        seasons = sorted({lot.season for lot in self.lots}, key=lambda season: (times[season], season), reverse=True)
        aged = copy(self)
        aged.weight = np.array([0.5 ** seasons.index(lot.season) for lot in self.lots])
        return aged

    def least(self, lots: list[int] | slice = slice(None)) -> float:
        """Smallest sum of squares that one shape leaves in all or some of the lots."""
        return float(self.square[lots].sum(axis=0).min())

    def posterior(self) -> Floats:
        """Probability of each shape."""
        square, df = self.weight @ self.square, float(self.weight @ self.df)
        parts = Repeatability(self.cold.repeatability).evidence(square, df)
        log_weight = np.logaddexp.reduce(parts, axis=0) + self.cold.log_density(self.dead, self.log_bend)
        weight = np.exp(log_weight - log_weight.max())
        return np.asarray(weight / weight.sum())


def without_wild(table: Table) -> tuple[Table, list[str]]:
    """Leave out, worst first, lots that no common shape and repeatability explains; never more than a third."""
    keep, left_out = list(range(len(table.n))), list[str]()
    while len(keep) > 3 and len(left_out) < len(table.n) // 3:
        total, count = table.square[keep].sum(axis=0), float(table.df[keep].sum())
        # a wild lot has much scatter about the shape of all: only the worst few are looked at without themselves
        own = table.square[keep, int(np.argmin(total))] / np.maximum(table.df[keep], 1)
        worst, worst_tail = None, WILD / len(keep)
        for i in np.array(keep)[np.argsort(own)[::-1][:MOST_SUSPECTS]].tolist():
            others, lot_df = total - table.square[i], table.df[i]
            shape, df = int(np.argmin(others)), count - lot_df - 1
            if df < 3 or lot_df < 1:
                continue
            tail = float(fdtrc(lot_df, df, table.square[i, shape] / lot_df / max(others[shape] / df, 1e-300)))
            if tail < worst_tail:
                worst, worst_tail = i, tail
        if worst is None:
            break
        keep.remove(worst)
        left_out.append(table.lots[worst].name)
    return table.of(keep), left_out


def has_drifted(table: Table) -> bool:
    """Whether seasons need shapes of their own: more than lots of one season differ among themselves (F test)."""
    names = [lot.season for lot in table.lots]
    seasons = [[i for i, name in enumerate(names) if name == season] for season in sorted(set(names))]
    between_df, within_df = 2 * (len(seasons) - 1), 2 * (len(names) - len(seasons))
    noise_df = float(table.df.sum()) - 2 * len(names)
    if between_df < 2 or within_df < 4 or noise_df < 3:
        return False  # one lot a season cannot tell seasons from lots
    by_season, by_lot = sum(map(table.least, seasons)), sum(table.least([i]) for i in range(len(names)))
    if by_lot <= 0:
        return False
    within = max((by_season - by_lot) / within_df, by_lot / noise_df)
    return bool(fdtrc(between_df, within_df, (table.least() - by_season) / between_df / within) < DRIFTED)
