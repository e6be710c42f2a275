"""Operating characteristics: how often ways to calibrate end right, and how often intervals hold the truth."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import Any, Self

from predictor.domain.control import Lever
from predictor.study.general import COVER_CATCHES, WAYS, Limits, calibrated, limits_held
from predictor.study.own_boxes import ROWS, RULES, Result, Setup, Tick, study
from predictor.study.runs import each_run
from predictor.study.tally import Endings, Record, Share, by_factor
from predictor.study.truths import EARLIER_LOTS

# Ways to calibrate boxes in general that a study compares, and how many boxes it takes for each run.
GENERAL = tuple(name for name in WAYS if not name.startswith("all"))
BOXES = 4
# Parts of a study, each of as many runs.
PARTS = 2 * len(ROWS) + BOXES * (len(GENERAL) + 1)


@dataclass(frozen=True)
class GeneralRow:
    """How calibrations of boxes in general ended, of all of them or of one level of a factor."""

    way: str
    factor: str  # "" for all boxes
    level: str
    boxes: int
    endings: Endings


@dataclass(frozen=True)
class Coverage:
    """How often 95 % intervals held the truth where the advice goes, after some catches."""

    special: bool  # On boxes with heavy tails, bridging or drift, or on those without
    catches: int
    mean: Share
    next: Share
    setting: Share

    @classmethod
    def of(cls, special: bool, catches: int, limits: Iterable[Limits]) -> Self:
        """Count the limits after so many catches on one of the two sorts of boxes."""
        held = [each for each in limits if each.catches == catches and (each.labels["special"] != "none") == special]
        settings = [each.setting for each in held if each.setting is not None]
        of_mean, of_next = Share.count(each.mean for each in held), Share.count(each.next for each in held)
        return cls(special, catches, of_mean, of_next, Share.count(settings))


@dataclass(frozen=True)
class Study:
    """Rules compared on the study's own boxes, the program on boxes in general, and the cover of its intervals."""

    runs: int
    seed: int
    tolerance: float
    rows: tuple[tuple[Setup, tuple[Result, ...]], ...]
    general: tuple[GeneralRow, ...]
    cover: tuple[Coverage, ...]

    def to_dict(self) -> dict[str, Any]:
        """The study as `simulate --json` prints it."""
        rows = []
        for setup, results in self.rows:
            row = {"repeatability": setup.cv, "holds": setup.holds, "tolerance": setup.tolerance}
            rows.append({**row, "earlier_lots": setup.earlier_lots, "rules": [asdict(result) for result in results]})
        plain = {name: list(map(asdict, part)) for name, part in (("general", self.general), ("cover", self.cover))}
        return {"schema": 2, "runs": self.runs, "seed": self.seed, "tolerance": self.tolerance, "rows": rows, **plain}

    @classmethod
    def from_dict(cls, plain: dict[str, Any]) -> Self:
        """The study that `to_dict` gave."""
        rows = []
        for row in plain["rows"]:
            setup = Setup(row["repeatability"], row["holds"], tolerance=row["tolerance"])
            rows.append(
                (replace(setup, earlier_lots=row["earlier_lots"]), tuple(Result(**each) for each in row["rules"]))
            )
        general = [GeneralRow(**{**row, "endings": Endings.from_dict(row["endings"])}) for row in plain["general"]]
        cover = [
            Coverage(each["special"], each["catches"], *(Share(**each[name]) for name in ("mean", "next", "setting")))
            for each in plain["cover"]
        ]
        return cls(plain["runs"], plain["seed"], plain["tolerance"], tuple(rows), tuple(general), tuple(cover))


def whole_study(
    runs: int, seed: int, tolerance: float, step: float, row_spread: float, tick: Tick, processes: int = 1
) -> Study:
    """All of a study; `tick` is called after each run, `PARTS * runs` times."""
    control = Lever(0, 100, round(100 * step, 6))
    rows = []
    for lots, rules in ((0, RULES), (EARLIER_LOTS, ("advice",))):
        setups = [Setup(cv, holds, control, tolerance, lots, row_spread) for cv, holds in ROWS]
        rows += [(setup, study(setup, runs, seed, rules, tick, processes)) for setup in setups]
    general, boxes = list[GeneralRow](), range(BOXES * runs)
    for way in GENERAL:
        records = list(each_run(partial(calibrated, WAYS[way], seed, tolerance), boxes, processes, tick))
        general += general_rows(way, records)
    held = each_run(partial(limits_held, WAYS[GENERAL[0]], seed, tolerance), boxes, processes, tick)
    limits = [each for several in held for each in several]
    cover = tuple(Coverage.of(special, catches, limits) for special in (False, True) for catches in COVER_CATCHES)
    return Study(runs, seed, tolerance, tuple(rows), tuple(general), cover)


def general_rows(way: str, records: Sequence[Record]) -> list[GeneralRow]:
    """The endings of all records, and of those of each level of each factor."""
    groups = {("", ""): records, **by_factor(records)}
    return [GeneralRow(way, *name, len(part), Endings.of(part)) for name, part in groups.items()]
