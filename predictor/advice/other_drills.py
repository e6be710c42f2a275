"""What other drills say of a box: the shape of its curve and its repeatability, through what drills differ by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from predictor.advice.earlier_lots import EarlierLots, Table, lots_of, seasons_until, together, without_wild
from predictor.advice.pooled import MOST_WORTH, WILD_BOX, PooledShape, pooled_shape
from predictor.curves.prior import Kind, Prior, Repeatability, cold_prior
from predictor.domain.control import Floats, Sprockets
from predictor.domain.drill import SeedBox
from predictor.domain.trials import Trials
from predictor.domain.whose import plain_name

# How far the boxes of two drills differ in dead setting, as a share of the range, and in the logarithm of the bend.
# Ordinary knowledge is that any box lies within 0.1 and 0.2 (`curves/prior.py`); that drills made alike share about two
# thirds of that variance is our own judgement, no source. From so many drills on their own differences enter.
DRILLS_DEAD, DRILLS_BEND = 0.06, 0.12
ENOUGH_DRILLS = 3
# The scatter seen on another drill counts half: half of its catches, for half of what may be expected here.
HALF = 0.5


@dataclass(frozen=True)
class Elsewhere:
    """What lots on other drills say of a box before its own lots are looked at."""

    prior: Prior  # Without a level
    lots: int
    drills: tuple[str, ...]


class OtherDrills:
    """Catches of other drills, and what was learned from them: worked out once for the seasons that it is of."""

    def __init__(self, logs: Sequence[Trials]):
        self.logs = logs
        self._learned: dict[tuple[SeedBox, tuple[int, ...]], Elsewhere | None] = {}

    def learned(self, box: SeedBox, season: str | None) -> Elsewhere | None:
        """As `learned_elsewhere`."""
        key = box, tuple(seasons_until(each, season) for each in self.logs)
        if key not in self._learned:
            self._learned[key] = learned_elsewhere(self.logs, box, season)
        return self._learned[key]


class KeptDrills:
    """Other drills as they were last learned from: what their catches say stands as long as these are the same."""

    def __init__(self) -> None:
        self._last = OtherDrills(())

    def of(self, logs: tuple[Trials, ...]) -> OtherDrills:
        """Other drills by their catches, with what was learned before if none of them changed."""
        if tuple(self._last.logs) != logs:
            self._last = OtherDrills(logs)
        return self._last


def learned_elsewhere(others: Sequence[Trials], box: SeedBox, season: str | None) -> Elsewhere | None:
    """What the catches of other drills, each with its drill, say of a box up to a season; None without such catches."""
    lots: dict[str, list[EarlierLots]] = {}
    names: dict[str, str] = {}
    for log in others:
        like, name = _box_like(box, log), str(log.drill_name[0])
        found = None if like is None else lots_of(log, like, None, season)[0]
        if found:
            lots.setdefault(plain_name(name), []).append(found)
            names[plain_name(name)] = name
    if not lots:
        return None
    cold = cold_prior(box.holds)
    drills = [_seen(together(each), cold) for each in lots.values()]
    return Elsewhere(_between_drills(drills, cold), sum(each.lots for each in drills), tuple(names.values()))


@dataclass(frozen=True)
class _Seen:
    """What the lots of one other drill showed."""

    lots: int
    shape: PooledShape
    square: float  # Sum of squares, with its degrees of freedom
    df: float


def _seen(lots: EarlierLots, cold: Prior) -> _Seen:
    """What the lots of one other drill show, without those too unlike the others."""
    table = without_wild(Table(lots, cold))[0]
    posterior = table.posterior()
    square = float(posterior @ table.square(table.weight))
    return _Seen(len(table.lots), pooled_shape(table, posterior), square, float(table.df.sum()))


def _box_like(box: SeedBox, log: Trials) -> SeedBox | None:
    """The box of another drill with this one's name, or else its only one of the same kind of seed and control."""
    boxes = () if log.drill is None else log.drill.boxes
    alike = [
        each
        for each in boxes
        if each.holds == box.holds
        and isinstance(each.first_control, Sprockets) == isinstance(box.first_control, Sprockets)
    ]
    named = [each for each in alike if each.name.lower() == box.name.lower()]
    return named[0] if named else alike[0] if len(alike) == 1 else None


def _between_drills(drills: list[_Seen], cold: Prior) -> Prior:
    """The prior of this drill's shape and repeatability from the lots of each other drill.

    Shapes of drills are normal about a common one, which is itself known as ordinary knowledge has it. What ordinary
    knowledge put into the estimate of each drill is taken out of it first, so that it counts once.

    Source: Normal model of several groups: Gelman et al. (2013), Bayesian Data Analysis, 3rd ed., 5.4; the spread
    between groups by moments: DerSimonian and Laird (1986), Control. Clin. Trials 7, 177-188 (both from memory).
    """
    usual = np.array([0.0 + cold.dead, np.log(cold.bend)])
    known = np.diag([cold.dead_spread**-2, cold.bend_spread**-2])
    means = np.array([[each.shape.dead, each.shape.log_bend] for each in drills]) - usual
    spreads = np.array([each.shape.spreads for each in drills])
    between = np.diag(_moments(means, spreads**2))
    precision, total = np.linalg.inv(np.maximum(np.linalg.inv(known) - between, 0.25 * np.linalg.inv(known))), 0.0
    for each, mean, spread in zip(drills, means, spreads, strict=True):
        along = each.shape.correlation
        inside = np.outer(spread, spread) * np.array([[1.0, along], [along, 1.0]])
        told = np.linalg.inv(inside)
        size, axes = np.linalg.eigh(told - known)
        alone = axes @ np.diag(np.maximum(size, 0.0)) @ axes.T
        shrunk = np.linalg.inv(np.eye(2) + alone @ between)
        precision, total = precision + shrunk @ alone, total + shrunk @ (told @ mean)
    middle = usual + np.linalg.solve(precision, total)
    variance = np.linalg.inv(precision) + between
    spread = np.sqrt(np.diag(variance))
    return replace(
        cold,
        dead=float(middle[0]),
        dead_spread=float(spread[0]),
        bend=float(np.exp(middle[1])),
        bend_spread=float(spread[1]),
        correlation=float(np.clip(variance[0, 1] / (spread[0] * spread[1]), -0.95, 0.95)),
        repeatability=_half_as_much(drills, cold),
        name="history",
    )


def _moments(means: Floats, variances: Floats) -> Floats:
    """Variance between drills of dead setting and log bend: what is usual, and from enough drills what they show."""
    usual = np.array([DRILLS_DEAD, DRILLS_BEND]) ** 2
    count = len(means)
    if count < ENOUGH_DRILLS:
        return usual
    w = 1 / variances
    excess = (w * (means - (w * means).sum(axis=0) / w.sum(axis=0)) ** 2).sum(axis=0) - (count - 1)
    seen = np.maximum(excess / (w.sum(axis=0) - (w**2).sum(axis=0) / w.sum(axis=0)), 0.0)
    # a spread from few drills is itself unsure: the usual one weighs as two of them
    return np.asarray((2 * usual + (count - 1) * seen) / (count + 1))


def _half_as_much(drills: list[_Seen], cold: Prior) -> tuple[Kind, ...]:
    """The kinds of repeatability: ordinary knowledge, and to the other half what was seen on other drills."""
    square, df = sum(each.square for each in drills), sum(each.df for each in drills)
    learned = Repeatability(cold.repeatability).after(HALF * square, HALF * df).kinds
    seen = [(share * (1 - WILD_BOX[0]), cv, min(worth, HALF * MOST_WORTH)) for share, cv, worth in learned]
    usual = [(share * (1 - HALF), cv, worth) for share, cv, worth in cold.repeatability]
    found = [(HALF * share, cv, worth) for share, cv, worth in (*seen, WILD_BOX) if share > 1e-6]
    return *usual, *found
