"""Lots in seasons: z = fixed effects + lot + lot in its season + catch, by restricted maximum likelihood.

A cell is a lot in a season. Everything is worked out from means of cells and sums over lots, so that 10,000 cells cost
some milliseconds a step. For other modules: `season_noise(cells) -> SeasonNoise | None` says what is known of the
variance of a lot in a season as a multiple of that of catches. It is None where no two lots link two seasons, because
then it cannot be told from lots or from the seasons themselves.

Source: Patterson and Thompson (1971), Biometrika 58, 545-554 (REML). Kenward and Roger (1997), Biometrics 53, 983-997
(standard errors and degrees of freedom in small samples).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from predictor.domain.codes import Codes
from predictor.domain.control import Floats
from predictor.lots.parallel import lot_means, sums_of
from predictor.lots.shapes import LotCurves

MOST_STEPS = 60
# Where more cells depart, lots shift as a rule: that is their variance in seasons, and to name them all says no more.
MOST_APART = 12
# A lot that shifts by more than about 10 % from season to season is taken as unusual beforehand (common practice): two
# lots in two seasons would else rule out no shift at all, and limits would tell nothing.
USUAL_SHIFT = 0.10
# A score this small, in units of its own standard error, no longer moves a figure.
STILL = 1e-9


@dataclass(frozen=True, eq=False)
class SeasonCells:
    """Means of the catches of each lot in each season, less what a shared curve makes of their settings."""

    mean: Floats  # Log outputs of each cell
    count: Floats  # Catches of each cell
    lot: Codes  # Of each cell, without gaps
    season: Codes
    ss: float  # Sum of squares within cells
    df: int
    answer: Floats  # How far each mean moves with the bend of the curve
    bend_var: float  # Variance of that bend, as a multiple of that of catches where `bend_df` is `df`
    bend_df: float

    def where(self, keep: Codes) -> SeasonCells:
        """Some of the cells."""
        lot = np.unique(self.lot[keep], return_inverse=True)[1]
        each = {name: getattr(self, name)[keep] for name in ("mean", "count", "season", "answer")}
        return replace(self, lot=lot, **each)

    def bend_variance(self, catch: float) -> float:
        """Variance of the bend, given that of catches."""
        return self.bend_var * (catch if self.bend_df == self.df else 1.0)


@dataclass(frozen=True, eq=False)
class SeasonNoise:
    """What is known of the variance of a lot in a season: a distribution over its ratio to that of catches."""

    ratio: Floats  # Variance of a lot in a season / variance of catches, of log outputs
    weight: Floats  # Of each ratio; they add up to 1
    catch: Floats  # Variance of catches that goes with each ratio
    df: int  # Degrees of freedom of Student's t, given the ratio

    def expected(self, catch: Floats | None = None) -> Floats:
        """Weights of the ratios where a shift by more than about `USUAL_SHIFT` is taken as unusual beforehand."""
        weight = self.weight / (1 + self.ratio * (self.catch if catch is None else catch) / USUAL_SHIFT**2)
        return np.asarray(weight / weight.sum())

    def usual(self) -> float:
        """The ratio to go by where one is needed."""
        return float(self.expected() @ self.ratio)


@dataclass(frozen=True, eq=False)
class Levels:
    """Fixed effects with Kenward and Roger's adjusted covariance."""

    beta: Floats
    covariance: Floats  # Adjusted
    variances: Floats  # Of catches, lots in seasons, and lots
    criterion: float  # -2 x the restricted log likelihood, but for a constant
    plain: Floats  # Covariance that takes the variances as known
    slopes: Floats  # Its derivative by each variance, (k, p, p)
    unsure: Floats  # Covariance of the variances, (k, k)
    moves: Floats  # How far each fixed effect moves with the bend
    seasons_vary: bool  # Whether lots in seasons have a variance of their own

    def contrast(self, wanted: Floats, cells: SeasonCells) -> tuple[float, float, float]:
        """Estimate, variance and degrees of freedom of a contrast, with the part of an unsure bend."""
        own = float(wanted @ self.plain @ wanted)
        turn = np.einsum("i,kij,j->k", wanted, self.slopes, wanted) / own
        # with one contrast Kenward and Roger's F has these degrees of freedom and no scale of its own
        df = 2 / max(float(turn @ self.unsure @ turn), 1e-12)
        adjusted = float(wanted @ self.covariance @ wanted)
        bend = float(wanted @ self.moves) ** 2 * cells.bend_variance(float(self.variances[0]))
        both = adjusted + bend
        return float(wanted @ self.beta), both, both**2 / (adjusted**2 / df + bend**2 / cells.bend_df)


def season_cells(curves: LotCurves) -> SeasonCells:
    """The cells of catches, along one curve for all lots, with its bend from within cells only.

    Settings go with how a lot flows and may move between seasons, so only catches of one cell tell of the bend.
    """
    catches = curves.catches
    lot, season, of_catch = catches.cells
    lines = curves.by_season
    slope, spread = float(lines.slope[0]), float(lines.spread[0])
    away = catches.opening - curves.middle[catches.lot]
    answer = away / (1 + curves.bend[catches.lot] * away)
    level, bend_var, bend_df = lines.level, 1 / spread if spread > 0 else 0.0, float(max(lines.df, 1))
    if math.isnan(slope):
        bend_var, bend_df = float(np.nan_to_num(curves.bend_var[0])), 1e9 if curves.assumed else bend_df + 0.5
        flat = curves.z - curves.bend[catches.lot] * curves.x
        level = lot_means(flat if not curves.assumed else curves.z, of_catch, lines.count)
    moved = lot_means(answer, of_catch, lines.count)
    whole = np.unique(lot, return_inverse=True)[1]
    ss = max(lines.ss, lines.df * catches.floor)
    return SeasonCells(level, lines.count.astype(float), whole, season, ss, max(lines.df, 0), moved, bend_var, bend_df)


class _Solved:
    """Generalised least squares at given variances of catches, lots in seasons, and lots (infinite: lots fixed)."""

    def __init__(self, cells: SeasonCells, x: Floats, variances: Floats):
        self.cells, self.x = cells, x
        catch, cell, lot = variances.tolist()
        self.weight = 1 / (cell + catch / cells.count)
        self.sum = sums_of(self.weight, cells.lot)
        fixed = math.isinf(lot)
        self.share = 1 / self.sum if fixed else lot / (1 + lot * self.sum)
        self.left = np.zeros_like(self.sum) if fixed else 1 / (1 + lot * self.sum)
        self.a = self.solve(x)
        info = x.T @ self.a
        self.plain: Floats = np.asarray(np.linalg.inv(info), dtype=np.float64)
        self.beta: Floats = self.plain @ (self.a.T @ cells.mean)
        self.py = self.solve(cells.mean) - self.a @ self.beta
        log_lots = float(np.log(self.sum).sum()) if fixed else -float(np.log(self.left).sum())
        self.log_det = log_lots - float(np.log(self.weight).sum()) + float(np.linalg.slogdet(info)[1])
        self.square = float(cells.mean @ self.py)
        self.criterion = self.log_det + self.square + cells.df * math.log(catch) + cells.ss / catch
        self.catch = catch

    def solve(self, columns: Floats) -> Floats:
        """The inverse covariance of the cells times columns, by Sherman and Morrison for each lot."""
        two = columns.reshape(len(columns), -1) * self.weight[:, None]
        total = _by_lot(two, self.cells.lot)
        found = two - self.weight[:, None] * (self.share[:, None] * total)[self.cells.lot]
        return np.asarray(found.reshape(columns.shape), dtype=np.float64)

    def apply(self, k: int, columns: Floats) -> Floats:
        """The derivative of the covariance by a variance, times columns."""
        if k == 2:
            return _by_lot(columns, self.cells.lot)[self.cells.lot]
        return columns / self.cells.count[:, None] if k == 0 else columns

    def own(self, k: int) -> Floats:
        """Diagonal of that derivative for catches and lots in seasons."""
        return 1 / self.cells.count if k == 0 else np.ones_like(self.weight)

    def score(self, k: int) -> float:
        """Derivative of the criterion by a variance."""
        lot, w = self.cells.lot, self.weight
        if k == 2:
            trace = float((self.left * self.sum).sum())
        else:
            trace = float(self.own(k) @ (w - self.share[lot] * w**2))
        turned = self.apply(k, self.a)
        py = self.py[:, None]
        found = trace - float(np.sum(self.plain * (self.a.T @ turned))) - (py.T @ self.apply(k, py)).item()
        return found + (self.cells.df / self.catch - self.cells.ss / self.catch**2 if k == 0 else 0.0)

    def trace(self, k: int, j: int) -> float:
        """Trace of V^-1 V_k V^-1 V_j, with V_k the derivative by variance k; k <= j."""
        lot, w, share, left = self.cells.lot, self.weight, self.share, self.left
        if k == 2:
            return float(((left * self.sum) ** 2).sum())
        if j == 2:
            return float((left**2) @ sums_of(w**2 * self.own(k), lot))
        both = self.own(k) * self.own(j)
        ends = [sums_of(w**2 * self.own(each), lot) for each in (k, j)]
        return float(w**2 @ both - 2 * share[lot] @ (w**3 * both) + share**2 @ (ends[0] * ends[1]))

    def information(self, free: list[int]) -> tuple[Floats, Floats, Floats]:
        """Expected information of the variances, and the P and Q of Kenward and Roger (P without its sign)."""
        turned = [self.apply(k, self.a) for k in free]
        solved = [self.solve(each) for each in turned]
        first = np.array([self.a.T @ each for each in turned])
        second = np.array([[one.T @ other for other in solved] for one in turned])
        info = np.empty((len(free), len(free)))
        for i, k in enumerate(free):
            for j, m in enumerate(free[i:], i):
                found = self.trace(k, m) - 2 * float(np.sum(self.plain * second[i, j]))
                found += float(np.sum((self.plain @ first[i]) * (self.plain @ first[j]).T))
                info[i, j] = info[j, i] = found / 2 + (self.cells.df / (2 * self.catch**2) if k == m == 0 else 0.0)
        return info, first, second


def _by_lot(columns: Floats, lot: Codes) -> Floats:
    return np.column_stack([sums_of(column, lot) for column in columns.T])


def fit_levels(cells: SeasonCells, x: Floats, *, lots_fixed: bool = False) -> Levels:
    """Fit fixed effects x, (cells, p), with variances by REML and Kenward and Roger's covariance.

    Lots in seasons have a variance of their own only where lots with several cells leave degrees of freedom for it.
    Raises ValueError where the catches are too few.
    """
    free = _separable(cells, x, lots_fixed)
    variances = _restricted(cells, x, free, lots_fixed)
    found = _Solved(cells, x, variances)
    # one estimated as 0 is dropped, as is usual: kept, limits of two or three lots say nothing at all
    inside = [k for k in free if variances[k] > 0]
    info, first, second = found.information(inside)
    unsure: Floats = np.asarray(np.linalg.pinv(info, hermitian=True), dtype=np.float64)
    slopes: Floats = np.asarray(found.plain @ first @ found.plain, dtype=np.float64)
    extra = sum(
        unsure[i, j] * (second[i, j] - first[i] @ found.plain @ first[j])
        for i in range(len(inside))
        for j in range(len(inside))
    )
    covariance: Floats = np.asarray(found.plain + 2 * found.plain @ extra @ found.plain, dtype=np.float64)
    moves = found.plain @ (found.a.T @ cells.answer)
    return Levels(found.beta, covariance, variances, found.criterion, found.plain, slopes, unsure, moves, 1 in free)


def _separable(cells: SeasonCells, x: Floats, lots_fixed: bool) -> list[int]:
    """Which of the variances of catches, lots in seasons, and lots the catches can tell apart."""
    lots = int(cells.lot.max()) + 1
    inside = x - _by_lot(x, cells.lot)[cells.lot] / np.bincount(cells.lot)[cells.lot][:, None]
    left = len(x) - lots - int(np.linalg.matrix_rank(inside, tol=1e-9 * math.sqrt(len(x))))
    between = len(x) - x.shape[1] - left
    if cells.df < 1 or cells.ss <= 0 or (between < 1 and not lots_fixed):
        raise ValueError("Variances of lots and seasons need more lots with repeated catches.")
    vary = left >= 1 or (not lots_fixed and left + lots < len(x))
    return [0, *([1] if vary else []), *([] if lots_fixed else [2])]


def _restricted(cells: SeasonCells, x: Floats, free: list[int], lots_fixed: bool) -> Floats:
    """Variances by Fisher scoring with halved steps; one that falls to 0 stays there while its score points below."""
    catch = cells.ss / cells.df
    at = np.array([catch, catch if 1 in free else 0.0, math.inf if lots_fixed else float(np.var(cells.mean)) + catch])
    found = _Solved(cells, x, at)
    for _ in range(MOST_STEPS):
        score = np.array([found.score(k) for k in free])
        moving = [i for i, k in enumerate(free) if at[k] > 0 or score[i] < 0]
        info = found.information([free[i] for i in moving])[0]
        step = -np.linalg.solve(2 * info + 1e-12 * np.diag(np.diag(info)), score[moving])
        if float(-step @ score[moving]) < STILL**2 * 1e4:
            break
        for halving in range(30):
            new = at.copy()
            for i, move in zip(moving, step, strict=True):
                least = at[0] / 20 if free[i] == 0 else 0.0
                new[free[i]] = max(at[free[i]] + move / 2**halving, least)
            trial = _Solved(cells, x, new)
            if trial.criterion <= found.criterion + 1e-13 * abs(found.criterion):
                break
        else:
            break
        at, found = new, trial
    return at


def season_columns(cells: SeasonCells) -> tuple[Floats, Codes, Codes]:
    """A column for each season but the first of those that lots link; seasons by column, and the first of each."""
    seasons = int(cells.season.max()) + 1
    presence = np.zeros((int(cells.lot.max()) + 1, seasons))
    presence[cells.lot, cells.season] = 1.0
    part = _parts(presence.T @ presence > 0)
    later = np.flatnonzero((part != np.arange(seasons)) & (presence.sum(axis=0) > 0))
    return (cells.season[:, None] == later).astype(float), later, part[later]


def _parts(joined: np.typing.NDArray[np.bool_]) -> Codes:
    """Which part of a graph each of its few nodes is in: the lowest node that it can be reached from."""
    part = np.arange(len(joined))
    for _ in range(len(joined)):
        lowest = np.where(joined | np.eye(len(joined), dtype=bool), part, len(part)).min(axis=1)
        if (lowest == part).all():
            break
        part = lowest
    return part


def linked(cells: SeasonCells) -> SeasonCells | None:
    """The cells of lots caught in several seasons; None where there are none."""
    keep = (np.bincount(cells.lot) > 1)[cells.lot]
    return cells.where(np.flatnonzero(keep)) if keep.any() else None


def season_noise(cells: SeasonCells) -> SeasonNoise | None:
    """How large the variance of lots in seasons may be, by its restricted likelihood with lots and seasons fixed.

    The ratio of standard deviations r has the weight 1/(1 + r), as for a new lot in `random_levels`.
    """
    few = linked(cells)
    if few is None or cells.df < 1 or cells.ss <= 0:
        return None
    x = season_columns(few)[0]
    free = len(x) - int(few.lot.max()) - 1 - x.shape[1]
    if free < 1:
        return None

    def at(grid: Floats) -> tuple[Floats, Floats]:
        found = [_Solved(few, x, np.array([1.0, math.expm1(each) ** 2, math.inf])) for each in grid]
        catch = np.array([(each.square + few.ss) / (free + few.df) for each in found])
        return -0.5 * (np.array([each.log_det for each in found]) + (free + few.df) * np.log(catch)), catch

    points = 41 if len(x) < 1000 else 11  # with many cells the likelihood is nearly normal
    grid = np.linspace(0.0, 6.0, points)
    for _ in range(5):
        logs, catch = at(grid)
        held = np.flatnonzero(logs > logs.max() - 20)
        if len(held) > points / 2:
            break
        grid = np.linspace(grid[max(held[0] - 1, 0)], grid[min(held[-1] + 1, len(grid) - 1)], points)
    weight = np.exp(logs - logs.max())
    return SeasonNoise(np.expm1(grid) ** 2, weight / weight.sum(), catch, free + few.df)


@dataclass(frozen=True)
class ApartCell:
    """A cell that departs from what the others say, on the log scale."""

    lot: int
    season: int
    departure: float
    half: float  # Half the width of its limits


def cells_apart(cells: SeasonCells, level: float) -> list[ApartCell]:
    """Cells that depart by more than catches do, one after the other and the largest first (Bonferroni over cells).

    A cell is held against its lot's other seasons and the change of the other lots, so three lots must share seasons:
    of two that disagree nobody can say which one moved.
    """
    found = list[ApartCell]()
    whole = np.unique(cells.lot, return_inverse=True)[0]
    keep = np.arange(len(cells.mean))
    if cells.df < 1 or cells.ss <= 0:
        return found
    catch = cells.ss / cells.df
    critical = float(special.stdtrit(cells.df, 1 - (1 - level) / 2 / len(keep)))
    usual = float(special.stdtrit(cells.df, 0.5 + level / 2))
    while len(found) < MOST_APART:
        several = (np.bincount(cells.lot[keep], minlength=len(whole)) > 1)[cells.lot[keep]]
        keep = keep[several]
        if len(keep) < 6:
            return found
        few = cells.where(keep)
        solved = _Solved(few, season_columns(few)[0], np.array([catch, 0.0, math.inf]))
        departure, size = _departures(few, solved, catch)
        worst = int(np.argmax(np.where(_shared_by_three(few), np.abs(departure) / size, 0.0)))
        if not (_shared_by_three(few)[worst] and abs(departure[worst]) > critical * size[worst]):
            return found
        cell = int(keep[worst])
        # of a lot's two cells, which depart alike, the later one is named
        mates = keep[cells.lot[keep] == cells.lot[cell]]
        if len(mates) == 2 and cells.season[cell] < cells.season[mates].max():
            worst = int(np.flatnonzero(keep == mates[np.argmax(cells.season[mates])])[0])
            cell = int(keep[worst])
        found.append(
            ApartCell(
                int(cells.lot[cell]), int(cells.season[cell]), float(departure[worst]), usual * float(size[worst])
            )
        )
        keep = np.delete(keep, worst)
    return found


def _departures(few: SeasonCells, solved: _Solved, catch: float) -> tuple[Floats, Floats]:
    """How far each cell is from what the others predict, and the standard error of that."""
    own = solved.weight - solved.share[few.lot] * solved.weight**2
    own = own - np.einsum("ij,jk,ik->i", solved.a, solved.plain, solved.a)
    own = np.maximum(own, 1e-9 * solved.weight)
    moved = (solved.solve(few.answer) - solved.a @ (solved.plain @ (solved.a.T @ few.answer))) / own
    return solved.py / own, np.sqrt(1 / own + moved**2 * few.bend_variance(catch))


def _shared_by_three(few: SeasonCells) -> np.typing.NDArray[np.bool_]:
    return np.bincount(few.season)[few.season] >= 3
