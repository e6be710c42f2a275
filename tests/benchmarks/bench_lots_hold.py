"""How often the limits of all ratios of a box hold together, and those of lots in one season.

Run by hand: python -m tests.benchmarks.bench_lots_hold [--logs 400] [--seed 1] [--only WORD]. Every log is invented.
Lots differ by 15 %, catches by 6 %; settings are 15 to 35 on a lever whose dead setting is 3. The truth is the lasting
level of each lot, at the setting named; for a row of one season also its level in that season.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass
from itertools import product

import numpy as np

from predictor.lots.compare import compare_lots
from predictor.lots.results import LotComparison
from tests.lots.lot_logs import BOX, log


@dataclass(frozen=True)
class Cell:
    """One kind of log."""

    lots: int
    catches: tuple[int, int]  # Fewest and most of a lot in a season
    seasons: int = 1
    linked: bool = True  # Whether lots are caught in two or three of several seasons, else in one each
    kind: str = ""  # "shift", "slow set higher", "t5", or two of them
    dead: float = 0.0  # Dead settings are this far above or below 3
    lot_cv: float = 0.15  # How much lots and catches differ
    catch_cv: float = 0.06

    def __str__(self) -> str:
        low, high = self.catches
        much = f"{low}" if low == high else f"{low}-{high}"
        how = "" if self.seasons == 1 else f", {self.seasons} seasons {'linked' if self.linked else 'apart'}"
        shape = f" dead 3 +- {self.dead:g}" if self.dead else ""
        usual = (self.lot_cv, self.catch_cv) == (0.15, 0.06)
        differ = "" if usual else f" lots {100 * self.lot_cv:g} %, catches {100 * self.catch_cv:g} %"
        return f"{self.lots:2} lots, {much:4} catches{how} {self.kind}{shape}{differ}"


CELLS = [
    *(Cell(*each) for each in product((2, 5, 12), ((1, 3), (2, 2), (1, 12)))),
    Cell(45, (1, 3)),
    *(Cell(5, (1, 3), kind=kind) for kind in ("slow set higher", "t5")),
    *(Cell(lots, catches, 2, linked) for lots, catches, linked in product((2, 5, 12), ((1, 3), (2, 2)), (True, False))),
    *(Cell(lots, catches, 3, kind="shift") for lots, catches in product((2, 5, 12), ((1, 3), (2, 2), (1, 12)))),
    Cell(45, (1, 3), 3, kind="shift"),
    Cell(5, (1, 3), 5, kind="shift"),
    *(Cell(5, (1, 3), 3, kind=f"shift, {kind}") for kind in ("t5", "slow set higher")),
    *(Cell(5, catches, dead=dead) for dead, catches in product((2.0, 5.0), ((1, 3), (1, 12)))),
]


@dataclass(frozen=True)
class Held:
    """What one log shows."""

    together: bool  # Whether all limits hold
    season: bool | None  # Whether all limits of lots in one season do; None without such rows
    rejected: bool  # Whether one shape is given up
    width: float  # Of the limits in the median, as a log ratio


class MadeUp:
    """A made-up log and its truths."""

    def __init__(self, cell: Cell, rng: np.random.Generator):
        self.cell = cell
        self.level = rng.normal(0, cell.lot_cv, cell.lots)
        self.dead = 3 + cell.dead * rng.choice((-1, 1), cell.lots)
        self.inside = dict[tuple[int, str], float]()
        self.rows = list[tuple[str, float, float, str]]()
        for lot in range(cell.lots):
            caught = [lot % cell.seasons]
            if cell.linked and cell.seasons > 1:
                caught = sorted(rng.choice(cell.seasons, min(cell.seasons, int(rng.integers(2, 4))), replace=False))
            for season in map(str, 2020 + np.array(caught)):
                self.inside[lot, season] = self.level[lot] + (rng.normal(0, 0.05) if "shift" in cell.kind else 0.0)
                for _ in range(rng.integers(cell.catches[0], cell.catches[1] + 1)):
                    x = float(rng.choice((15, 20, 25, 30, 35)))
                    x = max(x - 20 * self.level[lot], 9.0) if "higher" in cell.kind else x
                    noise = rng.standard_t(5) / math.sqrt(5 / 3) if "t5" in cell.kind else rng.normal()
                    size = math.exp(self.inside[lot, season] + cell.catch_cv * noise)
                    self.rows.append((f"L{lot}", x, 6 * (x - self.dead[lot]) * size, season))

    def ratio(self, found: LotComparison, lot: str, at: float, season: str | None = None) -> float:
        """The true ratio of a lot to the reference lot at an opening, lasting or of one season."""
        k, r = int(lot[1:]), int(found.reference.lot[1:])
        own, other = self.level[k], self.level[r]
        if season is not None:
            own, other = self.inside[k, season], self.inside[r, found.reference.season or season]
        return math.exp(own - other) * (at - self.dead[k]) / (at - self.dead[r])

    def shifted(self, lot: str, season: str, rng: np.random.Generator) -> float:
        """The level of a lot in a season; in one it was not caught in, it shifts anew."""
        k = int(lot[1:])
        if (k, season) not in self.inside:
            self.inside[k, season] = self.level[k] + (rng.normal(0, 0.05) if "shift" in self.cell.kind else 0.0)
        return self.inside[k, season]

    def log_catch(self, lot: str, at: float, season: str, rng: np.random.Generator) -> float:
        """Log of what a lot gives at an opening, without scatter; nearly nothing below its dead setting."""
        return self.shifted(lot, season, rng) + math.log(6 * (max(at - self.dead[int(lot[1:])], 1e-6)))

    def needed(self, lot: str, log_catch: float, season: str, rng: np.random.Generator) -> float:
        """The opening at which a lot gives so much."""
        return self.dead[int(lot[1:])] + math.exp(log_catch - self.shifted(lot, season, rng)) / 6

    def held(self) -> Held | None:
        """Whether the limits hold; None without limits."""
        found = compare_lots(log(self.rows), BOX)
        rows = [row for row in found.lots if row.lower and row.upper and row.name != found.reference.name]
        if not rows:
            return None
        catches = found.curves.catches
        usual = catches.most_caught(catches.index(found.reference.name))
        truth = [self.ratio(found, row.lot, row.at_setting.opening if row.at_setting else usual) for row in rows]
        season = None
        if found.reference.season:
            known = [row for row in rows if row.season_lower]
            true = [
                self.ratio(found, row.lot, row.at_setting.opening if row.at_setting else usual, row.season)
                for row in known
            ]
            season = all(row.season_lower <= each <= row.season_upper for row, each in zip(known, true, strict=True))
        return Held(
            all(row.lower <= each <= row.upper for row, each in zip(rows, truth, strict=True)),
            season,
            found.shape.same is False,
            float(np.median([math.log(row.upper / row.lower) for row in rows])),
        )


def logs_of(cell: Cell, logs: int, seed: int) -> list[Held]:
    """What made-up logs of a cell show, but for those without limits."""
    rng = np.random.default_rng(seed)
    return [each for _ in range(logs) if (each := MadeUp(cell, rng).held())]


def share(flags: list[bool]) -> str:
    """A share in per cent, with its standard error."""
    rate = float(np.mean(flags)) if flags else math.nan
    return f"{100 * rate:5.1f} ({100 * math.sqrt(rate * (1 - rate) / max(len(flags), 1)):.1f})"


def main() -> None:
    """Print a line for each kind of log."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--logs", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    print("all limits held; of lots in one season; where one shape was rejected; per cent, standard errors in brackets")
    for cell in CELLS:
        if asked.only not in str(cell):
            continue
        found = logs_of(cell, asked.logs, asked.seed)
        together, wrong = [each.together for each in found], [each.together for each in found if each.rejected]
        season = [each.season for each in found if each.season is not None]
        width = float(np.median([each.width for each in found]))
        print(
            f"{cell!s:52} {share(together)}  {share(season)}  {share(wrong)} of {len(wrong)}, "
            f"limits {math.exp(width / 2):.2f} times in the median, {len(found)} logs",
            flush=True,
        )


if __name__ == "__main__":
    main()
