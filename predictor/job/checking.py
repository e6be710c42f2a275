"""A field check to be entered: what is usual for a box, and what looks like a slip."""

from __future__ import annotations

import datetime
import math
from collections.abc import Hashable
from dataclasses import dataclass, replace
from typing import Any

from predictor.advice.result import Advice
from predictor.domain.checks import FieldCheck, FieldChecks, Part
from predictor.domain.control import Setting
from predictor.domain.drill import Drill, SeedBox
from predictor.domain.result import Remark
from predictor.field.results import CheckResult
from predictor.job.days import early_day
from predictor.job.entry import lots_of, usual_lot
from predictor.job.job import Job


@dataclass(frozen=True)
class NewCheck:
    """A field check as it was entered; NaN for what was not measured."""

    date: str  # As YYYY-MM-DD
    parts: tuple[Part, ...]
    area_m2: float = math.nan
    distance_m: float = math.nan  # At the width of the widest box, in place of an area
    used_g: float = math.nan
    loaded_g: float = math.nan  # With `left_g`, in place of `used_g`
    left_g: float = math.nan
    seeds: float = math.nan
    row_m: float = math.nan
    field: str = ""
    operator: str = ""
    note: str = ""

    def as_read(self, drill: Drill) -> FieldCheck:
        """The check as it will be read from the file; its line is 0."""
        over = self.distance_m * max(drill.width_of(part.box) for part in self.parts)
        area = over if math.isnan(self.area_m2) else self.area_m2
        used = self.loaded_g - self.left_g if math.isnan(self.used_g) else self.used_g
        weights = self.loaded_g, self.left_g
        return FieldCheck(
            *(self.date, self.parts, area, used, self.seeds, self.row_m, self.note, 0),
            *(*weights, self.field, self.operator),
        )

    def cells(self) -> dict[str, str | float]:
        """The cells of its row in the file, by column."""
        parts = self.parts
        measured = {
            "area_m2": self.area_m2,
            "distance_m": self.distance_m,
            "used_g": self.used_g,
            "loaded_g": self.loaded_g,
            "left_g": self.left_g,
            "row_m": self.row_m,
        }
        return {
            "date": self.date,
            "field": self.field,
            "box": "+".join(part.box.name for part in parts),
            "lot": "+".join(part.lot for part in parts),
            "setting": parts[0].setting.value if len(parts) == 1 else "+".join(part.setting.text for part in parts),
            **{name: value for name, value in measured.items() if not math.isnan(value)},
            "seeds_counted": "" if math.isnan(self.seeds) else f"{self.seeds:.0f}",
            "use": "yes",
            "operator": self.operator,
            "note": self.note,
        }


def known_lots(job: Job, box: SeedBox) -> list[str]:
    """The lots known of a box: those of the plan, those caught and those planted."""
    planted = [each.lot for each in job.planted.lines if each.use and each.box.name == box.name]
    return list(dict.fromkeys([*lots_of(job, box), *planted]))


def lot_in(job: Job, box: SeedBox) -> str:
    """The lot that is in a box: that of its last planted line or of its last catch, whichever is later; "" for none."""
    planted = [each for each in job.planted.lines if each.use and each.box.name == box.name]
    caught = max(filter(None, job.trials.of(box=box.name).date.tolist()), default="")
    last = max(planted, key=lambda each: each.date, default=None)
    return last.lot if last is not None and last.date >= caught else usual_lot(job, box)


def set_at(job: Job, box: SeedBox, lot: str) -> tuple[Setting, ...]:
    """The settings that a box may be at with a lot.

    It is the one in force, else that of its last planted line. After a check that said to move it, it may still be
    where it was. Empty where nothing says.
    """
    stage = next(iter(job.stages(box.name, lot)), None)
    if stage is None:
        return tuple(each.setting for each in job.planted.of(box.name, lot, job.today.isoformat())[-1:])
    at = (stage.verdict.setting,) if stage.doing == "move" and stage.verdict else ()
    return (*at, stage.setting) if stage.setting is not None else at


def advised(job: Job, box: SeedBox, lot: str) -> Setting | None:
    """The setting that is advised for a box and lot."""
    advice = _advice(job, box, lot)
    return None if advice is None else advice.advised


def _advice(job: Job, box: SeedBox, lot: str) -> Advice | None:
    task = next(iter(job.tasks(box.name, lot)), None)
    return None if task is None else job.advice(task)


def next_box(job: Job) -> str:
    """The first box whose lot has no field check yet; "" where all have one."""
    checked = {
        (part.box.name, part.lot.lower()) for each in (job.checks.checks if job.checks else ()) for part in each.parts
    }
    in_use = [(box, lot) for box in job.drill.boxes if (lot := lot_in(job, box))]
    return next((box.name for box, lot in in_use if (box.name, lot.lower()) not in checked), "")


def questions(job: Job, new: NewCheck, today: datetime.date) -> list[Remark]:
    """What looks like a slip, to be answered with yes or no."""
    found, check = [], new.as_read(job.drill)
    if datetime.date.fromisoformat(new.date) > today:
        found.append(Remark("check.future_day", {"day": new.date}))
    early = early_day(job, new.date)
    found += [early] if early is not None else []
    if job.checks and any(_same(check, each) for each in job.checks.checks):
        found.append(Remark("check.same_again"))
    result = compared(job, check)
    if result.finding == "slip":
        units = job.drill.units
        found.append(
            Remark("check.slip", {"ratio": result.ratio, "factor": result.factor, "check": new, "units": units})
        )
    return found


def compared(job: Job, check: FieldCheck) -> CheckResult:
    """What the program would make of one more check."""
    earlier = job.checks or FieldChecks(())
    # fits of catches do not depend on checks; all that does is worked out again
    kept: dict[Hashable, Any] = {
        key: each for key, each in job._kept.items() if isinstance(key, tuple) and key[0] in ("fit", "history")
    }
    more = replace(job, checks=replace(earlier, checks=(*earlier.checks, check)), _kept=kept)
    assert more.field is not None
    return more.field.checks[-1]


def _same(one: FieldCheck, other: FieldCheck) -> bool:
    """Whether two checks are alike in all that was measured."""

    def measured(check: FieldCheck) -> list[object]:
        numbers = check.area_m2, check.used_g, check.seeds, check.row_m
        rounded = [None if math.isnan(each) else f"{each:.6g}" for each in numbers]
        return [
            check.date,
            check.field,
            [(part.box.name, part.lot.lower(), part.setting) for part in check.parts],
            rounded,
        ]

    return measured(one) == measured(other)
