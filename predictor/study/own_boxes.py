"""The study's own boxes: fine levers, targets in the middle, curves and spreads as the program expects them.

Drills, spreads and targets are invented; `study` describes them.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Self

import numpy as np

from predictor.advice.aim import TOLERANCE, Aim
from predictor.advice.history import History, learn_history
from predictor.domain.control import Control, Floats, Lever
from predictor.domain.drill import CatchDefaults, Drill, Holds, SeedBox
from predictor.domain.trials import Trials, joined
from predictor.study.drills import SHAPES, Log, MadeUpLot, random_shape, row_effects
from predictor.study.rules import calibrate, hand_rule, oracle_rule
from predictor.study.runs import each_run
from predictor.study.technician import InParts, follow
from predictor.study.truths import FREE, OWN

# The rows: true repeatability, and the kind of seed the box is said to hold. The last two are boxes that scatter more
# than their kind is expected to.
ROWS: tuple[tuple[float, Holds], ...]
ROWS = ((0.03, FREE), (0.05, FREE), (0.08, "chaffy"), (0.12, "chaffy"), (0.08, FREE), (0.12, FREE))
RULES = ("one-catch", "two-catch", "oracle", "advice", "advice-parts")

Tick = Callable[[], None]


@dataclass(frozen=True)
class Setup:
    """One row of a study."""

    cv: float  # True repeatability
    holds: Holds = "free-flowing"
    control: Control = field(default_factory=lambda: Lever(0, 100, 1))
    tolerance: float = TOLERANCE
    earlier_lots: int = 0  # Lots of five catches in an earlier season, whose history the advice may use; 0 for none
    row_spread: float = 0.0  # How rows differ, a fraction; 3 of 12 are caught


@dataclass(frozen=True)
class Result:
    """What became of a rule over many made-up calibrations."""

    rule: str
    catches: float  # Mean number of catches, and its Monte Carlo standard error
    catches_error: float
    right: float
    right_error: float

    @classmethod
    def of(cls, rule: str, counts: Sequence[float] | Floats, rights: Sequence[float] | Floats) -> Self:
        """Means and their errors."""
        runs = np.size(counts)
        # Half a run more on either side: all right in 600 runs does not mean right for sure.
        share = (np.sum(rights) + 0.5) / (runs + 1)
        values = (np.mean(counts), np.std(counts) / np.sqrt(runs), np.mean(rights), np.sqrt(share * (1 - share) / runs))
        return cls(rule, *map(float, values))


def study(
    setup: Setup, runs: int, seed: int, rules: Sequence[str] = RULES, tick: Tick = lambda: None, processes: int = 1
) -> tuple[Result, ...]:
    """Calibrate many made-up boxes by several rules and see which end right, after how many catches.

    The first catch is made at mid-range; the true setting for the target lies anywhere in the middle half, where the
    control can reach the target within tolerance; noise is log-normal with mean one. All rules meet the same boxes.
    """
    ends = np.array(
        list(each_run(partial(_ends, setup, seed, tuple(rules)), range(runs), processes, tick)), dtype=float
    )
    return tuple(Result.of(name, *ends[:, k].T) for k, name in enumerate(rules))


def _ends(setup: Setup, seed: int, rules: tuple[str, ...], run: int) -> list[tuple[int, bool]]:
    """Catches that each rule takes for one made-up box, and whether it locks a right setting."""
    lot, target, history, drill = _made_up(np.random.default_rng([seed, run]), setup, run)
    aim, found = Aim(target, setup.tolerance, history=history), []
    first = float(setup.control.openings[len(setup.control.openings) // 2])
    by_hand = {
        "one-catch": hand_rule(lot.box, setup.tolerance),
        "two-catch": hand_rule(lot.box, setup.tolerance, confirm=True),
        "oracle": oracle_rule(lot, setup.tolerance),
    }
    for name in rules:
        log, rng = Log(lot, keep_rows=setup.row_spread > 0), np.random.default_rng([seed, run, 1])
        if name in by_hand:
            count, opening = calibrate(log, rng, by_hand[name], target, first)
        else:
            in_parts: InParts = "first" if name == "advice-parts" else "none"
            ending = follow(log, rng, aim, first=first, drill=drill, in_parts=in_parts)
            count, opening = ending.catches, ending.opening if ending.end in ("lock", "offer") else np.nan
        found.append((count, bool(abs(float(lot.mean(opening)) / target - 1) <= setup.tolerance)))
    return found


def _made_up(rng: np.random.Generator, setup: Setup, run: int) -> tuple[MadeUpLot, float, History | None, Drill | None]:
    """A lot, a target within reach, the history of its box, and a drill where rows differ."""
    box = SeedBox("box", setup.holds, setup.control)
    effects = row_effects(rng, setup.row_spread, 12) if setup.row_spread else ()
    drill = Drill("made up", 12, 0.19, 2.2, (box,), CatchDefaults(scale_resolution_g=1e-6)) if effects else None
    own = OWN[run // len(SHAPES) % len(OWN)]
    while True:
        shape = random_shape(rng, SHAPES[run % len(SHAPES)])
        lot = MadeUpLot(box, shape, float(np.exp(0.2 * rng.standard_normal())), setup.cv, effects, own)
        target = float(lot.mean(setup.control.lowest_opening + setup.control.span * rng.uniform(0.25, 0.75)))
        if np.any(np.abs(lot.mean(setup.control.openings) / target - 1) <= setup.tolerance):
            break
    history = learn_history(_earlier(rng, lot, setup.earlier_lots), box) if setup.earlier_lots else None
    return lot, target, history, drill


def _earlier(rng: np.random.Generator, lot: MadeUpLot, count: int) -> Trials:
    """An earlier season's log of the same box: lots of five catches, the first at mid-range."""
    openings = lot.box.first_control.openings
    middle = openings[(openings >= np.quantile(openings, 0.25)) & (openings <= np.quantile(openings, 0.75))]
    parts = []
    for number in range(count):
        other = replace(lot, level=float(np.exp(0.2 * rng.standard_normal())))
        log = Log(other, name=f"old {number}", season="1")
        log.add(rng, openings[len(openings) // 2])
        for _ in range(4):
            log.add(rng, float(rng.choice(middle)))
        parts.append(log.trials())
    return joined(parts)
