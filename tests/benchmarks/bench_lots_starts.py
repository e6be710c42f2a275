"""How near the settings to start at come to the wanted output, and how often their limits hold.

Run by hand: python -m tests.benchmarks.bench_lots_starts [--logs 400] [--seed 1] [--only WORD]. Every log is invented,
as in bench_lots_hold. For each kind of log: how many starts give within 10 % of the wanted output, by the predicted
flow of a lot and, to compare, by its own catches alone; the same of lots caught once; how often the limits of starts
hold; and both of a lot that is not in the log.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from predictor.domain.control import Lever, Setting
from predictor.domain.drill import SeedBox
from predictor.lots.compare import compare_lots
from tests.benchmarks.bench_lots_hold import Cell, MadeUp, share
from tests.lots.lot_logs import log

# So fine that readings take no part.
BOX = SeedBox("small", "small", Lever(0, 60, 0.01))
NEAR, HALF_A_READING = 0.10, 0.005
CHAFFY = {"lot_cv": 0.08, "catch_cv": 0.12}
CELLS = [
    *(Cell(*each) for each in product((2, 5, 12), ((1, 3), (2, 2), (1, 12)))),
    Cell(12, (1, 1)),
    *(Cell(lots, catches, **CHAFFY) for lots, catches in product((2, 5, 12), ((1, 1), (1, 3), (2, 2), (1, 12)))),
    *(Cell(5, (1, 3), kind=kind) for kind in ("slow set higher", "t5")),
    *(Cell(lots, (1, 3), 2, linked) for lots, linked in product((5, 12), (True, False))),
    *(Cell(lots, (1, 3), 3, kind="shift") for lots in (2, 5, 12)),
    *(Cell(5, (1, 12), dead=dead) for dead in (2.0, 5.0)),
    Cell(150, (1, 3)),
]


@dataclass(frozen=True)
class Start:
    """One start, by what it gives as a log ratio to the wanted output; NaN where there is none."""

    catches: int  # Of the lot; none of one that is not in the log
    predicted: float
    alone: float  # By the lot's own catches
    held: bool | None  # Whether the limits hold the setting that is needed; None without limits


def starts_of(cell: Cell, rng: np.random.Generator, *, target: bool) -> list[Start]:
    """What a made-up log advises for each lot, and for one lot more; without a target the reference has no start."""
    made, new = MadeUp(replace(cell, lots=cell.lots + 1), rng), f"L{cell.lots}"
    trials = log([row for row in made.rows if row[0] != new])
    if target:
        trials = replace(trials, target_g=np.full(len(trials), 120.0))
    found = compare_lots(trials, BOX)
    against, curves = found.reference, found.curves
    last = max(curves.catches.seasons)
    r = curves.catches.index(against.name)
    goal, wanted = math.log(against.output), math.log(120.0)
    if not target:
        wanted = made.log_catch(against.lot, against.setting.opening, against.season or last, rng)
    got = []
    for row in found.lots:
        k = curves.catches.index(row.name)
        if k == r and not target:
            continue
        size = math.expm1(min(goal - float(curves.lines.level[k]), 50.0))
        alone = float(curves.middle[k]) + size / float(curves.bend[k]) if curves.bend[k] > 0 else math.nan
        ends = (row.setting, row.setting_lower, row.setting_upper)
        got.append(_start(made, row.lot, row.season or last, row.catches, alone, ends, wanted, rng))
    spread = found.spread
    if spread is not None:
        ends = (spread.next_setting, spread.next_setting_lower, spread.next_setting_upper)
        got.append(_start(made, new, last, 0, math.nan, ends, wanted, rng))
    return got


def _start(
    made: MadeUp,
    lot: str,
    season: str,
    catches: int,
    alone: float,
    ends: Sequence[Setting | None],
    wanted: float,
    rng: np.random.Generator,
) -> Start:
    at, low, high = (math.nan if each is None else each.opening for each in ends)
    predicted, own = (made.log_catch(lot, each, season, rng) - wanted for each in (at, alone))
    needed = made.needed(lot, wanted, season, rng)
    inside = not (low - HALF_A_READING > needed or needed > high + HALF_A_READING)
    return Start(catches, predicted, own, None if math.isnan(low) and math.isnan(high) else inside)


def line_of(cell: Cell, starts: Sequence[Start]) -> str:
    """The figures of a kind of log."""
    seen, once, new = ([each for each in starts if each.catches in which] for which in (range(1, 999), (1,), (0,)))
    near = [share([abs(math.expm1(each.predicted)) <= NEAR for each in which]) for which in (seen, once, new)]
    alone = [share([abs(math.expm1(each.alone)) <= NEAR for each in which]) for which in (seen, once)]
    held = [share([each.held for each in which if each.held is not None]) for which in (seen, new)]
    return (
        f"{cell!s:58} near {near[0]}, alone {alone[0]}; once {near[1]}, alone {alone[1]}; limits {held[0]}; "
        f"new lot near {near[2]}, limits {held[1]}"
    )


def main() -> None:
    """Print a line for each kind of log."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    print("starts in per cent, standard errors in brackets; half of the logs name a target")
    for cell in CELLS:
        if asked.only in str(cell):
            rng = np.random.default_rng(asked.seed)
            found = [each for k in range(asked.logs) for each in starts_of(cell, rng, target=k % 2 == 0)]
            print(line_of(cell, found), flush=True)


if __name__ == "__main__":
    main()
