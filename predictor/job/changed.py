"""Targets that are not what they were when the last catch of a lot was recorded: plan or drill file changed since."""

from __future__ import annotations

import math

import numpy as np

from predictor.domain.result import Remark
from predictor.job.job import Job
from predictor.job.task import Task

# Less than this is rounding, or a tag read to another figure; common practice.
TARGETS_AGREE = 0.01
# A wanted weight is written as the scale shows it.
ROUNDED_G = 0.06


def changed_targets(job: Job) -> list[Remark]:
    """A remark on each lot in hand whose target is another than when one of its catches was recorded."""
    found = (_changed(job, task) for task in job.in_hand())
    return [each for each in found if each is not None]


def _changed(job: Job, task: Task) -> Remark | None:
    """The last catch whose wanted weight is another now; someone who confirms it stands by the change."""
    mine = job.trials.of(box=task.box.name, lot=task.lot, season=task.season)
    mine = mine.where(np.isfinite(mine.wanted_g) & ~np.isfinite(mine.target_g))
    for i in reversed(range(len(mine))):
        if mine.confirmed[i]:
            return None
        then, size = float(mine.wanted_g[i]), float(mine.turns[i] * mine.rows[i])
        # field checks correct the target: what it is without them may be what was written before the first
        targets = {task.target_output * size, task.target_output * task.field_factor * size}
        reach = max(math.log1p(TARGETS_AGREE), ROUNDED_G / then)
        if all(abs(math.log(then / each)) > reach for each in targets):
            values = {"box": task.box.name, "lot": task.lot, "line": int(mine.line[i]), "then_g": then}
            checked = job.checks is not None and job.use_field_factor
            return Remark("files.target_changed", {**values, "now_g": task.target_output * size, "checked": checked})
    return None
