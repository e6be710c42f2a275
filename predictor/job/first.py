"""The setting of a lot's first catch in a season, and where it is from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from predictor.advice.result import Advice
from predictor.domain.control import Setting
from predictor.domain.drill import SeedBox
from predictor.domain.result import Remark
from predictor.files.entry import season_of
from predictor.job.job import Job


@dataclass(frozen=True)
class FirstSetting:
    """What to try before a lot has a catch in the season in hand.

    Attributes
    ----------
    setting : Setting
    source : Remark
        The same lot, earlier lots, or the middle of the control.
    advice : Advice
        The whole advice for that catch.
    """

    setting: Setting
    source: Remark
    advice: Advice

    def to_dict(self) -> dict[str, Any]:
        """The setting as the control shows it, and where it is from, for JSON."""
        return {"first_setting": self.setting.value, "first_setting_from": str(self.source)}


def first_setting(job: Job, box: SeedBox, lot: str) -> FirstSetting | None:
    """The setting of the first catch of a lot on the job's day.

    None where it has been caught this season already, or has no target.
    """
    names = [each for each in dict.fromkeys(job.trials.lot.tolist()) if each.lower() == lot.lower()]
    mine = job.trials.of(box=box.name, lot=names[-1] if names else lot)
    season = season_of(mine, job.today)
    if {season, ""} & set(mine.season.tolist()):
        return None
    task = next(iter(job.tasks(box.name, lot)), None)
    advice = None if task is None else job.advice(replace(task, season=season))
    if task is None or advice is None or advice.advised is None:
        return None
    if task.season and not job.is_blend(box, lot):  # then the other commands advise on its catches of that season
        last = job.advice(task).advised
        if last is not None:
            return FirstSetting(last, Remark("first.same_lot", {"season": task.season}), advice)
    return FirstSetting(advice.advised, _source(advice), advice)


def _source(advice: Advice) -> Remark:
    history = advice.aim.history
    if advice.curve is None or history is None:
        return Remark("first.middle")
    if history.same_lot:
        return Remark("first.same_lot", {"season": history.same_lot})
    return Remark("first.earlier_lots", {"lots": len(history.lots)})
