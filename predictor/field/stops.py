"""Where to stop to fill the boxes: as seldom as can be, and on areas that a person can read off.

A stop is known by the ground that is covered before it. Weights are grams, and ground is square metres.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from predictor.errors import InputError

# Round steps of a pound, kilogram, acre or hectare, the coarsest first.
STEPS = (0.1, 0.01, 0.001, 0.0001)
# Stops are put on areas that are round to this part of the ground between two of them, where that adds no stop.
ROUND_STOP = 0.05
# More than a day's work has: a box or an area that is written in another unit.
MOST_STOPS = 200
# This part of the reserve must be there at the end. The rest of it is given up where that saves a last stop for a
# handful of seed; judgement.
LEAST_RESERVE = 0.8
# Sums of areas and weights may differ by this part.
NEARLY = 1e-9


@dataclass(frozen=True)
class Fill:
    """One filling of a box, by the ground that is covered when it is made.

    Attributes
    ----------
    at_m2, to_m2 : float
        Ground covered before it, and up to the next fill of this box or the end.
    lasts_m2 : float
        Ground that may be covered before this box must be filled again.
    weight_g : float
        What is put into the box.
    level_g : float
        What is in the box afterwards.
    """

    at_m2: float
    to_m2: float
    lasts_m2: float
    weight_g: float
    level_g: float

    @property
    def plants_m2(self) -> float:
        """Ground that it plants."""
        return self.to_m2 - self.at_m2


@dataclass(frozen=True)
class Tank:
    """A box as the stops see it: weights in grams, ground in square metres."""

    name: str
    rate: float
    full: float  # Infinite where it is not known
    refill: float  # Level at which it must be filled again
    reserve: float

    def reach(self, rest: float) -> float:
        """Ground that the full box plants, where so much is left."""
        if self.full - LEAST_RESERVE * self.reserve >= self.rate * rest * (1 - NEARLY):
            return rest
        return (self.full - self.refill) / self.rate

    def fills(self, stops: Sequence[float], area: float) -> list[Fill]:
        """Its fills at some stops: only where it would not last to the next one, and then as much as it can take."""
        level, made = 0.0, list[tuple[float, float, float]]()
        for at, following in itertools.pairwise([*stops, area]):
            rest = self.rate * (area - at) + self.reserve
            enough = rest - (1 - LEAST_RESERVE) * self.reserve
            least = enough if following == area else self.rate * (following - at) + self.refill
            if level < min(least, rest) * (1 - NEARLY):
                added = min(self.full, rest) - level
                level += added
                done = level >= enough * (1 - NEARLY)
                made.append((at, added, area if done else at + (level - self.refill) / self.rate))
            level -= self.rate * (following - at)
        ends = [*(at for at, _, _ in made[1:]), area]
        return [Fill(at, to, lasts, added, 0.0) for (at, added, lasts), to in zip(made, ends, strict=True)]


def stops_for(tanks: Sequence[Tank], area: float, unit_m2: float) -> list[float]:
    """Ground covered at each stop, as few as can be, and on areas as round as that allows."""
    late = _late_stops(tanks, area, 0.0)
    reach = min(each.reach(area) for each in tanks)
    grids = [each * unit_m2 for each in STEPS if each * unit_m2 <= ROUND_STOP * reach]
    rounded = (_late_stops(tanks, area, grid) for grid in grids)
    return next((each for each in rounded if len(each) == len(late)), late)


def _late_stops(tanks: Sequence[Tank], area: float, grid: float) -> list[float]:
    """Ground covered at each stop, as late as can be on a grid: at each of them all boxes could be filled."""
    stops = [0.0]
    while True:
        rest = area - stops[-1]
        first = min(tanks, key=lambda each: each.reach(rest))
        reach = first.reach(rest)
        if reach >= rest * (1 - NEARLY):
            return stops
        if len(stops) > MOST_STOPS:
            raise InputError(
                f"Box {first.name} would have to be filled more than {MOST_STOPS} times. Check full_lb or full_kg of "
                "this box in drill.toml, its rate in plan.csv, and the areas of the fields."
            )
        at = stops[-1] + reach
        stops.append(math.floor(at / grid + NEARLY) * grid if grid else at)
