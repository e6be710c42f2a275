"""How often a drift is claimed where there is none, and how often its limits hold one of 3 % a season.

Run by hand: python -m tests.benchmarks.bench_lots_drift [--logs 400] [--seed 1] [--only WORD]. Every log is
invented. Lots differ by 15 %, catches by 5 %; settings run from 15 to 45 on a lever whose dead setting is 3.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass
from itertools import product

import numpy as np

from predictor.lots.catches import select
from predictor.lots.results import Drift
from predictor.lots.season_levels import season_cells
from predictor.lots.seasons import steady_drift, years_of
from predictor.lots.shapes import fit_common
from tests.lots.lot_logs import BOX, log


@dataclass(frozen=True)
class Cell:
    """One kind of log."""

    lots: int
    catches: tuple[int, int]  # Fewest and most of a lot in a season
    linked: bool  # Whether lots are caught in several seasons, else in one each
    seasons: int = 2
    kind: str = ""  # "shift", "slow set higher", "t5", "settings move"

    def __str__(self) -> str:
        low, high = self.catches
        much = f"{low}" if low == high else f"{low}-{high}"
        how = "linked" if self.linked else "apart"
        return f"{self.lots:2} lots, {much:4} catches, {self.seasons} seasons, {how:6} {self.kind}"


CELLS = [
    *(Cell(*each) for each in product((2, 5, 12), ((1, 3), (2, 2), (1, 12)), (True, False))),
    *(
        Cell(5, (1, 3), linked, seasons, kind)
        for kind in ("", "shift", "slow set higher", "t5", "settings move")
        for linked, seasons in ((True, 2), (True, 3), (True, 5), (False, 3))
        if kind or seasons != 2
    ),
    Cell(12, (2, 2), True, 3, "shift"),
    *(Cell(2, catches, True, 2, "shift") for catches in ((1, 3), (2, 2))),
]


def drift_of(cell: Cell, rng: np.random.Generator, drift: float) -> Drift | None:
    """The drift that a made-up log shows."""
    rows = []
    for lot in range(cell.lots):
        level = rng.normal(0, 0.15)
        caught = [lot % cell.seasons]
        if cell.linked:
            caught = sorted(rng.choice(cell.seasons, min(cell.seasons, int(rng.integers(2, 4))), replace=False))
        for season in caught:
            moved = rng.normal(0, 0.05) if cell.kind == "shift" else 0.0
            for _ in range(rng.integers(cell.catches[0], cell.catches[1] + 1)):
                x = float(rng.choice((15, 20, 25, 30, 35)))
                x += {"slow set higher": -20 * level, "settings move": 5.0 * season}.get(cell.kind, 0.0)
                x = max(x, 8.0)
                noise = rng.standard_t(5) / math.sqrt(5 / 3) if cell.kind == "t5" else rng.normal()
                rows.append(
                    (f"L{lot}", x, 6 * (x - 3) * math.exp(level + moved + drift * season + 0.05 * noise), season)
                )
    frame = log([(lot, x, grams, str(2020 + season)) for lot, x, grams, season in rows])
    catches = select(frame, BOX)
    if len(catches.seasons) < 2:
        return None
    return steady_drift(season_cells(fit_common(catches, 0.95)), years_of(catches.seasons), 0.95, [])


def main() -> None:
    """Print a line for each kind of log."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    print("claims: per cent of logs without drift; held, shown: of logs with 3 %; standard errors in brackets")
    for cell in CELLS:
        if asked.only not in str(cell):
            continue
        rng = np.random.default_rng(asked.seed)
        none = [each for _ in range(asked.logs) if (each := drift_of(cell, rng, 0.0))]
        some = [each for _ in range(asked.logs) if (each := drift_of(cell, rng, 0.03))]
        if not none or not some:
            print(f"{cell}: no drift can be given")
            continue
        rates = [
            np.mean([each.shown for each in none]),
            np.mean([each.lower < math.exp(0.03) < each.upper for each in some]),
            np.mean([each.shown for each in some]),
        ]
        said = "  ".join(f"{100 * r:5.1f} ({100 * math.sqrt(r * (1 - r) / len(none)):.1f})" for r in rates)
        print(f"{cell}: {said}  of {len(none)}", flush=True)


if __name__ == "__main__":
    main()
