"""Made-up drills and their catches. Every number is invented."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from predictor.domain.control import Floats
from predictor.domain.drill import SeedBox
from predictor.domain.trials import Trials, joined, one_catch

SHAPES = ("line", "power", "saturating", "s-shaped")


@dataclass(frozen=True)
class Shape:
    """A true curve: output, up to its level, at a share of the control's range."""

    kind: str
    bend: float  # Dead setting as a share of the range; exponent; how early it saturates; how strongly it is S-shaped

    def __call__(self, share: ArrayLike) -> Floats:
        """Output at shares of the range, any shape of array."""
        v = np.asarray(share, dtype=float)
        if self.kind == "line":
            return np.maximum(v - self.bend, 0.0)
        if self.kind == "power":
            return np.asarray(np.maximum(v, 0.0) ** self.bend)
        if self.kind == "saturating":
            return np.asarray(1 - np.exp(-v / self.bend))
        return np.asarray(v + self.bend * (v**2 * (3 - 2 * v) - v))


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
    cv: float  # Repeatability of a whole catch
    row_effects: tuple[float, ...] = ()  # Each row's output over the drill's mean; empty where rows are alike

    @property
    def noise(self) -> float:
        """Standard deviation of the log of a catch."""
        return float(np.sqrt(np.log1p(self.cv**2)))

    def relative(self, opening: ArrayLike) -> Floats:
        """True mean output at openings, up to its level."""
        control = self.box.control
        return self.shape((np.asarray(opening, dtype=float) - control.lowest_opening) / control.span)

    def mean(self, opening: ArrayLike) -> Floats:
        """True mean output of the whole drill at openings."""
        return self.level * self.relative(opening)

    def catch(
        self, rng: np.random.Generator, opening: float, turns: float, rows: int
    ) -> tuple[float, tuple[float, ...]]:
        """One catch: net grams, and those of the single rows."""
        mean = float(self.mean(opening)) * turns * np.exp(self.noise * rng.standard_normal() - self.noise**2 / 2)
        effects = np.array(self.row_effects[:rows] or (1.0,) * rows)
        return float(mean * effects.sum()), tuple((mean * effects).tolist())


def row_effects(rng: np.random.Generator, spread: float, rows: int) -> tuple[float, ...]:
    """How the rows of one drill differ; their mean is 1."""
    effects = 1 + spread * rng.standard_normal(rows)
    return tuple((effects / effects.mean()).tolist())


@dataclass
class Log:
    """Catches of one lot as they come in."""

    lot: MadeUpLot
    turns: float = 28.0
    rows: int = 3  # Of every catch
    name: str = "new"  # Of the lot in the trials
    season: str = "2"
    keep_rows: bool = False  # Whether the single rows' weights go into the trials
    catches: list[Trials] = field(default_factory=list)

    def add(self, rng: np.random.Generator, opening: float) -> None:
        """Make a catch at an opening."""
        grams, singles = self.lot.catch(rng, opening, self.turns, self.rows)
        catch = one_catch(
            None,
            self.lot.box,
            lot=self.name,
            season=self.season,
            setting=self.lot.box.control.at(opening),
            catch_g=grams,
            turns=self.turns,
            rows=self.rows,
        )
        self.catches.append(replace(catch, rows_g=(singles,)) if self.keep_rows else catch)

    def trials(self) -> Trials:
        """The catches so far; there is at least one."""
        return joined(self.catches)
