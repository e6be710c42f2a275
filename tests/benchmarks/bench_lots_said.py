"""All that is promised of what `compare` says of lots, by simulation: starts, drift, limits of ratios, repeatability.

Run by hand: python -m tests.benchmarks.bench_lots_said [--logs 400] [--seed 1]. Each line is a kind of log and has its
standard errors. The other three parts can be run alone; repeatability is only here.
"""

from __future__ import annotations

import argparse
import math
import sys
from itertools import product

import numpy as np

from predictor.lots.repeatability import same_repeatability
from tests.benchmarks import bench_lots_drift, bench_lots_hold, bench_lots_starts
from tests.benchmarks.bench_lots_hold import share
from tests.lots.test_repeatability import drawn

SEASONS_LOTS_CATCHES = [
    *product((2, 3, 5), (3,), ((2, 3),)),
    *((2, 12, (2, 2)), (3, 4, (1, 12)), (2, 1, (6, 12)), (5, 12, (1, 3)), (5, 5, (1, 12))),
]


def repeatability(logs: int, seed: int) -> None:
    """How often a change of repeatability is claimed where there is none."""
    print("claims of another repeatability, per cent of logs in which none changed, standard errors in brackets")
    for (seasons, lots, catches), tails in product(SEASONS_LOTS_CATCHES, (False, True)):
        rng = np.random.default_rng(seed)
        found = [same_repeatability(*drawn(rng, seasons, lots, catches, tails), 0.0) for _ in range(logs)]
        claims = [each.p < 0.05 for each in found if each is not None and not math.isnan(each.p)]
        kind = "t5" if tails else "normal"
        print(
            f"{seasons} seasons, {lots:2} lots, {catches[0]}-{catches[1]:2} catches, {kind:6} {share(claims)}",
            flush=True,
        )


def main() -> None:
    """Run all four."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    sys.argv = [sys.argv[0], "--logs", str(asked.logs), "--seed", str(asked.seed)]
    for part in (bench_lots_starts, bench_lots_drift, bench_lots_hold):
        print(f"\n{part.__name__.rpartition('.')[2]}")
        part.main()
    print()
    repeatability(5 * asked.logs, asked.seed)


if __name__ == "__main__":
    main()
