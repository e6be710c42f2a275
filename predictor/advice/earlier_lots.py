"""Earlier lots of a box, side by side under every shape of the curve: which are wild, and whether seasons drifted."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple, overload

import numpy as np
import numpy.typing as npt
from scipy.special import fdtrc

from predictor.advice.evidence import lengths
from predictor.curves.prior import Prior, Repeatability, cold_prior
from predictor.curves.shapes import log_shapes
from predictor.domain.codes import coded
from predictor.domain.control import Floats
from predictor.domain.drill import SeedBox
from predictor.domain.drives import OnDrive
from predictor.domain.season import season_time
from predictor.domain.trials import Flags, Trials

# A lot this unlike the others (tail of an F distribution) is left out, and named.
WILD, MOST_SUSPECTS = 0.001, 20
# Seasons whose shapes differ at this level have drifted: each further season back then counts half.
DRIFTED = 0.01


class EarlierLot(NamedTuple):
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


Ints = npt.NDArray[np.int_]


@dataclass(frozen=True, eq=False)
class EarlierLots(Sequence[EarlierLot]):
    """Earlier lots, side by side: the catches of all are a cell for each lot and setting."""

    names: list[tuple[str, str]]  # Season and lot
    place: Ints  # Of the lot of each cell, in order
    at: Floats
    value: Floats
    weight: Floats
    within: Floats  # Of each lot, and so on
    n: Ints
    towed: Flags
    scaled: Ints

    def __len__(self) -> int:
        return len(self.names)

    def __iter__(self) -> Iterator[EarlierLot]:
        return iter(self._each)

    @overload
    def __getitem__(self, i: int) -> EarlierLot: ...

    @overload
    def __getitem__(self, i: slice) -> list[EarlierLot]: ...

    def __getitem__(self, i: int | slice) -> EarlierLot | list[EarlierLot]:
        return self._each[i]

    @cached_property
    def _each(self) -> list[EarlierLot]:
        """Each lot by itself."""
        ends = np.searchsorted(self.place, np.arange(len(self) + 1)).tolist()
        own = zip(*(each.tolist() for each in (self.within, self.n, self.towed, self.scaled)), strict=True)
        return [
            EarlierLot(lot, season, self.at[first:end], self.value[first:end], self.weight[first:end], *rest)
            for (season, lot), (first, end), rest in zip(self.names, itertools.pairwise(ends), own, strict=True)
        ]


def together(several: Sequence[EarlierLots]) -> EarlierLots:
    """The lots of several logs of one drill."""
    if len(several) == 1:
        return several[0]
    before = np.cumsum([0, *map(len, several)])
    return EarlierLots(
        [each for lots in several for each in lots.names],
        np.concatenate([lots.place + first for lots, first in zip(several, before.tolist(), strict=False)]),
        *(
            np.concatenate([getattr(lots, name) for lots in several])
            for name in ("at", "value", "weight", "within", "n", "towed", "scaled")
        ),
    )


# Lots, and the names of those that no known ratio of drives places.
Lots = tuple[EarlierLots, tuple[str, ...]]


def lots_of(trials: Trials, box: SeedBox, lot_in_hand: str | None, season_in_hand: str | None) -> Lots:
    """Earlier lots with catches that count, oldest season first; a lot used in two seasons is two lots."""
    control = box.first_control
    mine = trials.where(trials.counts).in_box(box)
    times = trials.season_times
    until = _until(trials, season_in_hand)
    pairs = set(zip(mine.season.tolist(), mine.lot.tolist(), strict=True))
    if isinstance(control, OnDrive):
        mine = mine.on_drive(box.control, control.drive)
    given = [
        (season, lot)
        for season, lot in sorted(pairs, key=lambda pair: (times[pair[0]], *pair))
        # undated catches of the lot in hand are its own, whatever its season
        if times[season] <= until and not (lot == lot_in_hand and season in (season_in_hand, ""))
    ]
    places = {pair: k for k, pair in enumerate(given)}
    written = zip(mine.season.tolist(), mine.lot.tolist(), strict=True)
    place = np.fromiter(map(places.get, written, itertools.repeat(-1)), np.int_, len(mine))
    towed = np.bincount(place[mine.towed & (place >= 0)], minlength=len(given)) > 0
    # slip lies between the two kinds
    taken = (place >= 0) & (mine.towed | ~towed[place]) if len(given) else place >= 0
    lots = _gathered(mine.where(taken), place[taken], given, towed, box)
    lost = dict.fromkeys(given)  # on drives whose ratio is not known
    for pair in lots.names:
        del lost[pair]
    return lots, tuple(f"{lot} ({season})" if season else lot for season, lot in lost)


def _until(trials: Trials, season: str | None) -> float:
    """The time up to which lots are earlier than those of a season; without one all are."""
    if season is None:
        return np.inf
    return trials.season_times[season] if season in trials.season_times else season_time(season)


def seasons_until(trials: Trials, season: str | None) -> int:
    """How many seasons of a log, the oldest first, `lots_of` takes lots from."""
    until = _until(trials, season)
    return sum(time <= until for time in trials.season_times.values())


def _gathered(trials: Trials, place: Ints, given: list[tuple[str, str]], towed: Flags, box: SeedBox) -> EarlierLots:
    """The lots `given`, season and name of each, from the catches whose `place` is theirs, gathered by setting.

    A share of the noise of a catch averages out over more turns and rows.
    """
    control, own = box.first_control, cold_prior(box.holds).usual_own
    at, inverse = np.unique((trials.opening - control.lowest_opening) / control.span, return_inverse=True)
    value, weight = np.log(trials.output), 1 / (own / lengths(trials) + 1 - own)
    keys, cell = coded(place * len(at) + inverse)
    total = np.bincount(cell, weight).astype(float)
    mean = np.bincount(cell, weight * value) / total
    within = np.bincount(place, weight * (value - mean[cell]) ** 2, len(given)).astype(float)
    catches, scaled = np.bincount(place, minlength=len(given)), np.zeros(len(given), dtype=int)
    if isinstance(control, OnDrive):
        scaled = np.bincount(place[trials.drives(box.control) != control.drive], minlength=len(given))
    there = catches > 0
    names = [given[k] for k in np.flatnonzero(there).tolist()]
    lot, setting = np.divmod(keys, max(len(at), 1))
    each = within[there], catches[there], towed[there], scaled[there]
    return EarlierLots(names, (np.cumsum(there) - 1)[lot], at[setting], mean, total, *each)


@dataclass(frozen=True, eq=False)
class _Grid:
    """The shapes that lots are held against: each dead setting with each bend, the former in turn."""

    dead: Floats
    log_bend: Floats
    bend: Floats  # The different bends, in a column
    width: int  # How many dead settings there are
    log_density: Floats  # What is known of each shape before any lot


@lru_cache(maxsize=16)
def _grid(cold: Prior, lowest: float) -> _Grid:
    """The shapes for lots whose lowest setting is this; tables of many drills share it."""
    dead = np.linspace(min(cold.dead, lowest) - 5 * cold.dead_spread, lowest - 1e-6, 121)
    log_bend = np.log(cold.bend) + np.linspace(-3.5, 3.5, 29) * cold.bend_spread
    each_dead, each_bend = (each.ravel() for each in np.meshgrid(dead, log_bend))
    density = cold.log_density(each_dead, each_bend)
    return _Grid(each_dead, each_bend, np.exp(log_bend)[:, None], len(dead), density)


class Table:
    """Sums of squares and levels of every lot under every shape of one grid, worked out once.

    Under one dead setting the sum of squares is a parabola in the bend, and the level a line: these are kept.
    """

    def __init__(self, lots: EarlierLots, cold: Prior):
        grid = self.grid = _grid(cold, float(lots.at.min()))
        self.dead, self.log_bend, self.bend = grid.dead, grid.log_bend, grid.bend
        dead = grid.dead[: grid.width]
        self.cold, self.n, self.within = cold, lots.n.astype(float), lots.within
        self.lots: Sequence[EarlierLot] = lots
        settings, place = np.unique(lots.at, return_inverse=True)
        weight, value = np.zeros((2, len(lots), len(settings)))
        weight[lots.place, place], value[lots.place, place] = lots.weight, lots.value
        weights = weight.sum(axis=1)
        self.at = float(np.average(weight @ settings / weights, weights=self.n))
        shape = log_shapes(settings, dead, np.ones(len(dead)), self.at)
        self.middle = (weight * value).sum(axis=1) / weights  # Of the log outputs of each lot
        self.slope = weight @ shape.T / weights[:, None]  # Its level is the middle less the bend times this
        several = ((weight > 0).sum(axis=1) > 1)[:, None]  # one setting fits every shape, without a rounding error
        beyond = np.where(several, weight * (value - self.middle[:, None]), 0.0)
        square = (beyond * value).sum(axis=1) + self.within
        bends = np.where(several, weight @ (shape**2).T - weights[:, None] * self.slope**2, 0.0)
        self.parts = np.stack([np.broadcast_to(square[:, None], bends.shape), beyond @ shape.T, bends], axis=1)
        self.weight = np.ones(len(lots))  # What the catches of each lot count
        self._squares: dict[bytes, Floats] = {}  # Of `square`, by what is counted

    @property
    def df(self) -> Floats:
        """Degrees of freedom that each lot's own level leaves."""
        return self.n - 1

    def of(self, keep: list[int]) -> Table:
        """The table of some of the lots, on the same grid."""
        part = copy(self)
        part._squares = {}
        part.lots = [self.lots[i] for i in keep]
        for name in ("n", "within", "middle", "slope", "parts", "weight"):
            setattr(part, name, getattr(self, name)[keep])
        return part

    def square(self, counted: Floats) -> Floats:
        """Sum of squares that each shape leaves in the lots together, each as often as it is counted."""
        key = counted.tobytes()
        if key not in self._squares:
            self._squares[key] = self._at_bends(np.tensordot(counted, self.parts, 1), float(counted @ self.within))
        return self._squares[key]

    def _at_bends(self, parts: Floats, least: float) -> Floats:
        """Sum of squares under each shape, from its parts under each dead setting: at least `least`."""
        whole, across, bends = parts
        return np.asarray(np.maximum(whole + self.bend * (self.bend * bends - 2 * across), least).ravel())

    def best(self, parts: Floats, least: Floats) -> tuple[Floats, Floats, Ints]:
        """Smallest sum of squares, its bend, and the place of its dead setting, for several parts, shape (k, 3, dead).

        Under each dead setting the bend nearest to the lowest point of the parabola is the best one of the grid.
        """
        whole, across, bends = parts.transpose(1, 0, 2)
        grid = self.bend[:, 0]
        lowest = across / np.where(bends > 0, bends, np.inf)
        bend = grid[np.searchsorted((grid[1:] + grid[:-1]) / 2, lowest)]
        square = np.maximum(whole + bend * (bend * bends - 2 * across), least[:, None])
        rows, dead = np.arange(len(square)), square.argmin(axis=1)
        return square[rows, dead], bend[rows, dead], dead

    def squares_at(self, log_bend: float) -> tuple[Floats, Floats]:
        """The dead settings, and the sum of squares of each lot under them with the bend of the grid nearest to one."""
        bend = float(self.bend[np.argmin(np.abs(np.log(self.bend) - log_bend)), 0])
        whole, across, bends = self.parts.transpose(1, 0, 2)
        square = np.maximum(whole + bend * (bend * bends - 2 * across), self.within[:, None])
        return self.dead[: square.shape[1]], square

    def levels(self, weight: Floats) -> Floats:
        """Mean level of each lot over shapes of some probability."""
        return np.asarray(self.middle - self.slope @ (self.bend * weight.reshape(len(self.bend), -1)).sum(axis=0))

    def level(self, i: int) -> Floats:
        """Level of one lot under each shape."""
        return np.asarray((self.middle[i] - self.bend * self.slope[i]).ravel())

    def aged(self, times: dict[str, float]) -> Table:
        """The same, with each further season back counting half."""
        seasons = sorted({lot.season for lot in self.lots}, key=lambda season: (times[season], season), reverse=True)
        aged = copy(self)
        aged.weight = np.array([0.5 ** seasons.index(lot.season) for lot in self.lots])
        return aged

    def least(self, lots: list[int] | None = None) -> float:
        """Smallest sum of squares that one shape leaves in all or some of the lots."""
        part = self if lots is None else self.of(lots)
        return float(part.square(np.ones(len(part.lots))).min())

    def posterior(self) -> Floats:
        """Probability of each shape."""
        square, df = self.square(self.weight), float(self.weight @ self.df)
        parts = Repeatability(self.cold.repeatability).evidence(square, df)
        log_weight = np.logaddexp.reduce(parts, axis=0) + self.grid.log_density
        weight = np.exp(log_weight - log_weight.max())
        return np.asarray(weight / weight.sum())


def without_wild(table: Table) -> tuple[Table, list[str]]:
    """Leave out, worst first, lots that no common shape and repeatability explains; never more than a third."""
    count, left_out = len(table.n), list[str]()
    while len(table.n) > 3 and len(left_out) < count // 3:
        worst = _wildest(table)
        if worst is None:
            break
        left_out.append(table.lots[worst].name)
        table = table.of([i for i in range(len(table.n)) if i != worst])
    return table, left_out


def _wildest(table: Table) -> int | None:
    """The lot most unlike all others together; None where none is."""
    each = np.ones(len(table.n))
    parts, within, df = table.parts.sum(axis=0), float(table.within.sum()), float(table.df.sum()) - table.df - 1
    bend, dead = divmod(int(np.argmin(table.square(each))), table.slope.shape[1])
    # a wild lot has much scatter about the shape of all: only the worst few are looked at without themselves
    own = _under(table, bend, dead) / np.maximum(table.df, 1)
    suspects = np.argsort(own)[::-1][:MOST_SUSPECTS]
    suspects = suspects[(df[suspects] >= 3) & (table.df[suspects] >= 1)]
    if not len(suspects):
        return None
    others, at, dead_at = table.best(parts - table.parts[suspects], within - table.within[suspects])
    whole, across, bends = table.parts[suspects, :, dead_at].T
    square = np.maximum(whole + at * (at * bends - 2 * across), table.within[suspects])
    ratio = square / table.df[suspects] / np.maximum(others / df[suspects], 1e-300)
    tails = fdtrc(table.df[suspects], df[suspects], ratio)
    worst = int(np.argmin(tails))
    return int(suspects[worst]) if tails[worst] < WILD / len(each) else None


def _under(table: Table, bend: int, dead: int) -> Floats:
    """Sum of squares of each lot under one shape of the grid."""
    at, (whole, across, bends) = float(table.bend[bend, 0]), table.parts[:, :, dead].T
    return np.asarray(np.maximum(whole + at * (at * bends - 2 * across), table.within))


def has_drifted(table: Table) -> bool:
    """Whether seasons need shapes of their own: more than lots of one season differ among themselves (F test)."""
    names = [lot.season for lot in table.lots]
    seasons = [[i for i, name in enumerate(names) if name == season] for season in sorted(set(names))]
    between_df, within_df = 2 * (len(seasons) - 1), 2 * (len(names) - len(seasons))
    noise_df = float(table.df.sum()) - 2 * len(names)
    if between_df < 2 or within_df < 4 or noise_df < 3:
        return False  # one lot a season cannot tell seasons from lots
    by_season, by_lot = sum(map(table.least, seasons)), float(table.best(table.parts, table.within)[0].sum())
    if by_lot <= 0:
        return False
    within = max((by_season - by_lot) / within_df, by_lot / noise_df)
    return bool(fdtrc(between_df, within_df, (table.least() - by_season) / between_df / within) < DRIFTED)
