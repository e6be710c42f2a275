"""What earlier lots of a box say about the next one: shape, repeatability, and how much lots differ."""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
from scipy.special import fdtrc

from predictor.advice.evidence import lengths
from predictor.curves.prior import Prior, Repeatability, cold_prior
from predictor.curves.shapes import log_shapes
from predictor.domain.control import Floats
from predictor.domain.drill import SeedBox
from predictor.domain.drives import LeverAndDrive, OnDrive
from predictor.domain.result import Remark
from predictor.domain.season import season_time
from predictor.domain.trials import Trials
from predictor.files.trials import as_trials

if TYPE_CHECKING:
    import pandas as pd

# A slot, a cam and a chain keep their shape from lot to lot, but not to the hair: seed of another size starts to
# flow a little earlier or later. Common practice, no source; the smallest spread history may claim.
LEAST_DEAD_SPREAD = 0.03
LEAST_BEND_SPREAD = 0.06
# Lots differ in repeatability too, so no history is worth more than this many catches of the lot in hand, and a box
# that was calm may have become a wild one: the share of such boxes, their repeatability, and what that is worth.
MOST_WORTH = 10.0
WILD_BOX = (0.15, 0.11, 8.0)
# A level seen standing says less of a towed lot, and the other way round: slip and jolting lie between them. Published
# field rates are 85 to 96 % of stationary ones (source beside `SHARED_SPREAD` in field/usual.py).
SLIP_SPREAD = 0.10
# How lots differ is not worth saying from fewer.
ENOUGH_LOTS = 4
# A lot this unlike the others (tail of an F distribution) is left out, and named.
WILD, MOST_SUSPECTS = 0.001, 20
# Seasons whose shapes differ at this level have drifted: each further season back then counts half.
DRIFTED = 0.01


@dataclass(frozen=True)
class History:
    """What was learned from the earlier lots of one box.

    Attributes
    ----------
    prior : Prior
        Stands in for ordinary knowledge when the next lot is fitted.
    lots : tuple of str
        Lots it was learned from, `lot` or `lot (season)`.
    left_out : tuple of str
        Lots too unlike the others.
    catches : int
    drifted : bool
        Whether older seasons were given less weight.
    lot_spread : float or None
        Spread of the level between lots, as a fraction; None with a single lot.
    scaled : int
        Catches on other drives than the first one of the box, counted by the ratios of the drives.
    """

    prior: Prior
    lots: tuple[str, ...]
    left_out: tuple[str, ...]
    catches: int
    drifted: bool
    lot_spread: float | None
    scaled: int = 0

    @property
    def remark(self) -> Remark:
        """What was taken from the earlier lots, for the technician."""
        values = {
            "lots": len(self.lots),
            "cv": self.prior.typical_cv,
            "lot_spread": self.lot_spread if len(self.lots) >= ENOUGH_LOTS else None,
            "left_out": self.left_out,
            "drifted": self.drifted,
            "scaled": self.scaled,
        }
        return Remark("advice.history", values)


@dataclass(frozen=True)
class _Lot:
    name: str
    season: str
    at: Floats  # Settings caught, as shares of the range
    value: Floats  # Mean of log output at each
    weight: Floats  # Its precision, in ordinary catches
    within: float  # Sum of squares about these means
    n: int
    towed: bool
    scaled: int = 0  # Catches on another drive than the first

    @classmethod
    def of(cls, name: str, season: str, at: Floats, trials: Trials, own: float) -> _Lot:
        """A lot's catches gathered by setting; a share `own` of their noise averages out over more turns and rows."""
        settings, inverse = np.unique(at, return_inverse=True)
        value, weight = np.log(trials.output), 1 / (own / lengths(trials) + 1 - own)
        total = np.bincount(inverse, weight).astype(float)
        mean = np.bincount(inverse, weight * value) / total
        within = float(weight @ (value - mean[inverse]) ** 2)
        return cls(name, season, settings, mean, total, within, len(at), bool(trials.towed.any()))

    def fits(self, dead: Floats, bend: Floats, reference: float) -> tuple[Floats, Floats]:
        """Level under each shape, and the sum of squares that it leaves."""
        rest = self.value - log_shapes(self.at, dead, bend, reference)
        level = rest @ self.weight / self.weight.sum()
        return level, (rest - level[:, None]) ** 2 @ self.weight + self.within


def learn_history(
    trials: Trials | pd.DataFrame, box: SeedBox | str, *, before: tuple[str, str | None] | None = None
) -> History | None:
    """Learn from earlier lots of a box what the next lot's curve is likely to be.

    Parameters
    ----------
    trials : Trials or DataFrame
        Of any boxes and lots; catches that do not count (`Trials.counts`) are left out.
    box : SeedBox or str
        A name needs trials that came with their drill.
    before : (str, str or None), optional
        Lot and season in hand: its own catches, and lots of later seasons, are not history. Without a season the lots
        of all seasons are.

    Returns
    -------
    History or None
        None where no earlier lot has a catch that counts.

    Raises
    ------
    ValueError
        A box by its name, and trials without a drill.
    KeyError
        The drill has no such box.
    InputError
        Problems of a DataFrame, or settings that the box's control does not have.
    TypeError
        Trials that have no columns.

    Notes
    -----
    All lots share one shape; each has its own level; one repeatability is pooled. The shape's posterior is taken on a
    grid of dead settings and bends; its spread for a new lot adds what lots differ by (method of moments).

    References
    ----------
    DerSimonian and Laird (1986), Control. Clin. Trials 7, 177-188 (cited from memory).

    Examples
    --------
    >>> import predictor
    >>> drill = predictor.read_drill("sample_trials/drill.toml")
    >>> trials = predictor.read_trials("sample_trials/trials.csv", drill)
    >>> history = predictor.learn_history(trials, "grain", before=("CW-26", "2026"))
    >>> history.lots
    ('CW-24 (2025)', 'VW-25 (2025)')
    """
    trials = as_trials(trials)
    seed_box = box_of(trials, box)
    lots = _lots_of(trials, seed_box, before)
    if not lots:
        return None
    kept, left_out = _without_wild(_Table(lots, cold_prior(seed_box.holds)))
    drifted = _has_drifted(kept)
    prior, lot_spread = _pooled_prior(kept.aged(trials.season_times) if drifted else kept)
    in_hand = trials.of(box=seed_box.name, lot="" if before is None else before[0])
    towed = in_hand.towed[in_hand.counts]
    if len({*(lot.towed for lot in kept.lots), *([bool(towed.any())] if len(towed) else [])}) > 1:
        prior = replace(prior, level_spread=float(np.hypot(prior.level_spread or 0.0, SLIP_SPREAD)))
    names = tuple(lot.name for lot in kept.lots)
    scaled = sum(lot.scaled for lot in kept.lots)
    return History(prior, names, tuple(left_out), int(kept.n.sum()), drifted, lot_spread, scaled)


def prior_on_drive(history: History, box: SeedBox, drive: str) -> Prior:
    """The prior on one drive of a box with two controls; its level is unknown where the drive's ratio is.

    The lots were compared on the first drive.
    """
    prior, control = history.prior, box.control
    if prior.level is None or not isinstance(control, LeverAndDrive):
        return prior
    times = control.times(drive, next(iter(control.drives)))
    if np.isfinite(times):
        return replace(prior, level=prior.level + float(np.log(times)))
    return replace(prior, level=None, level_spread=None)


def box_of(trials: Trials, box: SeedBox | str) -> SeedBox:
    """The box itself, looked up in the trials' drill where only its name is given."""
    if isinstance(box, SeedBox):
        return box
    if trials.drill is None:
        raise ValueError(f"Give box {box!r} as a SeedBox, or read the trials with their drill.")
    return trials.drill.box(box)


def _lots_of(trials: Trials, box: SeedBox, before: tuple[str, str | None] | None) -> list[_Lot]:
    """Earlier lots with catches that count, oldest season first; a lot used in two seasons is two lots."""
    control = box.first_control
    mine = trials.where(trials.counts).in_box(box)
    if isinstance(control, OnDrive):
        mine = mine.on_drive(box.control, control.drive)
    times = trials.season_times
    lot_in_hand, season_in_hand = before or (None, None)
    until = np.inf if season_in_hand is None else times.get(season_in_hand, season_time(season_in_hand))
    pairs = set(zip(mine.season.tolist(), mine.lot.tolist(), strict=True))
    lots, own = [], cold_prior(box.holds).usual_own
    for season, lot in sorted(pairs, key=lambda pair: (times[pair[0]], *pair)):
        # undated catches of the lot in hand are its own, whatever its season
        if times[season] > until or (lot == lot_in_hand and season in (season_in_hand, "")):
            continue
        part = mine.of(lot=lot, season=season)
        part = part.where(part.towed) if part.towed.any() else part  # slip lies between the two kinds
        at = (part.opening - control.lowest_opening) / control.span
        found = _Lot.of(f"{lot} ({season})" if season else lot, season, at, part, own)
        if isinstance(control, OnDrive):
            found = replace(found, scaled=int((part.drives(box.control) != control.drive).sum()))
        lots.append(found)
    return lots


class _Table:
    """Sums of squares and levels of every lot under every shape of one grid, worked out once."""

    def __init__(self, lots: list[_Lot], cold: Prior):
        lowest = min(float(lot.at.min()) for lot in lots)
        dead = np.linspace(min(cold.dead, lowest) - 5 * cold.dead_spread, lowest - 1e-6, 121)
        grid = np.meshgrid(dead, np.linspace(-3.5, 3.5, 29) * cold.bend_spread)
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

    def of(self, keep: list[int]) -> _Table:
        """The table of some of the lots, on the same grid."""
        part = copy(self)
        part.lots = [self.lots[i] for i in keep]
        for name in ("n", "level", "square", "weight"):
            setattr(part, name, getattr(self, name)[keep])
        return part

    def aged(self, times: dict[str, float]) -> _Table:
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


def _without_wild(table: _Table) -> tuple[_Table, list[str]]:
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


def _has_drifted(table: _Table) -> bool:
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


def _pooled_prior(table: _Table) -> tuple[Prior, float | None]:
    """The lots' joint posterior, summed up as a prior for the next lot; and the spread between lots."""
    weight = table.posterior()
    dead, log_bend = float(weight @ table.dead), float(weight @ table.log_bend)
    dead_var = float(weight @ (table.dead - dead) ** 2) + _between(table, log_bend) + LEAST_DEAD_SPREAD**2
    bend_var = float(weight @ (table.log_bend - log_bend) ** 2) + LEAST_BEND_SPREAD**2
    cross = float(weight @ ((table.dead - dead) * (table.log_bend - log_bend)))
    level, spread, lot_spread = _levels(table, weight)
    # the kinds of repeatability, each updated with the lots' scatter
    square, df = float(weight @ (table.weight @ table.square)), float(table.weight @ table.df)
    wild, learned = WILD_BOX[0], Repeatability(table.cold.repeatability).after(square, df).kinds
    kinds = [(share * (1 - wild), cv, min(worth, MOST_WORTH)) for share, cv, worth in learned if share > 1e-6]
    prior = Prior(
        dead=dead,
        dead_spread=float(np.sqrt(dead_var)),
        bend=float(np.exp(log_bend)),
        bend_spread=float(np.sqrt(bend_var)),
        correlation=float(np.clip(cross / np.sqrt(dead_var * bend_var), -0.95, 0.95)),
        repeatability=(*kinds, WILD_BOX),
        level=level,
        level_spread=spread,
        level_at=table.at,
        name="history",
    )
    return prior, lot_spread


def _between(table: _Table, log_bend: float) -> float:
    """Variance of the dead setting between lots beyond what each lot's own catches leave open."""
    far = np.abs(table.log_bend - log_bend)
    line = far == far.min()
    dead, square = table.dead[line], table.square[:, line]
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


def _levels(table: _Table, weight: Floats) -> tuple[float, float, float | None]:
    """Log output of the next lot at the table's middle, its spread, and the spread between lots."""
    levels, count = table.level @ weight, len(table.lots)
    if count == 1:
        return float(levels[0]), 0.25, None  # one lot says where, not how far the next may be; common practice
    df = float(table.df.sum())
    noise = float(weight @ table.square.sum(axis=0)) / df if df >= 3 else table.cold.typical_cv**2
    lot_spread = float(np.sqrt(between_lot_variance(levels, table.n, noise)))
    # A spread from few lots is itself unsure: an ordinary 20 % (common practice) weighs as two lots.
    between = float(np.var(levels, ddof=1))
    spread = np.sqrt((2 * 0.2**2 + (count - 1) * between) / (count + 1) * (1 + 1 / count))
    return float(np.mean(levels)), float(spread), lot_spread
