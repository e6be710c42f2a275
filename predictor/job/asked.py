"""What a job is asked: its boxes, lots, tasks and days."""

from __future__ import annotations

import re

from predictor.domain.arguments import kind, label, refuse, share, text_of
from predictor.domain.control import Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.job.task import Task

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}").fullmatch


def home(drill: Drill, box: object, lot: object) -> tuple[SeedBox, str]:
    """A box of the job's drill, and a lot in it."""
    if not isinstance(box, SeedBox) or box not in drill.boxes:
        names = ", ".join(each.name for each in drill.boxes)
        refuse("box", f"a SeedBox of the job's drill, such as job.drill.box(name) gives (boxes: {names})", box)
    return box, label(lot, "lot")


def task_of(drill: Drill, task: object) -> None:
    """Refuse what is no task of the job's drill."""
    if not isinstance(task, Task) or task.box not in drill.boxes:
        refuse("task", "a Task of this job, such as job.tasks() gives", task)


def setting_of(setting: object) -> None:
    """Refuse what is no setting."""
    kind(setting, "setting", Setting, "a Setting, such as box.control.find(text) gives")


def tolerance_of(tolerance: object) -> float:
    """How far the rate may lie from target."""
    return share(tolerance, "tolerance", "0.10")


def day_of(day: object) -> str:
    """A day as YYYY-MM-DD; "" for the job's own."""
    if text_of(day, "day", "a text such as 2026-11-25") and not _DAY(str(day)):
        refuse("day", "a text such as 2026-11-25", day)
    return str(day)
