"""A day that is likely not the one meant: a clock whose battery is dead begins again years ago."""

from __future__ import annotations

import datetime

from predictor.domain.result import Remark
from predictor.job.job import Job

# Nobody notes a row so long after the day it is of. Judgement.
LONG_BEFORE_DAYS = 183


def early_day(job: Job, day: str) -> Remark | None:
    """A question about a day long before the last catch, check or planted line that has one; None for all others."""
    caught = [each for each in job.trials.date.tolist() if each]
    checks = [each.date for each in (job.checks.checks if job.checks else ())]
    planted = [each.date for each in job.planted.lines]
    last = max((each[-1] for each in (caught, checks, planted) if each), default="")
    if not last:
        return None
    before = datetime.date.fromisoformat(last) - datetime.date.fromisoformat(day)
    return Remark("log.early_day", {"day": day, "last": last}) if before.days > LONG_BEFORE_DAYS else None
