"""A day that is likely not the one meant: a clock whose battery is dead begins again years ago."""

from __future__ import annotations

import datetime

from predictor.domain.result import Remark
from predictor.job.job import Job

# Nobody notes a row so long after the day it is of. Judgement.
LONG_BEFORE_DAYS = 183
# The middle of so many last days counts: one of them alone may be wrong itself.
LAST = 3


def early_day(job: Job, day: str) -> Remark | None:
    """A question about a day long before the last catches, checks or planted lines; None for all others."""
    caught = [each for each in job.trials.date.tolist() if each]
    checks = [each.date for each in (job.checks.checks if job.checks else ())]
    planted = [each.date for each in job.planted.lines]
    last = max((_middle(each[-LAST:]) for each in (caught, checks, planted) if each), default="")
    if not last:
        return None
    before = datetime.date.fromisoformat(last) - datetime.date.fromisoformat(day)
    return Remark("log.early_day", {"day": day, "last": last}) if before.days > LONG_BEFORE_DAYS else None


def _middle(days: list[str]) -> str:
    """The middle one of some days; the earlier of two."""
    return sorted(days)[(len(days) - 1) // 2]
