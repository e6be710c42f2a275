"""Made-up drills and their catches. Every number is invented."""

from dataclasses import dataclass, field, replace
from typing import Self

import numpy as np
from numpy.typing import ArrayLike

from predictor.domain.control import Floats
from predictor.domain.drill import CatchDefaults, SeedBox
from predictor.domain.one_catch import one_catch
from predictor.domain.trials import Trials, joined, no_trials

SHAPES = ("line", "power", "saturating", "s-shaped")
# Turns times rows of an ordinary catch, to which a repeatability refers.
ORDINARY = CatchDefaults().turns * CatchDefaults().rows
# Heavy tails: a wild catch scatters so many times as much as the others. A bridged one gives such a share of its seed.
WILD_TIMES, BRIDGED = 3.0, (0.4, 0.85)


@dataclass(frozen=True)
class Shape:
    """A true curve: output, up to its level, at a share of the control's range."""

    kind: str
    bend: float  # Dead setting as a share of the range; exponent; how early it saturates; size of bend, kink or step
    place: float = 0.5  # Of a kink or step, as a share of the range

    def __call__(self, share: ArrayLike) -> Floats:
        """Output at shares of the range, any shape of array."""
        v, size = np.asarray(share, dtype=float), self.bend
        if self.kind == "line":
            return np.maximum(v - size, 0.0)
        if self.kind == "power":
            return np.asarray(np.maximum(v, 0.0) ** size)
        if self.kind == "saturating":
            return np.asarray(1 - np.exp(-v / size))
        if self.kind == "roller":
            return np.asarray(v * (1 - size * v))
        if self.kind == "gate":
            # flow through an opening D: (D - kd)^2.5 (Beverloo, Leniger and van de Velde 1961, Chemical Engineering
            # Science 15, 260-269, from memory); the bend is where D is kd
            return np.asarray(np.maximum(v - size, 0.0) ** 2.5)
        if self.kind == "kink":
            return np.where(v < self.place, v, self.place + size * (v - self.place))
        if self.kind == "step":
            return np.where(v < self.place, v, v + size)
        return np.asarray(v + size * (v**2 * (3 - 2 * v) - v))


def random_shape(rng: np.random.Generator, kind: str) -> Shape:
    """A shape of a kind, as different from a line through zero as real meters may be (invented ranges)."""
    low, high = {"line": (-0.1, 0.15), "power": (0.75, 1.35), "saturating": (0.6, 2.0), "s-shaped": (0.1, 0.5)}[kind]
    return Shape(kind, float(rng.uniform(low, high)))


@dataclass(frozen=True)
class MadeUpLot:
    """One lot in one box of a made-up drill."""

    box: SeedBox
    shape: Shape
    level: float  # Grams per row per turn where the shape is 1
    cv: float  # Repeatability of an ordinary catch
    row_effects: tuple[float, ...] = ()  # Each row's output over the drill's mean; empty where rows are alike
    own: float = 0.0  # Share of the variance that averages out over turns and rows; the rest is common to a catch
    wild: float = 0.0  # Share of catches that scatter more than the rest; the repeatability is that of all together
    bridged: float = 0.0  # Share of catches in which the seed bridges
    drift: float = 0.0  # What each catch adds to the log of the level

    @property
    def noise(self) -> float:
        """Standard deviation of the log of an ordinary catch."""
        return float(np.sqrt(np.log1p(self.cv**2)))

    def after(self, catches: int) -> Self:
        """The lot once so many catches were made."""
        return replace(self, level=self.level * float(np.exp(self.drift * catches))) if self.drift else self

    def relative(self, opening: ArrayLike) -> Floats:
        """True mean output at openings, up to its level."""
        control = self.box.first_control
        return self.shape((np.asarray(opening, dtype=float) - control.lowest_opening) / control.span)

    def mean(self, opening: ArrayLike) -> Floats:
        """True mean output of the whole drill at openings."""
        return self.level * self.relative(opening)

    def parts(self, rng: np.random.Generator, opening: float, turns: float, rows: int, count: int = 1) -> Floats:
        """Grams per row of one catch, in parts of equal turns."""
        noise, share = self.noise, 1.0
        if self.wild:
            core = noise / np.sqrt(1 + self.wild * (WILD_TIMES**2 - 1))
            noise = core * WILD_TIMES if rng.random() < self.wild else core
        if self.bridged and rng.random() < self.bridged:
            share = rng.uniform(*BRIDGED)
        common = noise * np.sqrt(1 - self.own)
        factor = share * np.exp(common * rng.standard_normal() - common**2 / 2)
        mean = float(self.mean(opening)) * turns / count * factor
        if self.own == 0:
            return np.full(count, mean)
        # so that the sum of the parts scatters as a catch weighed at once does
        square = np.log1p(count * np.expm1(self.own * noise**2 * ORDINARY / (turns * rows)))
        return np.asarray(mean * np.exp(np.sqrt(square) * rng.standard_normal(count) - square / 2))

    def catch(
        self, rng: np.random.Generator, opening: float, turns: float, rows: int
    ) -> tuple[float, tuple[float, ...]]:
        """One catch: net grams, and those of the single rows."""
        grams = self.parts(rng, opening, turns, rows)[0]
        singles = grams * self.effects(rows)
        return float(singles.sum()), tuple(singles.tolist())

    def effects(self, rows: int) -> Floats:
        """What the rows of a catch give over the drill's mean."""
        return np.array(self.row_effects[:rows] or (1.0,) * rows)


def row_effects(rng: np.random.Generator, spread: float, rows: int) -> tuple[float, ...]:
    """How the rows of one drill differ; their mean is 1."""
    effects = 1 + spread * rng.standard_normal(rows)
    return tuple((effects / effects.mean()).tolist())


@dataclass
class Log:
    """Catches of one lot as they come in."""

    lot: MadeUpLot
    turns: float = 28.0  # Of the next catch
    rows: int = 3
    name: str = "new"  # Of the lot in the trials
    season: str = "2"
    keep_rows: bool = False  # Whether the single rows' weights go into the trials
    catches: list[Trials] = field(default_factory=list)

    def add(self, rng: np.random.Generator, opening: float, parts: int = 1) -> None:
        """Make a catch at an opening, weighed in one or several parts."""
        weights = self.lot.after(len(self.catches)).parts(rng, opening, self.turns, self.rows, parts)
        singles = float(weights.sum()) * self.lot.effects(self.rows)
        in_parts = weights * self.lot.effects(self.rows).sum() if parts > 1 else ()
        catch = one_catch(
            None,
            self.lot.box,
            lot=self.name,
            season=self.season,
            setting=self.lot.box.first_control.at(opening),
            catch_g=float(singles.sum()),
            turns=self.turns,
            rows=self.rows,
            parts_g=tuple(map(float, in_parts)) or None,
        )
        self.catches.append(replace(catch, rows_g=(tuple(singles.tolist()),)) if self.keep_rows else catch)

    def trials(self) -> Trials:
        """The catches so far."""
        return joined(self.catches) if self.catches else no_trials()

    @property
    def seed_used(self) -> float:
        """Turns and rows caught, in ordinary catches."""
        return sum(float(each.turns[0] * each.rows[0]) for each in self.catches) / ORDINARY
