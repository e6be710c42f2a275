"""Catches of a lot whose days do not go together: some are likely of another season, or a date is wrong."""

from __future__ import annotations

import datetime
import itertools

import numpy as np

from predictor.domain.trials import Trials, last_season
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


def season_before(log: Trials, catches: Trials, box: str, lot: str) -> tuple[Finding, ...]:
    """The catches in hand, where they stand below catches of the same lot that were made a season later.

    The last row says which season is in hand: with a wrong date there, or with the latest catch on top, it is the
    wrong one. Whoever names the season himself is not asked.
    """
    mine = log.of(box=box, lot=lot)
    days, season = catches.date[catches.date != ""], last_season(catches)
    later = mine.date[mine.counts & (mine.season != season)]
    if not len(days) or not season or last_season(mine) != season or not len(later):
        return ()
    last, latest = str(max(days.tolist())), str(max(later.tolist()))
    if not latest or (datetime.date.fromisoformat(latest) - datetime.date.fromisoformat(last)).days <= MOST_DAYS:
        return ()
    lines = tuple(catches.line[catches.counts].tolist())
    values = {"season": season, "day": last, "latest": latest, "later": int((later == latest).sum())}
    return (Finding("season_before", box, lot, lines, ANOTHER_SEASON, True, values),)
