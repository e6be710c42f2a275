"""Boxes in general: truths beyond what the program takes for ordinary. Every number is invented.

A truth follows from the seed of the study and its own number alone.
"""

from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from predictor.advice.aim import TOLERANCE
from predictor.advice.history import History, learn_history
from predictor.domain.control import Control, Floats, Lever, Sprockets
from predictor.domain.drill import Holds, SeedBox
from predictor.domain.trials import joined
from predictor.study.drills import Log, MadeUpLot, Shape

FREE: Holds = "free-flowing"
# Repeatability of an ordinary catch, and what the box holds.
NOISES: tuple[tuple[float, Holds], ...]
NOISES = ((0.03, FREE), (0.05, FREE), (0.08, FREE), (0.12, FREE), (0.08, "chaffy"), (0.12, "chaffy"))
RATIOS = (0.14, 0.19, 0.24, 0.31, 0.38, 0.46, 0.57, 0.68, 0.84, 1.00, 1.22, 1.45)
CONTROLS: dict[str, Control] = {
    "lever, 10 steps": Lever(0, 100, 10),
    "lever, 30 steps": Lever(0, 30, 1),
    "lever, 100 steps": Lever(0, 100, 1),
    "chain, 12 ratios": Sprockets({str(k + 1): ratio for k, ratio in enumerate(RATIOS)}),
}
# Kinds of curve, and the range of what bends them.
KINDS: dict[str, tuple[float, float]] = {
    "line": (-0.15, 0.25),
    "power": (0.6, 1.6),
    "saturating": (0.3, 2.0),
    "roller": (0.0, 0.15),
    "gate": (-0.3, 0.15),
    "s-shaped": (0.3, 0.9),
    "kink": (0.4, 2.2),
    "step": (0.1, 0.25),
}
# Where the ideal setting lies, as shares of the range; and how often a target that no setting reaches is wanted.
PLACES = {"low": (0.08, 0.25), "middle": (0.25, 0.75), "high": (0.75, 0.95)}
OUT_OF_REACH, MOST_OFF, LEAST_SHARE = 0.15, 0.4, 0.02
# Heavy tails, bridging and drift come to one box in ten each.
SPECIALS = ("none", "heavy tails", "bridging", "drift")
SPECIAL_SHARES = (0.7, 0.1, 0.1, 0.1)
OWN = (1.0, 0.5, 0.25)
# The nearest setting's distance from target, in tolerances.
MARGINS = {"at most half a tolerance off": 0.5, "0.5 to 0.8": 0.8, "0.8 to 1": 1.0, "1 to 1.5": 1.5, "more": np.inf}
# What boxes in general differ in, and the levels in order.
FACTORS = {
    "noise": tuple(f"{100 * cv:g} %, {holds}" for cv, holds in NOISES),
    "control": tuple(CONTROLS),
    "shape": tuple(KINDS),
    "target": (*PLACES, "out of reach"),
    "special": SPECIALS,
    "own share": tuple(f"{own:g}" for own in OWN),
    "nearest setting": tuple(MARGINS),
}
# What six earlier lots of the box were like, of five catches each.
EARLIER_LOTS, EARLIER_CATCHES, LOT_SPREAD = 6, 5, 0.2
# A misleading history: calm lots, and the lot in hand of a box that now scatters.
CALM_THEN, WILD_NOW = 0.03, 0.10


@dataclass(frozen=True)
class Truth:
    """A made-up box with a lot and a target."""

    run: int
    lot: MadeUpLot
    target: float
    place: str  # Of the target on the scale; "out of reach" where no setting is within tolerance
    special: str
    nearest: float  # How far off target the mean of the nearest setting is, a fraction
    tolerance: float

    @property
    def within(self) -> bool:
        """Whether a setting is within tolerance."""
        return self.nearest <= self.tolerance

    @property
    def labels(self) -> dict[str, str]:
        """What the truth is like, by factor."""
        lot, off = self.lot, self.nearest / self.tolerance
        return {
            "noise": f"{100 * lot.cv:g} %, {lot.box.holds}",
            "control": next(name for name, each in CONTROLS.items() if each == lot.box.first_control),
            "shape": lot.shape.kind,
            "target": self.place,
            "special": self.special,
            "own share": f"{lot.own:g}",
            "nearest setting": next(name for name, most in MARGINS.items() if off <= most),
        }

    def right(self, opening: float, catches: int) -> bool:
        """Whether the true mean at an opening is within tolerance once so many catches were made."""
        return bool(abs(float(self.lot.after(catches).mean(opening)) / self.target - 1) <= self.tolerance)

    def scattering(self, cv: float) -> Self:
        """The same truth with another repeatability."""
        return replace(self, lot=replace(self.lot, cv=cv))


def made_up_truth(seed: int, run: int, tolerance: float = TOLERANCE) -> Truth:
    """The truth of a number; the scatter goes through all kinds in turn, all else is drawn."""
    rng = np.random.default_rng([seed, run])
    cv, holds = NOISES[run % len(NOISES)]
    control = list(CONTROLS.values())[rng.integers(len(CONTROLS))]
    kind, special = str(rng.choice(list(KINDS))), str(rng.choice(SPECIALS, p=SPECIAL_SHARES))
    place = "out of reach" if rng.random() < OUT_OF_REACH else str(rng.choice(list(PLACES)))
    lot = MadeUpLot(
        SeedBox("box", holds, control),
        Shape(kind, 1.0),
        1.0,
        cv,
        own=float(rng.choice(OWN)),
        wild=0.1 if special == "heavy tails" else 0.0,
        bridged=0.1 if special == "bridging" else 0.0,
        drift=float(rng.choice([-1, 1]) * rng.uniform(0.002, 0.008)) if special == "drift" else 0.0,
    )
    while True:
        lot = replace(lot, shape=general_shape(rng, kind))
        relative = _target(rng, lot, place, tolerance)
        if relative is not None:
            break
    target = float(np.exp(rng.uniform(*np.log([0.25, 1.2]))))
    lot = replace(lot, level=target / relative)
    return Truth(run, lot, target, place, special, _off(lot.mean(control.openings), target), tolerance)


def general_shape(rng: np.random.Generator, kind: str) -> Shape:
    """A shape of a kind, also beyond what is ordinary."""
    return Shape(kind, float(rng.uniform(*KINDS[kind])), float(rng.uniform(0.25, 0.75)))


def _off(means: Floats, target: float) -> float:
    """How far off target the nearest of several means is, a fraction."""
    return float(np.abs(means / target - 1).min())


def _target(rng: np.random.Generator, lot: MadeUpLot, place: str, tolerance: float) -> float | None:
    """A target up to the level, or None where the draw is not what is wanted."""
    control, reachable = lot.box.first_control, place != "out of reach"
    most = float(lot.relative(control.openings[-1]))
    if reachable or rng.random() < 0.5:
        share = rng.uniform(*PLACES[place]) if reachable else rng.uniform(PLACES["low"][0], PLACES["high"][1])
        relative = float(lot.relative(control.lowest_opening + control.span * share))
    else:
        relative = most / (1 - float(rng.uniform(tolerance, MOST_OFF)))
    if relative < LEAST_SHARE * most or (_off(lot.relative(control.openings), relative) <= tolerance) != reachable:
        return None
    return relative


def earlier_lots(truth: Truth, seed: int, *, cv: float | None = None, shape: Shape | None = None) -> History | None:
    """What the program learned from earlier lots of the box, caught about the target's place."""
    rng = np.random.default_rng([seed, truth.run, 2])
    lot = replace(truth.lot, cv=truth.lot.cv if cv is None else cv, shape=shape or truth.lot.shape, drift=0.0)
    openings = truth.lot.box.first_control.openings
    ideal = openings[np.argmin(np.abs(truth.lot.mean(openings) - truth.target))]
    around = openings[np.abs(openings - ideal) <= 0.2 * truth.lot.box.first_control.span]
    logs = []
    for number in range(EARLIER_LOTS):
        level = truth.lot.level * float(np.exp(LOT_SPREAD * rng.standard_normal()))
        log = Log(replace(lot, level=level), name=f"old {number}", season="1")
        log.add(rng, float(openings[len(openings) // 2]))
        for _ in range(EARLIER_CATCHES - 1):
            log.add(rng, float(rng.choice(around)))
        logs.append(log.trials())
    return learn_history(joined(logs), truth.lot.box)


def another_shape(truth: Truth, seed: int) -> Shape:
    """A shape of another kind."""
    rng = np.random.default_rng([seed, truth.run, 3])
    return general_shape(rng, str(rng.choice([kind for kind in KINDS if kind != truth.lot.shape.kind])))
