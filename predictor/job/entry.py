"""A catch to be entered: what is usual for a box, which lot is meant, and what the weight should be."""

from __future__ import annotations

import datetime
import math

import numpy as np

from predictor.advice.result import Advice
from predictor.domain.catch import CatchSize, catch_size
from predictor.domain.control import Setting
from predictor.domain.drill import SeedBox
from predictor.domain.drives import LeverAndDrive, OnDrive
from predictor.domain.trials import Trials, last_season
from predictor.files.entry import Catch, season_of
from predictor.files.form import Value
from predictor.job.job import Job
from predictor.job.task import Task
from predictor.slips.given import states
from predictor.units import METRES

# Before the first catch of a lot, its weight may be this many times the target, or as many times less.
WIDE = 5.0


def lots_of(job: Job, box: SeedBox) -> list[str]:
    """The lots known of a box: those of the plan, then those caught."""
    planned = [] if job.plan is None else [each.lot for each in job.plan.boxes if each.box.name == box.name]
    return list(dict.fromkeys([*planned, *job.trials.of(box=box.name).lot.tolist()]))


def usual_lot(job: Job, box: SeedBox) -> str:
    """The lot last caught from a box, else the first of the plan; "" where there is neither."""
    return next(iter([*reversed(job.trials.of(box=box.name).lot.tolist()), *lots_of(job, box)]), "")


def lot_to_catch(job: Job, box: SeedBox) -> str:
    """The usual lot of a box, or the one of the plan that follows it once it is planted."""
    usual = usual_lot(job, box)
    planned = [] if job.plan is None else [each.lot for each in job.plan.boxes if each.box.name == box.name]
    day = job.today.isoformat()
    waiting = [each for each in planned if not job.planted.of(box.name, each, day)]
    return waiting[0] if waiting and job.planted.of(box.name, usual, day) else usual


def box_to_catch(job: Job) -> str:
    """The box to catch next: that of the last catch as long as it has no lock, else that of the next step; or ""."""
    step = job.next_step()
    boxes = step.boxes if step is not None and step.code in ("catch", "next_lot", "check_log") else ()
    last = str(job.trials.box[-1]) if len(job.trials) else ""
    return last if last in boxes else next(iter(boxes), "")


def was_charged(catches: Trials) -> bool:
    """Whether one of the catches in use states that the meters were charged; a "no" is of its own catch alone."""
    return bool((states(catches, "charged") & catches.charged & catches.use).any())


def last_container(catches: Trials) -> float | None:
    """Weight of the container of the last catch in use that states one, grams a weighing; None where none does."""
    stated = np.flatnonzero(np.isfinite(catches.tare_g) & catches.use)
    if not len(stated):
        return None
    i = int(stated[-1])
    weighings = len(catches.rows_g[i] or catches.parts_g[i] or (0,))
    return round(float(catches.tare_g[i]) / weighings, 6)


def last_size(job: Job, box: SeedBox, lot: str) -> CatchSize:
    """The size of the last catch of a lot, else the usual one of its box."""
    mine, usual = job.trials.of(box=box.name, lot=lot), job.drill.catch_of(box)
    if not len(mine):
        return CatchSize(usual.turns, usual.counted, usual.rows)
    return catch_size(float(mine.turns[-1]), float(mine.rows[-1]), job.drill, box, bool(mine.towed[-1]))


def turns_of(job: Job, catch: Catch) -> float:
    """The turns of a catch, or as many as cover the distance that it was towed."""
    if catch.counted not in METRES:
        return catch.length
    return catch.length * METRES[catch.counted] / job.drill.covers_of(catch.box)


def wanted_g(job: Job, catch: Catch) -> float | None:
    """What a catch on target weighs, of the turns and rows of one; None without a target for its lot and drive."""
    advice = advice_on(job, catch.box, catch.lot)
    if advice is None or (isinstance(advice.control, OnDrive) and advice.control.drive != catch.setting.drive):
        return None
    return float(f"{advice.target_output * turns_of(job, catch) * catch.rows:.5g}")


def catch_cells(job: Job, catch: Catch, day: datetime.date) -> dict[str, Value]:
    """The cells of a catch of some day in the log, by column."""
    season = season_of(job.trials.of(box=catch.box.name, lot=catch.lot), day)
    cells = {**catch.cells(), "date": day.isoformat(), "season": season, "use": "yes"}
    wanted = wanted_g(job, catch)
    return cells if wanted is None else {**cells, "wanted_g": wanted}


def named_lot(job: Job, box: SeedBox, text: str) -> str:
    """The name under which a catch is recorded: a known lot's own, or that of the blend it is part of."""
    name = " ".join(text.split())
    if not name:
        raise ValueError("A catch needs the name of its lot.")
    lots = [] if job.plan is None else [each for each in job.plan.lots if each.box == box.name]
    known = {name.lower(): each.filling for each in lots for name in (each.lot, each.bag) if name} | {
        each.lower(): each for each in lots_of(job, box)
    }
    return known.get(name.lower(), name)


def advice_on(job: Job, box: SeedBox, lot: str) -> Advice | None:
    """The advice on a box and lot; None where it has no target."""
    task = next(iter(job.tasks(box.name, lot)), None)
    return None if task is None else job.advice(task)


def as_caught(job: Job, box: SeedBox, lot: str) -> Advice | None:
    """The advice on a box and lot, for questions about a weight: they need the log alone.

    Without a target it is advice on the output that the log has most of, of the lot or else of its box. None where
    nothing was caught from the box.
    """
    found = advice_on(job, box, lot)
    if found is not None:
        return found
    mine = job.trials.of(box=box.name)
    mine = mine.where(mine.counts)
    lots = [each for each in dict.fromkeys(mine.lot.tolist()) if each.lower() == lot.lower()]
    same = mine.of(lot=lots[-1]) if lots else mine
    if not len(same):
        return None
    season = last_season(same) if lots else None
    return job.advice(Task(box, lots[-1] if lots else lot, season, float(np.median(same.output))))


def asked_size(job: Job, box: SeedBox, advice: Advice | None) -> CatchSize:
    """The size of the catch to make next: as the advice asks for it, else as the drill file has it."""
    if advice is None:
        usual = job.drill.catch_of(box)
        return CatchSize(usual.turns, usual.counted, usual.rows)
    return advice.next_size


def expected_g(advice: Advice | None, setting: Setting, size: float) -> tuple[float, float] | None:
    """What a catch of so many turns times rows should weigh, 99 %; None where nothing is known of it."""
    if advice is None:
        return None
    if advice.curve is None:  # a middling setting gives the target, more or less
        return advice.target_output * size / WIDE, advice.target_output * size * WIDE
    length = advice.next_length * size / (advice.next_turns * advice.next_rows)
    both, on = advice.seed_box.control, advice.control
    times = both.times(setting.drive, on.drive) if isinstance(both, LeverAndDrive) and isinstance(on, OnDrive) else 1.0
    if math.isnan(times):  # on a drive that the curve says nothing of
        return None
    low, high = advice.curve.interval(setting.opening, 0.99, "next", length)
    return float(low) * size * times, float(high) * size * times
