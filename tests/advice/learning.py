"""Calibrations of made-up boxes with and without earlier lots, to see what history does to catches and to locks."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from predictor.advice.aim import Aim
from predictor.advice.history import History, learn_history
from predictor.domain.control import Lever
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.trials import joined, no_trials
from predictor.study.drills import Log, MadeUpLot, Shape
from predictor.study.technician import asked, follow

BOX = SeedBox("box", "free-flowing", Lever(0, 100, 1))
DRILL, OTHER = Drill("this one", 12, 0.19, 2.2, (BOX,)), Drill("another", 12, 0.19, 2.2, (BOX,))
LOTS_DIFFER = 0.2


@dataclass(frozen=True)
class Counted:
    """What came of many calibrations; each value with its Monte Carlo standard error."""

    right: tuple[float, float]  # Share of all that ended at a setting within tolerance
    catches: tuple[float, float]
    first_off: tuple[float, float]  # Root mean square of the log rate at the first setting over the target

    @classmethod
    def of(cls, rights, catches, offs):
        runs, share = len(rights), (np.sum(rights) + 0.5) / (len(rights) + 1)
        squares = np.square(offs)
        root = float(np.sqrt(np.mean(squares)))
        return cls(
            (float(np.mean(rights)), float(np.sqrt(share * (1 - share) / runs))),
            (float(np.mean(catches)), float(np.std(catches) / np.sqrt(runs))),
            (root, float(np.std(squares) / np.sqrt(runs) / 2 / max(root, 1e-9))),
        )


def log_of(rng, lot, name, season, catches=5):
    """Catches of a lot in the middle half of the control."""
    log = Log(lot, name=name, season=season)
    for at in rng.integers(25, 76, catches):
        log.add(rng, float(at))
    return log.trials()


def lots_of(rng, dead, cv, count, drill, season="1"):
    """A log of several lots on a box with this dead setting and repeatability."""
    lots = [level_of(rng, dead, cv) for _ in range(count)]
    log = joined([log_of(rng, lot, f"old {k}", season) for k, lot in enumerate(lots)])
    return replace(log, drill=drill, drill_name=np.full(len(log), drill.name))


def level_of(rng, dead, cv, level=None):
    """A lot as free or less free as lots are."""
    level = float(np.exp(LOTS_DIFFER * rng.standard_normal())) if level is None else level
    return MadeUpLot(BOX, Shape("line", dead), level, cv)


def elsewhere(rng, dead, cv, drills=1, spread=0.0, lots=5):
    """Logs of other drills whose dead settings lie about one."""
    return [
        replace(log, drill_name=np.full(len(log), f"drill {k}"))
        for k in range(drills)
        for log in [lots_of(rng, dead + spread * rng.standard_normal(), cv, lots, OTHER)]
    ]


def calibrate(make, runs, seed=0) -> Counted:
    """Calibrate made-up lots; `make(rng)` gives the lot in hand and the history it is calibrated with."""
    rights, counts, offs = [], [], []
    for run in range(runs):
        lot, history = make(np.random.default_rng([seed, run]))
        rng = np.random.default_rng([seed, run, 1])
        target = float(lot.mean(rng.uniform(30, 70)))
        aim = Aim(target, history=history)
        first = asked(no_trials(DRILL), BOX, aim)[1].setting
        assert first is not None
        ending = follow(Log(lot), rng, aim, first=first.opening)
        locked = ending.end in ("lock", "offer")
        rights.append(locked and abs(float(lot.mean(ending.opening)) / target - 1) <= aim.tolerance)
        counts.append(ending.catches)
        offs.append(np.log(float(lot.mean(first.opening)) / target))
    return Counted.of(rights, counts, offs)


def learned(others, own=None, before=None) -> History | None:
    """What is learned of the box from catches of this drill and of others."""
    return learn_history(no_trials(DRILL) if own is None else own, BOX, before=before, others=others)
