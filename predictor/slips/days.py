"""Catches of one season of a lot with months between them: some are likely of another season, or a date is wrong."""

from __future__ import annotations

import datetime
import itertools

import numpy as np

from predictor.slips.finding import Finding
from predictor.slips.seen import Seen
from predictor.slips.weigh import spoils_lock

# A calibration that rests for so many days is another one: seed, drill and weather have changed. Judgement.
MOST_DAYS = 60
# How likely catches before such a rest are of another season, or have a wrong date. Judgement.
ANOTHER_SEASON = 0.5


def look(seen: Seen) -> tuple[Finding, ...]:
    """The catches before the last long rest, where a season of the lot has one."""
    dates = seen.used.date
    days = sorted({datetime.date.fromisoformat(each) for each in dates.tolist() if each})
    rests = [(new - old).days for old, new in itertools.pairwise(days)]
    long = [k for k, each in enumerate(rests) if each > MOST_DAYS]
    if not long:
        return ()
    before, after = days[long[-1]].isoformat(), days[long[-1] + 1].isoformat()
    early = (dates != "") & (dates <= before)
    left = seen.used.where(~early)
    waits = bool(len(left)) and spoils_lock(seen, seen.refit(left))
    values = {"before": before, "after": after, "days": rests[long[-1]]}
    lines = tuple(np.asarray(seen.used.line)[early].tolist())
    return (Finding("days_apart", seen.box.name, seen.lot, lines, ANOTHER_SEASON, waits, values),)
